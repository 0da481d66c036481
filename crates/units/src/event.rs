//! What a hand-held detector stored, one event at a time.

use crate::{Band, Utc};
use serde::{Deserialize, Serialize};

/// A time known as an interval: the clock's step (a minute stamp says 60 s).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TimeSpan {
    /// Not before.
    pub from: Utc,
    /// Before this.
    pub until: Utc,
}

impl TimeSpan {
    /// Middle of the interval.
    pub fn middle(&self) -> Utc {
        self.from.plus_seconds(self.until.seconds_since(self.from) / 2.0)
    }
    /// Whether it may lie between two moments, at least in part; `None` is no bound.
    pub fn may_lie(&self, from: Option<Utc>, until: Option<Utc>) -> bool {
        from.is_none_or(|from| self.until > from) && until.is_none_or(|until| self.from < until)
    }
}

/// A strength on an ordinal scale: `value` of `of`; 0 is nothing heard.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Strength {
    /// Steps read.
    pub value: f64,
    /// Steps of the scale.
    pub of: f64,
}

/// One row of an event log, as the user's column mapping reads it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Event {
    /// Line of the file, 1-based, for messages.
    pub line: u64,
    /// When it began, as the interval that the stamp allows.
    pub start: TimeSpan,
    /// How long it lasted, seconds.
    pub duration_s: Option<f64>,
    /// Step of the duration, seconds (1 for whole seconds).
    pub duration_step_s: f64,
    /// Where in frequency: the band named, or the frequency with half a step either side.
    pub band: Option<Band>,
    /// The log's own word for band or kind ('900', 'GSM up'), kept for people to read.
    pub label: Option<String>,
    /// Strength on the detector's scale.
    pub strength: Option<Strength>,
    /// Level, where the detector gives one.
    pub level: Option<(f64, crate::LevelUnit)>,
    /// Position named in the row.
    pub position: Option<String>,
    /// Setting named in the row (antenna, attenuator, sensitivity).
    pub setting: Option<String>,
    /// Bearing, degrees from north.
    pub bearing_deg: Option<f64>,
    /// What was heard.
    pub heard: Option<String>,
    /// Free text.
    pub note: Option<String>,
}
