//! How long the coherent blocks are, and against which drifts each is turned: a block may be so long
//! that the fastest carrier crosses a few bins of it, and then is transformed once for each drift at
//! which the others stay about in one bin.

use super::DeepOptions;
use super::tuned::{Frame, Tuned};

/// Longest block: transforms of more samples take too much memory.
const LONGEST: usize = 1 << 24;
/// Longest block, seconds: crystals wander faster than this by more than their steady drift
/// (common practice, no source).
const LONGEST_S: f64 = 8.0;
/// Fewest frames that are worth summing.
const FEWEST: usize = 16;
/// Bins that a carrier moves within one block against the drift that the block is turned by.
const SMEAR: f64 = 0.5;
/// Bins that a track may move over all rows; a longer recording is searched in parts.
const FARTHEST: isize = 1024;
/// Carrier frequency that drift counts at where nobody states the centre, hertz.
const UNSTATED_HZ: f64 = 1e9;

/// Drifts on either side of none that blocks are turned against: each costs as much as the rest.
const DRIFTS: i32 = 3;

/// How one centre is searched for carriers.
pub(super) struct Plan {
    /// Samples of a block; frames are half of it apart.
    pub n: usize,
    /// Width of a bin, hertz.
    pub bin_hz: f64,
    /// Bins that the fastest carrier moves from one frame to the next.
    pub steepest: f64,
    /// Of those, what is left against the nearest of `drifts`.
    pub rest: f64,
    /// Bins a frame, that blocks are turned against.
    pub drifts: Vec<f64>,
    /// Frames, in parts over which the fastest carrier does not move too far.
    pub parts: Vec<Vec<Frame>>,
}

impl Plan {
    /// `None` where there is too little to add up.
    pub fn new(tuned: &Tuned<'_>, options: &DeepOptions) -> Option<Plan> {
        let highest = match tuned.centre_known {
            true => tuned.centre_hz.abs() + 0.5 * tuned.rate_hz,
            false => UNSTATED_HZ,
        };
        let drift = highest * options.drift_ppm_per_hour * 1e-6 / 3600.0;
        let wanted_s = (SMEAR * f64::from(2 * DRIFTS + 1) / drift).sqrt().min(LONGEST_S);
        let most = (tuned.longest() as usize / (FEWEST / 2)).min(LONGEST);
        let n = length(((wanted_s * tuned.rate_hz) as usize).min(most))?;
        let bin_hz = tuned.rate_hz / n as f64;
        let hop_s = 0.5 * n as f64 / tuned.rate_hz;
        let steepest = drift * hop_s / bin_hz;
        // Half a block from one frame to the next, so half of what it moves within one.
        let rest = steepest.min(0.5 * SMEAR);
        let either = ((steepest - rest) / (2.0 * rest) - 1e-9).ceil().max(0.0) as i32;
        let drifts = (-either..=either).map(|i| 2.0 * rest * f64::from(i)).collect();
        let rows = (FARTHEST.min(n as isize / 8) as f64 / steepest) as usize;
        let rows = if rows < FEWEST { FEWEST } else { 1 << rows.ilog2() };
        let mut parts: Vec<Vec<Frame>> = Vec::new();
        for frame in tuned.frames(n, n / 2) {
            match parts.last_mut() {
                Some(part) if frame.row - part[0].row < rows => part.push(frame),
                _ => parts.push(vec![frame]),
            }
        }
        parts.retain(|p| p.len() >= FEWEST);
        (!parts.is_empty()).then_some(Plan { n, bin_hz, steepest, rest, drifts, parts })
    }
    /// What so many bins a frame are, hertz a second.
    pub fn drift_hz_per_s(&self, bins_per_row: f64) -> f64 {
        2.0 * bins_per_row * self.bin_hz * self.bin_hz
    }
    /// Offset of a bin, hertz; bins count from −rate/2.
    pub fn offset_hz(&self, bin: f64) -> f64 {
        (bin - (self.n / 2) as f64) * self.bin_hz
    }
    /// Bin at an offset.
    pub fn bin(&self, offset_hz: f64) -> f64 {
        offset_hz / self.bin_hz + (self.n / 2) as f64
    }
}

/// The longest transform of 2^k or 3·2^k samples within `most`; `None` below 256.
fn length(most: usize) -> Option<usize> {
    if most < 256 {
        return None;
    }
    let two = 1usize << most.ilog2();
    Some(if two / 2 * 3 <= most { two / 2 * 3 } else { two })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_are_powers_of_two_or_three_halves_of_one() {
        assert_eq!(length(255), None);
        for (most, want) in [(256, 256), (383, 256), (384, 384), (511, 384), (5_000_000, 4_194_304)]
        {
            assert_eq!(length(most), Some(want), "{most}");
        }
    }
}
