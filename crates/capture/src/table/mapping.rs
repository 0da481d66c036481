//! What a person says the columns of a table are. Its text form (see `grammar`) round-trips, so a
//! survey can keep it.

use super::grammar::wrong;
use super::unit::{CounterUnit, DurationUnit, FrequencyUnit};
use serde::{Deserialize, Serialize};
use std::fmt;
use units::LevelUnit;

/// What the columns of a table mean.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Mapping {
    /// Of traces, how they lie in the table; without one the rows are events or readings.
    pub shape: Option<Shape>,
    /// The day, where it stands in a column of its own; how it is written.
    pub date: Option<(Column, Option<TimeForm>)>,
    /// When; how stamps are written, where they do not tell it themselves.
    pub time: Option<(Column, Option<TimeForm>)>,
    /// A band in words: '868-870 MHz', '900'.
    pub band: Option<Column>,
    /// Frequency, in a unit.
    pub frequency: Option<(Column, Option<FrequencyUnit>)>,
    /// Level, in a unit.
    pub level: Option<(Column, Option<LevelUnit>)>,
    /// Strength, on a scale of so many steps.
    pub strength: Option<(Column, f64)>,
    /// Duration, in a unit.
    pub duration: Option<(Column, Option<DurationUnit>)>,
    /// Name of a position.
    pub position: Option<Column>,
    /// Setting of the receiver.
    pub setting: Option<Column>,
    /// Bearing, degrees from north.
    pub bearing: Option<Column>,
    /// What was heard.
    pub heard: Option<Column>,
    /// Free text.
    pub note: Option<Column>,
}

/// A column, as a person names it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Column {
    /// Where the shape places it.
    Placed,
    /// Counted from 1.
    Number(usize),
    /// By its header.
    Name(String),
}

/// How a stamp is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TimeForm {
    /// A `strftime` pattern, `%d.%m.%Y %H:%M`.
    Pattern(String),
    /// A counter from a beginning that nobody states.
    Counter(CounterUnit),
}

/// How traces lie in a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// A header of frequencies, then a sweep a row.
    Sweep,
    /// Date, time, low, high, step, count, then levels: a part of a sweep a row.
    Segment,
    /// One frequency and its level a row.
    Point,
}

/// What is wrong with a mapping.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("in the mapping, {what}; expected {expected}")]
pub struct MappingError {
    /// What stands there.
    pub what: String,
    /// What should.
    pub expected: String,
}

impl Shape {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Sweep, Self::Segment, Self::Point];

    /// Its word.
    pub fn name(self) -> &'static str {
        match self {
            Shape::Sweep => "sweep",
            Shape::Segment => "segment",
            Shape::Point => "point",
        }
    }
    /// From its word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|shape| shape.name() == word)
    }
}

impl Mapping {
    /// Each key that is said, with its column, in the order in which a mapping is written.
    pub(super) fn columns(&self) -> Vec<(&'static str, &Column)> {
        let all = [
            ("date", self.date.as_ref().map(|d| &d.0)),
            ("time", self.time.as_ref().map(|t| &t.0)),
            ("band", self.band.as_ref()),
            ("frequency", self.frequency.as_ref().map(|f| &f.0)),
            ("level", self.level.as_ref().map(|l| &l.0)),
            ("strength", self.strength.as_ref().map(|s| &s.0)),
            ("duration", self.duration.as_ref().map(|d| &d.0)),
            ("position", self.position.as_ref()),
            ("setting", self.setting.as_ref()),
            ("bearing", self.bearing.as_ref()),
            ("heard", self.heard.as_ref()),
            ("note", self.note.as_ref()),
        ];
        all.into_iter().filter_map(|(key, column)| Some((key, column?))).collect()
    }

    /// The same with the columns that the shape *point* places by their numbers.
    pub(super) fn placed(&self) -> Mapping {
        let mut mapping = self.clone();
        let put = |column: &mut Column, n: usize| {
            if *column == Column::Placed {
                *column = Column::Number(n);
            }
        };
        if self.shape == Some(Shape::Point) {
            mapping.time.as_mut().into_iter().for_each(|t| put(&mut t.0, 1));
            mapping.frequency.as_mut().into_iter().for_each(|f| put(&mut f.0, 2));
            mapping.level.as_mut().into_iter().for_each(|l| put(&mut l.0, 3));
        }
        mapping
    }

    /// Refuses what no table could be read with.
    pub(super) fn check(&self) -> Result<(), MappingError> {
        let columns = self.columns();
        for (i, (key, column)) in columns.iter().enumerate() {
            if **column == Column::Placed {
                if self.shape.is_none() {
                    return Err(wrong(format!("{key} names no column"), "a column, or a shape"));
                }
                continue;
            }
            if let Some((other, _)) = columns[..i].iter().find(|(_, c)| c == column) {
                return Err(wrong(format!("{other} and {key} name the same {column}"), "one each"));
            }
        }
        if let Some((_, Some(TimeForm::Counter(_)))) = self.date {
            return Err(wrong("date has the unit of a counter", "a STRFTIME, like %d.%m.%Y"));
        }
        let Some(shape) = self.shape else {
            let heard = ["band", "frequency", "level", "strength"];
            return match columns.iter().any(|(key, _)| heard.contains(key)) {
                true => Ok(()),
                false => Err(wrong(
                    "no key says what was received",
                    "frequency, band, strength or level, or a shape",
                )),
            };
        };
        let of_traces = ["date", "time", "frequency", "level"];
        match columns.iter().find(|(key, _)| !of_traces.contains(key)) {
            Some((key, _)) => Err(wrong(
                format!("{key} stands beside shape={}", shape.name()),
                "date, time, frequency and level there (without a shape the rows are events or readings)",
            )),
            None => Ok(()),
        }
    }
}

impl fmt::Display for Column {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Column::Placed => write!(f, "column of its place"),
            Column::Number(n) => write!(f, "column {n}"),
            Column::Name(name) => write!(f, "column '{name}'"),
        }
    }
}

impl TryFrom<String> for Mapping {
    type Error = MappingError;
    fn try_from(text: String) -> Result<Self, MappingError> {
        text.parse()
    }
}

impl From<Mapping> for String {
    fn from(mapping: Mapping) -> String {
        mapping.to_string()
    }
}
