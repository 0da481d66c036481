//! Complex samples that can be read at any place of a recording.

use crate::Utc;

/// One complex sample, full scale 1 per rail.
pub type Iq = num_complex::Complex<f32>;

/// A stretch of a recording with one centre frequency and no gap.
#[derive(Debug, Clone, PartialEq)]
pub struct Segment {
    /// Index of its first sample in the recording.
    pub first_sample: u64,
    /// Number of samples.
    pub samples: u64,
    /// Centre frequency, hertz; `None` where nobody states it.
    pub centre_hz: Option<f64>,
    /// Time of the first sample, where the recording states it.
    pub start: Option<Utc>,
}

/// Reading samples failed: disk, or a recording that changed under us.
#[derive(Debug, thiserror::Error)]
#[error("{what}")]
pub struct ReadError {
    /// Which file, which byte, what happened, what to do.
    pub what: String,
    /// The cause, where there is one.
    #[source]
    pub source: Option<Box<dyn std::error::Error + Send + Sync>>,
}

/// A recording of complex samples: read a range, from any thread, without loading the whole.
pub trait Samples: Send + Sync {
    /// Samples per second.
    fn sample_rate_hz(&self) -> f64;
    /// The segments, in order of their first sample, without overlap.
    fn segments(&self) -> &[Segment];
    /// The lowest and highest value that a rail can take, for integer formats; a rail at either
    /// is clipped. `None` for float recordings, which have no known limit.
    fn rail_limits(&self) -> Option<(f32, f32)>;
    /// Fills `out` with the samples from `first` on. Reads exactly `out.len()` samples.
    ///
    /// # Errors
    /// If the range reaches past the last sample, or reading fails. NaN and infinite samples are
    /// an error that names the byte.
    fn read(&self, first: u64, out: &mut [Iq]) -> Result<(), ReadError>;
    /// Number of samples in all.
    fn len(&self) -> u64 {
        self.segments().last().map_or(0, |s| s.first_sample + s.samples)
    }
    /// Whether there is no sample at all.
    fn is_empty(&self) -> bool {
        self.len() == 0
    }
}
