//! The facts, with the look-ups that every part needs.

use crate::facts::{Facts, FactsError};
use crate::zoned::Zoned;
use ledger::{CaptureInfo, LedgerRow, Reception, Role, State};
use survey::{Brief, Covered, Opinion, Statement};
use units::{Position, Utc, Zone};

pub(super) struct View<'a> {
    pub(super) facts: &'a Facts,
    pub(super) when: Zoned,
    /// What was listened to, by place and band.
    pub(super) covered: Vec<Covered>,
}

impl<'a> View<'a> {
    pub(super) fn of(facts: &'a Facts) -> Result<View<'a>, FactsError> {
        let when = Zoned::of(&facts.record.survey.time_zone)?;
        let covered = survey::covered(&facts.ledger, &facts.captures, &facts.stays);
        Ok(View { facts, when, covered })
    }

    /// What the technician concludes, where it is written.
    pub(super) fn statement(&self) -> Option<&'a Statement> {
        self.facts.record.statement.as_ref()
    }

    /// What the technician thinks of a row (by any of its ids) or of a found item.
    pub(super) fn opinion_of(&self, ids: &[&str]) -> Option<&'a Opinion> {
        let mut opinions = self.statement()?.opinions.iter();
        opinions.find(|opinion| ids.contains(&opinion.of.trim()))
    }

    /// What the client said.
    pub(super) fn brief(&self) -> Option<&'a Brief> {
        self.facts.record.brief.as_ref()
    }

    pub(super) fn position(&self, id: &str) -> Option<&'a Position> {
        self.facts.record.positions.iter().find(|position| position.id == id)
    }

    /// Name of a position given by id; words that are no id stand for themselves.
    pub(super) fn place(&self, id: &str) -> String {
        self.position(id).map_or_else(|| id.to_owned(), |position| position.name.clone())
    }

    /// Where a reception was, in words.
    pub(super) fn place_of(&self, reception: &Reception) -> String {
        match (&reception.position, reception.role) {
            (Some(id), _) => self.place(id),
            (None, Role::NoAntenna) => "no antenna".to_owned(),
            (None, _) => "place not stated".to_owned(),
        }
    }

    pub(super) fn is_inside(&self, id: Option<&String>) -> bool {
        let zone = id.and_then(|id| self.position(id)).map(|position| position.zone);
        matches!(zone, Some(Zone::Inside | Zone::Moving))
    }

    /// The measurements that count.
    pub(super) fn counting(&self) -> impl Iterator<Item = &'a CaptureInfo> {
        self.facts.ledger.captures.iter().filter(|capture| capture.set_aside.is_none())
    }

    pub(super) fn rows(&self, is: impl Fn(State) -> bool) -> Vec<&'a LedgerRow> {
        self.facts.ledger.emissions.iter().filter(|row| is(row.decision.state)).collect()
    }

    /// First and last moment of the measurements that count.
    pub(super) fn span(&self) -> Option<(Utc, Utc)> {
        let from = self.counting().filter_map(|capture| capture.start).min()?;
        let until = self.counting().filter_map(|capture| capture.stop).max()?;
        Some((from, until.max(from)))
    }

    /// `from .. to ..`, or why that cannot be said.
    pub(super) fn validity(&self) -> String {
        match self.span() {
            Some((from, until)) => {
                format!("from {} to {}", self.when.long(from), self.when.long(until))
            }
            None if self.counting().next().is_none() => "nothing was measured".to_owned(),
            None => "at times that no measurement states".to_owned(),
        }
    }

    /// Names of the places inside that were listened to.
    pub(super) fn rooms_heard(&self) -> Vec<String> {
        survey::rooms_heard(&self.covered)
    }
}
