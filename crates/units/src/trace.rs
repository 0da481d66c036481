//! Swept spectra.

use crate::{ReadError, Utc};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// The unit that a trace's levels state for themselves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum LevelUnit {
    /// dB relative to one milliwatt.
    #[serde(rename = "dBm")]
    Dbm,
    /// dB relative to full scale.
    #[serde(rename = "dBFS")]
    Dbfs,
    /// dB relative to one microvolt (50 ohm: dBm = dBµV − 106.99).
    #[serde(rename = "dBuV")]
    Dbuv,
}

/// One swept spectrum.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// When the sweep began, where the file states a date.
    pub start: Option<Utc>,
    /// When the sweep began, seconds from the recording's first trace; 0 where no time is stated.
    pub start_s: f64,
    /// How long the sweep took, where known.
    pub sweep_s: Option<f64>,
    /// Frequencies, hertz, strictly rising; shared by traces of one shape.
    pub frequencies_hz: Arc<[f64]>,
    /// One level a frequency, in the recording's unit. NaN where the sweep has no value.
    pub levels_db: Vec<f32>,
}

/// A recording of traces, read one after the other.
pub trait Traces: Send {
    /// The unit of all its levels.
    fn unit(&self) -> LevelUnit;
    /// The next trace; `None` at the end.
    ///
    /// # Errors
    /// If a row cannot be read: which line and field, what was expected.
    fn next_trace(&mut self) -> Result<Option<Trace>, ReadError>;
}
