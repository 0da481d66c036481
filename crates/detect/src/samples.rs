//! From complex samples to what was found.

use crate::{Burst, Detection};
use units::{Dbm, ReadError, Samples};

/// What a caller may choose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Rows that noise alone may make, on average, in one recording. The thresholds follow from
    /// it. 0 < `false_rows`.
    pub false_rows: f64,
    /// The chain's calibration: dBm at the antenna connector of 0 dBFS; `None` leaves dBm out.
    pub full_scale: Option<Dbm>,
}

impl Default for Options {
    fn default() -> Self {
        Options { false_rows: 0.01, full_scale: None }
    }
}

/// What hears of the work while it goes on.
#[allow(missing_debug_implementations)]
pub struct Hooks<'a> {
    /// Takes every burst as it is found, roughly in order of its end.
    pub on_burst: &'a mut dyn FnMut(Burst),
    /// Takes the fraction done, 0 to 1, several times a second of work; `false` stops it.
    pub on_progress: &'a mut dyn FnMut(f64) -> bool,
}

/// Why detection did not finish.
#[derive(Debug, thiserror::Error)]
pub enum DetectError {
    /// The recording could not be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// An option that means nothing.
    #[error("{option} is {value}: {want}")]
    Option {
        /// Which option.
        option: &'static str,
        /// What was given.
        value: f64,
        /// What it must be.
        want: &'static str,
    },
    /// The caller stopped it.
    #[error("stopped before the end of the recording")]
    Stopped,
    /// Not there yet.
    #[error("detection in samples has not been written yet")]
    NotYet,
}

/// Everything that radiates in a recording of complex samples, and what was listened to.
///
/// Reads the recording once, in order, in blocks; memory is bounded by the resolutions, never by
/// the length of the recording or its number of bursts.
///
/// # Errors
/// If a sample cannot be read, an option means nothing, or `hooks.on_progress` said stop.
pub fn from_samples(
    samples: &dyn Samples,
    options: &Options,
    hooks: &mut Hooks<'_>,
) -> Result<Detection, DetectError> {
    let _ = (samples, hooks);
    if !(options.false_rows > 0.0) {
        return Err(DetectError::Option {
            option: "false_rows",
            value: options.false_rows,
            want: "it must be above zero",
        });
    }
    Err(DetectError::NotYet)
}
