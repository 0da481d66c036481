//! Every number of a ledger, rounded as printed: what sums and gains leave in the last digits
//! differs between machines.

use crate::contract::{Ledger, LedgerRow, Reception};
use identify::round::{
    decibels, emission, fraction, listened, probability, reason, seconds, significant,
};
use units::{Dbfs, Dbm};

/// Rounds a ledger; nothing is computed from it afterwards.
pub(crate) fn ledger(ledger: &mut Ledger) {
    ledger.captures.iter_mut().flat_map(|c| &mut c.listened).for_each(listened);
    ledger.captures.iter_mut().flat_map(|c| &mut c.warnings).for_each(reason);
    ledger.emissions.iter_mut().for_each(row);
}

fn row(row: &mut LedgerRow) {
    emission(&mut row.emission);
    row.attention.score = fraction(row.attention.score);
    row.attention.reasons.iter_mut().for_each(reason);
    row.decision.changed_since.iter_mut().for_each(reason);
    row.may_be.iter_mut().for_each(|other| other.probability = probability(other.probability));
    row.receptions.iter_mut().for_each(reception);
}

fn reception(r: &mut Reception) {
    r.level_dbfs = r.level_dbfs.map(|l| Dbfs(decibels(l.0)));
    r.level_dbm = r.level_dbm.map(|l| Dbm(decibels(l.0)));
    r.limit_dbfs = r.limit_dbfs.map(|l| Dbfs(decibels(l.0)));
    r.limit_dbm = r.limit_dbm.map(|l| Dbm(decibels(l.0)));
    r.u_db = r.u_db.map(|u| significant(u, 3));
    r.looked_s = seconds(r.looked_s);
}
