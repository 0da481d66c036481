//! What to look at first, and why: the sum of what speaks for and against each row, in tiers by
//! what has been decided.

use crate::atom::Group;
use crate::contract::{Attention, LedgerRow, State};
use crate::input::Input;
use crate::origin::{Facts, rounded};
use crate::signs::{Look, Sign, signs};

/// A row to be ranked.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Candidate<'a> {
    /// The row, whole but for its attention.
    pub(crate) row: &'a LedgerRow,
    /// What it was made of.
    pub(crate) group: &'a Group,
    /// What its origin rests on.
    pub(crate) facts: &'a Facts,
}

/// Between two tiers: more than any sum of signs.
const TIER: f64 = 100.0;

/// The attention of each row, in the order given (which is canonical: it breaks ties).
pub(crate) fn rank(input: &Input, rows: &[Candidate<'_>]) -> Vec<Attention> {
    let mut all: Vec<Attention> = rows.iter().map(|row| attention(input, row)).collect();
    let mut order: Vec<usize> = (0..all.len()).collect();
    order.sort_by(|&a, &b| all[b].score.total_cmp(&all[a].score).then(a.cmp(&b)));
    for (rank, index) in (1..).zip(order) {
        all[index].rank = rank;
    }
    all
}

fn attention(input: &Input, candidate: &Candidate<'_>) -> Attention {
    let look = Look::new(input, candidate.row, candidate.group, candidate.facts);
    let mut signs: Vec<Sign> = signs(&look);
    signs.sort_by(|a, b| b.weight.abs().total_cmp(&a.weight.abs()));
    let sum: f64 = signs.iter().map(|sign| sign.weight).sum();
    Attention {
        rank: 0,
        score: rounded(sum - TIER * f64::from(tier(candidate.row)), 1e3),
        reasons: signs
            .into_iter()
            .map(|sign| match sign.weight {
                0.0 => sign.reason,
                weight => sign.reason.with("weight", rounded(weight, 1e2)),
            })
            .collect(),
    }
}

/// What is open comes before what is decided: open and suspect (and decided but changed since),
/// not resolved, found and with the person already, the receiver's own, accounted.
fn tier(row: &LedgerRow) -> u8 {
    match row.decision.state {
        State::Open if row.receiver_line.is_some() => 3,
        State::Open | State::Suspect => 0,
        _ if !row.decision.changed_since.is_empty() => 0,
        State::Unresolved => 1,
        State::Located | State::HandedOver => 2,
        State::Accounted => 4,
    }
}
