//! Sound: one or more channels of real samples out of a WAV file.

use crate::iq::Rails;
use units::ReadError;

/// A sound file, read in ranges like a recording.
#[derive(Debug)]
pub struct SoundFile {
    pub(crate) rails: Rails,
    pub(crate) channels: u16,
    pub(crate) rate_hz: f64,
    pub(crate) frames: u64,
}

impl SoundFile {
    /// Frames a second.
    pub fn sample_rate_hz(&self) -> f64 {
        self.rate_hz
    }
    /// Channels, interleaved in each frame.
    pub fn channels(&self) -> u16 {
        self.channels
    }
    /// Number of frames.
    pub fn len(&self) -> u64 {
        self.frames
    }
    /// Whether there is no frame.
    pub fn is_empty(&self) -> bool {
        self.frames == 0
    }
    /// Fills `out` (a whole number of frames, channels interleaved, full scale 1) from frame
    /// `first` on.
    ///
    /// # Errors
    /// If the range reaches past the end, is no whole number of frames, or reading fails.
    pub fn read(&self, first: u64, out: &mut [f32]) -> Result<(), ReadError> {
        let channels = u64::from(self.channels);
        if !(out.len() as u64).is_multiple_of(channels) {
            let what = format!("{} values are no whole frames of {channels} channels", out.len());
            return Err(ReadError { what, source: None });
        }
        Ok(self.rails.read(first.saturating_mul(channels), out)?)
    }
}
