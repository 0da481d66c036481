//! Which resolutions a segment is looked at with, how far on-periods may lie apart, and how many
//! samples are worked on at once.

/// A transform length with half-overlapped Hann frames.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Level {
    /// Transform length, samples.
    pub n: usize,
    /// Samples from one frame to the next.
    pub hop: usize,
    /// Samples per second.
    pub rate_hz: f64,
}

impl Level {
    /// Distance of two bins, hertz.
    pub fn bin_hz(&self) -> f64 {
        self.rate_hz / self.n as f64
    }
    /// Offset from the segment's centre of the middle of bin `k`; bins rise from −rate/2.
    pub fn offset_hz(&self, k: f64) -> f64 {
        (k - (self.n / 2) as f64) * self.bin_hz()
    }
    /// Bin (not rounded) at an offset.
    pub fn bin_at(&self, offset_hz: f64) -> f64 {
        offset_hz / self.bin_hz() + (self.n / 2) as f64
    }
    /// Whole frames in a stretch of samples.
    pub fn rows(&self, samples: usize) -> usize {
        if samples < self.n { 0 } else { (samples - self.n) / self.hop + 1 }
    }
    /// Sample that the stretch a row stands for begins with: the hop about its middle.
    pub fn row_start(&self, row: usize) -> usize {
        row * self.hop + (self.n - self.hop) / 2
    }
}

/// Length of the frames for narrow and steady emissions, seconds: about 200 Hz of resolution,
/// narrower than any voice channel, and several frames in a dwell of 50 ms.
const LONG_S: f64 = 8e-3;
/// Length of the frames for short bursts, seconds: a wireless LAN acknowledgement lasts 25 to
/// 50 µs (IEEE 802.11, clause 17).
const SHORT_S: f64 = 25.6e-6;
/// Bins of the shortest frames.
const SHORT_BINS: usize = 64;
/// Frames that even a short segment should give the longest transform.
const FRAMES: u64 = 16;
/// Part of the false rows for what shows in cells, in boxes of one block and over many blocks, each.
pub(crate) const SHARE: f64 = 1.0 / 3.0;
/// Shortest segment that anything can be said about: two frames of 16.
pub(crate) const SHORTEST_SEGMENT: u64 = 32;

/// The resolutions for a segment, finest frequency first: one to three, a factor of 2 to 64 apart.
pub(crate) fn ladder(rate_hz: f64, samples: u64) -> Vec<Level> {
    let power_of_two = |x: f64| 2f64.powi(x.log2().round() as i32) as usize;
    let most = (samples / FRAMES).max(16);
    let most = (1usize << most.ilog2()).min(1 << 17);
    let most = if samples >= 256 { most.max(32) } else { most.max(16) };
    let long = power_of_two(rate_hz * LONG_S).max(1024).min(most);
    let short = power_of_two(rate_hz * SHORT_S).max(SHORT_BINS).min(long);
    let ratio = long / short;
    let lengths = match ratio {
        0..=2 => vec![long],
        3..=16 => vec![long, short],
        _ => vec![long, short << ratio.ilog2().div_ceil(2), short],
    };
    lengths.into_iter().map(|n| Level { n, hop: n / 2, rate_hz }).collect()
}

/// On-periods of one emission closer than this are one burst: keying within a telegram.
/// Common practice, no source.
pub(crate) fn gap_s(duration_s: f64) -> f64 {
    if duration_s > 0.1 { 5e-3 } else { 0.2e-3 }
}

/// Samples that one block moves on by: about a second, a whole number of the longest hop, at most
/// 4 million.
pub(crate) fn stride(rate_hz: f64, longest: &Level) -> usize {
    let wanted = (rate_hz as usize).clamp(1 << 18, 1 << 22);
    (wanted / longest.n).max(16) * longest.n
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ladders_fit_rate_and_length() {
        let lengths = |rate, n| ladder(rate, n).iter().map(|l| l.n).collect::<Vec<_>>();
        assert_eq!(lengths(20e6, 1 << 30), [131_072, 8192, 512]);
        assert_eq!(lengths(2.4e6, 1 << 30), [16_384, 1024, 64]);
        assert_eq!(lengths(250e3, 1 << 18), [2048, 512, 64]);
        assert_eq!(lengths(20e6, 256), [32]);
        assert_eq!(lengths(375.0, 45_000), [1024, 64]);
    }
}
