//! A survey at one glance: the stages of the job with what stands done, the balance, what lies outside
//! the authority, what to do next.

mod stages;

pub use stages::{Stage, StageName, StageState};

use crate::SurveyError;
use crate::authorised::{OutsideTime, outside_rooms, outside_time};
use crate::cannot_say;
use crate::checks::{CheckHeard, checks};
use crate::covered::{Covered, covered};
use crate::survey::Survey;
use crate::things::Head;
use ledger::{Balance, CaptureKind, Next};
use serde::Serialize;

/// A survey at one glance.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Overview {
    /// The ledger's version: number of the journal's last entry then.
    pub version: u64,
    /// The survey itself.
    pub survey: Head,
    /// The stages of the job, in order.
    pub stages: Vec<Stage>,
    /// Counts by decision.
    pub balance: Balance,
    /// Whether every row is decided, and both a room and a reference were listened to.
    pub balanced: bool,
    /// What to do next.
    pub next: Next,
    /// Captures that lie, in part at least, in no authorised time.
    pub outside_time: Vec<OutsideTime>,
    /// Places inside that were measured and that no authority names.
    pub outside_rooms: Vec<String>,
    /// Kinds of capture that there are and that count.
    pub kinds: Vec<CaptureKind>,
    /// Captures and parts that wait to be analysed and do not count yet.
    pub waiting: u64,
}

/// What was listened to, and how the known test sender was received.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Coverage {
    /// The ledger's version.
    pub version: u64,
    /// Places and bands, places inside first.
    pub covered: Vec<Covered>,
    /// Rooms of the record, and of the authority, in which nothing was measured.
    pub rooms_not_heard: Vec<String>,
    /// What this survey cannot say, a sentence or two each, as the report prints them.
    pub cannot_say: Vec<String>,
    /// How the known test senders read.
    pub checks: Vec<CheckHeard>,
    /// Captures and parts that wait to be analysed and do not count yet.
    pub waiting: u64,
}

impl Survey {
    /// The survey at one glance, of what was analysed so far.
    ///
    /// # Errors
    /// If the record or what was derived cannot be read.
    pub fn overview(&self) -> Result<Overview, SurveyError> {
        let ledger = self.ledger_now()?.ledger;
        let (record, captures, stays) = (self.record()?, self.captures()?, self.stays()?);
        let covered = covered(&ledger, &captures, &stays);
        let authority = &record.authority;
        let mut kinds: Vec<CaptureKind> =
            captures.iter().filter(|c| c.set_aside.is_none()).map(|c| c.kind).collect();
        kinds.sort();
        kinds.dedup();
        let outside_time = outside_time(authority, &ledger.captures);
        let outside_rooms = outside_rooms(authority, &covered);
        let waiting = self.waiting()? as u64;
        let reported = self.last_report()?;
        let seen = stages::Seen {
            record: &record,
            ledger: &ledger,
            covered: &covered,
            reported: reported.as_ref(),
        };
        Ok(Overview {
            version: ledger.version,
            stages: stages::all(&seen),
            balance: ledger.balance,
            balanced: ledger::balances(&ledger) && waiting == 0,
            next: ledger::next(&ledger),
            outside_time,
            outside_rooms,
            kinds,
            waiting,
            survey: record.survey,
        })
    }

    /// What was listened to, of what was analysed so far.
    ///
    /// # Errors
    /// If the record or what was derived cannot be read.
    pub fn coverage(&self) -> Result<Coverage, SurveyError> {
        let outcome = self.ledger_now()?;
        let ledger = outcome.ledger;
        let (record, stays) = (self.record()?, self.stays()?);
        let covered = covered(&ledger, &self.captures()?, &stays);
        Ok(Coverage {
            version: ledger.version,
            rooms_not_heard: crate::rooms_not_heard(&covered, &record),
            cannot_say: cannot_say(&ledger, &record, &covered, &outcome.warnings),
            checks: checks(&ledger, &record.known_devices, &stays),
            covered,
            waiting: self.waiting()? as u64,
        })
    }
}
