//! Tables: swept spectra, event logs of hand-held detectors and readings as CSV. Separator and
//! decimal sign are told by content; what the columns mean the table says itself or a person says
//! it in a [`Mapping`]. Units are never guessed.

mod grammar;
mod mapping;
mod unit;
mod words;

pub use mapping::{Column, Mapping, MappingError, Shape, TimeForm};
pub use unit::{CounterUnit, DurationUnit, FrequencyUnit};

use crate::source::ByteSource;
use crate::{CaptureError, OpenOptions, Opened, Place};
use std::fmt;
use std::path::Path;
use std::sync::Arc;
use units::{Event, LevelUnit, ReadError, Trace, Traces};

/// Swept spectra in a table, read one after the other.
pub struct TraceFile {
    shape: Shape,
    unit: LevelUnit,
}

impl fmt::Debug for TraceFile {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "traces ({})", self.shape.name())
    }
}

impl TraceFile {
    /// How they lie in the table.
    pub fn shape(&self) -> Shape {
        self.shape
    }
    /// The same from the first trace on.
    ///
    /// # Errors
    /// If the file cannot be read again.
    pub fn reopen(&self) -> Result<TraceFile, CaptureError> {
        Ok(TraceFile { shape: self.shape, unit: self.unit })
    }
}

impl Traces for TraceFile {
    fn unit(&self) -> LevelUnit {
        self.unit
    }
    fn next_trace(&mut self) -> Result<Option<Trace>, ReadError> {
        Ok(None)
    }
}

/// The rows of an event log or of readings, in the order of time in which they were exported (a
/// log that lists the newest first is turned round).
#[derive(Debug, Clone, Default)]
pub struct EventLog {
    /// Its rows.
    pub events: Vec<Event>,
    /// Positions that its rows name, in the order of first mention.
    pub positions: Vec<String>,
}

/// What a table seems to be, for a person to confirm: none of it is believed unasked.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The mapping; its text can be given to `--columns`.
    pub mapping: Mapping,
    /// What was assumed in it, each a sentence.
    pub assumed: Vec<String>,
    /// The table's columns, `1 'Time'`, for a person to correct the mapping by.
    pub columns: Vec<String>,
}

/// Whether a file that begins so is text, and so may be a table.
pub fn looks_like_table(_head: &[u8]) -> bool {
    false
}

/// What to ask a person about a table: `None` if the file is none, or is read as it is.
///
/// # Errors
/// If it cannot be read, or is text but no table.
pub fn propose(path: &Path, _options: &OpenOptions) -> Result<Option<Proposal>, CaptureError> {
    let _ = path;
    Ok(None)
}

/// Opens a table.
///
/// # Errors
/// If it cannot be read, needs a mapping, or is not what the mapping says.
pub(crate) fn open(
    _source: Arc<dyn ByteSource>,
    path: &Path,
    _options: &OpenOptions,
) -> Result<Opened, CaptureError> {
    Err(CaptureError::refused(path, Place::Whole, "tables have no reader yet", "", "Wait."))
}
