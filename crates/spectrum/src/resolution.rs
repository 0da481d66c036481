//! One resolution of a ladder: transform length, hop and window, with what follows from them.

use dsp::Window;
use units::Segment;

/// How one power spectrum is made. Frame f covers samples f·hop … f·hop + length − 1 of a segment;
/// no frame reaches past a segment's end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Resolution {
    length: usize,
    hop: usize,
    window: Window,
}

impl Resolution {
    /// `length` a power of two ≥ 8, 0 < `hop` ≤ `length`.
    ///
    /// # Panics
    /// If they are not.
    pub fn new(length: usize, hop: usize, window: Window) -> Self {
        assert!(length.is_power_of_two() && length >= 8, "length {length}: a power of two from 8");
        assert!(hop > 0 && hop <= length, "hop {hop} of length {length}");
        Resolution { length, hop, window }
    }
    /// Hann window, half overlapped.
    pub fn hann(length: usize) -> Self {
        Resolution::new(length, length / 2, Window::Hann)
    }
    /// Transform length N, which is also the number of bins.
    pub fn bins(&self) -> usize {
        self.length
    }
    /// Samples from one frame to the next.
    pub fn hop(&self) -> usize {
        self.hop
    }
    /// Window.
    pub fn window(&self) -> Window {
        self.window
    }
    /// Whole frames in `samples` samples.
    pub fn frames(&self, samples: u64) -> u64 {
        match samples.checked_sub(self.length as u64) {
            Some(rest) => rest / self.hop as u64 + 1,
            None => 0,
        }
    }
    /// Distance between bins, hertz.
    pub fn bin_hz(&self, sample_rate_hz: f64) -> f64 {
        sample_rate_hz / self.length as f64
    }
    /// Equivalent noise bandwidth of a bin, hertz: power per bin over this is density per hertz.
    pub fn noise_bandwidth_hz(&self, sample_rate_hz: f64) -> f64 {
        self.window.enbw_bins() * self.bin_hz(sample_rate_hz)
    }
    /// Seconds from one frame to the next.
    pub fn hop_s(&self, sample_rate_hz: f64) -> f64 {
        self.hop as f64 / sample_rate_hz
    }
    /// Offset of a bin's middle from the centre frequency, hertz: −fs/2 for bin 0.
    pub fn offset_hz(&self, bin: usize, sample_rate_hz: f64) -> f64 {
        (bin as f64 - (self.length / 2) as f64) * self.bin_hz(sample_rate_hz)
    }
    /// The (fractional) bin of an offset from the centre frequency; inverse of [`Self::offset_hz`].
    pub fn bin_of(&self, offset_hz: f64, sample_rate_hz: f64) -> f64 {
        offset_hz / self.bin_hz(sample_rate_hz) + (self.length / 2) as f64
    }
    /// First sample of a frame in the recording.
    pub fn first_sample(&self, frame: u64, segment: &Segment) -> u64 {
        segment.first_sample + frame * self.hop as u64
    }
    /// Power per bin of white noise of total power `power`.
    pub fn noise_per_bin(&self, power: f64) -> f64 {
        power * self.window.enbw_bins() / self.length as f64
    }
}
