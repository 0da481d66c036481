//! What speaks for looking at a row, and what against: each sign a reason in words with its
//! numbers and a weight. Weights add like the logarithms of odds; all are judgements (our choice,
//! no source) except that of the origin, which is the change that the levels made to its odds.

use crate::atom::Group;
use crate::contract::LedgerRow;
use crate::input::Input;
use crate::origin::Facts;
use crate::{levels, services, timing};
use almanac::Region;
use units::{Band, Reason};

/// A reason with its weight: above 0 raises the row, below 0 lowers it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sign {
    pub(crate) weight: f64,
    pub(crate) reason: Reason,
}

/// A row with all that its signs are read from.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Look<'a> {
    pub(crate) input: &'a Input,
    pub(crate) row: &'a LedgerRow,
    pub(crate) facts: &'a Facts,
    pub(crate) region: Region,
    /// Only event logs and readings know it.
    pub(crate) coarse: bool,
}

impl<'a> Look<'a> {
    pub(crate) fn new(
        input: &'a Input,
        row: &'a LedgerRow,
        group: &'a Group,
        facts: &'a Facts,
    ) -> Look<'a> {
        // The survey refuses other regions; a ledger of none is one of the whole world.
        let region = input.survey.region.parse().unwrap_or(Region::World);
        Look { input, row, facts, region, coarse: group.coarse() }
    }

    pub(crate) fn band(&self) -> Band {
        Band::new(self.row.emission.low_hz, self.row.emission.high_hz)
    }

    /// The technician's name of a position.
    pub(crate) fn name(&self, position: &str) -> String {
        let known = self.input.positions.iter().find(|p| p.id == position);
        known.map_or(position, |p| &p.name).to_owned()
    }
}

/// Everything that speaks for or against a row, in no order.
pub(crate) fn signs(look: &Look<'_>) -> Vec<Sign> {
    let mut signs: Vec<Sign> = [
        receiver_line(look),
        levels::where_from(look),
        levels::weak(look),
        levels::accidental(look),
        timing::reporter(look),
        timing::never_stops(look),
        services::mobile(look),
        services::no_service(look),
        crate::circumstance::with_the_room(look),
        crate::circumstance::ordinary(look),
        crate::threat::dedicated(look),
    ]
    .into_iter()
    .flatten()
    .collect();
    signs.extend(crate::known::matches(look));
    signs.extend(levels::origin_notes(look));
    signs
}

fn receiver_line(look: &Look<'_>) -> Option<Sign> {
    let capture = look.row.receiver_line.as_deref()?;
    let text = format!("the receiver shows it with no antenna connected ({capture})");
    let reason = Reason::new("receiver_own", text).with("capture", capture);
    Some(Sign { weight: -9.0, reason })
}
