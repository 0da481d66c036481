//! What was said of a capture and can be taken back, so that nothing is said of it any more.

use crate::things::{Capture, Overrides};
use serde::Deserialize;

/// A field of a capture that a correction can empty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Field {
    At,
    Chain,
    GainDb,
    Setting,
    Condition,
    From,
    Until,
    Bands,
    ClockS,
    Format,
    RateHz,
    CentreHz,
    Start,
    TimeZone,
    TreatAs,
    Columns,
    Inner,
}

impl Field {
    /// Whether it says when and on what bands a log was listened to.
    pub(super) fn is_listening(self) -> bool {
        matches!(self, Field::From | Field::Until | Field::Bands)
    }

    /// Empties it, if it is what was said over a file's metadata.
    pub(super) fn empty_over(self, over: &mut Overrides) {
        match self {
            Field::Format => over.format = None,
            Field::RateHz => over.rate_hz = None,
            Field::CentreHz => over.centre_hz = None,
            Field::Start => over.start = None,
            Field::TimeZone => over.time_zone = None,
            Field::TreatAs => over.treat_as = None,
            Field::Columns => over.columns = None,
            Field::Inner => over.inner = None,
            _ => {}
        }
    }

    /// Empties it, if it is a field of the capture itself; the chain is `Survey::amend`'s, since one
    /// that nobody states is a chain too.
    pub(super) fn empty(self, capture: &mut Capture) {
        match self {
            Field::At => capture.position = None,
            Field::GainDb => capture.gain_db = None,
            Field::Setting => capture.setting = None,
            Field::Condition => capture.condition = None,
            Field::From => capture.from = None,
            Field::Until => capture.until = None,
            Field::Bands => capture.bands.clear(),
            Field::ClockS => capture.clock_s = 0.0,
            _ => {}
        }
    }
}
