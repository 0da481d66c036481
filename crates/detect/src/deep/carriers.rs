//! Steady carriers far under the noise of one block.
//!
//! Blocks of half-overlapped Hann frames, as long as the fastest drift lets one stay in a bin;
//! powers over the local floor are summed along every straight track in time and frequency. A sum
//! over M blocks needs C/N0 lower by about 5 lg M than one block (FA-040…044 for the ideal). The law
//! of the sum under noise is exact (overlapped frames correlate), and its threshold pays for every
//! bin and every slope.

use super::floor::{medians, quantiles};
use super::known::Known;
use super::line::{self, Track};
use super::plane::{Spectra, each_frame};
use super::tree::{Tree, reach};
use super::tuned::{Frame, Tuned, runs};
use super::{DeepFound, DeepOptions};
use crate::DetectError;
use dsp::{ExponentialSum, frame_eigenvalues, gamma_quantile};
use rayon::prelude::*;

/// Longest block: transforms of more samples take too much memory.
const LONGEST: usize = 1 << 24;
/// Longest block, seconds: crystals wander faster than this by more than their steady drift
/// (common practice, no source).
const LONGEST_S: f64 = 4.0;
/// Fewest frames that are worth summing.
const FEWEST: usize = 16;
/// Bins that the fastest carrier moves within one block.
const SMEAR: f64 = 0.5;
/// Bins that a track may move over all rows; a longer recording is searched in parts.
const FARTHEST: isize = 1024;
/// Carrier frequency that drift counts at where nobody states the centre, hertz.
const UNSTATED_HZ: f64 = 1e9;
/// Bins of the floor of sums.
const WINDOW: usize = 512;
/// Scatter of sums over what noise alone gives, from which on they are not noise alone.
const ROUGH: f64 = 1.25;
/// Rows of one search: the strongest.
const MOST: usize = 64;
/// Bins on either side of a strong line that its side lobes reach (Hann, 18 dB an octave: 100 dB).
const LOBES: f64 = 48.0;
/// Excess from which on a carrier counts as such a line.
const STRONG: f64 = 3.0;

/// How one centre is searched for carriers.
pub(super) struct Plan {
    /// Samples of a block; frames are half of it apart.
    pub n: usize,
    /// Width of a bin, hertz.
    pub bin_hz: f64,
    /// Bins that the fastest carrier moves from one frame to the next.
    pub steepest: f64,
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
        let wanted_s = (SMEAR / drift).sqrt().min(LONGEST_S);
        let most = (tuned.longest() as usize / (FEWEST / 2)).min(LONGEST);
        let n = length(((wanted_s * tuned.rate_hz) as usize).min(most))?;
        let bin_hz = tuned.rate_hz / n as f64;
        let hop_s = 0.5 * n as f64 / tuned.rate_hz;
        let steepest = drift * hop_s / bin_hz;
        let rows = (FARTHEST as f64 / steepest) as usize;
        let rows = if rows < FEWEST { FEWEST } else { 1 << rows.ilog2() };
        let mut parts: Vec<Vec<Frame>> = Vec::new();
        for frame in tuned.frames(n, n / 2) {
            match parts.last_mut() {
                Some(part) if frame.row - part[0].row < rows => part.push(frame),
                _ => parts.push(vec![frame]),
            }
        }
        parts.retain(|p| p.len() >= FEWEST);
        (!parts.is_empty()).then_some(Plan { n, bin_hz, steepest, parts })
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

/// The steady carriers that only the sums show. `family` is the number of rows that noise may make.
pub(super) fn search(
    tuned: &Tuned<'_>,
    known: &Known,
    family: f64,
    options: &DeepOptions,
    on_progress: &mut dyn FnMut(f64) -> bool,
) -> Result<Vec<DeepFound>, DetectError> {
    let Some(plan) = Plan::new(tuned, options) else { return Ok(Vec::new()) };
    let mut found = Vec::new();
    let share = 1.0 / plan.parts.len() as f64;
    for (i, part) in plan.parts.iter().enumerate() {
        let mut progress = |fraction: f64| on_progress((i as f64 + fraction) * share);
        let search = Part::new(tuned, known, &plan, part, family * share);
        let tracks = search.tracks(options.memory_bytes, &mut progress)?;
        found.extend(line::look(tuned, known, &plan, part, &tracks, options)?);
    }
    Ok(found)
}

/// The search of one part.
struct Part<'a> {
    tuned: &'a Tuned<'a>,
    plan: &'a Plan,
    frames: &'a [Frame],
    /// Rows of the time line.
    rows: usize,
    /// First and one past the last bin searched.
    band: (usize, usize),
    /// Bins that are not, as spans.
    taken: Vec<(usize, usize)>,
    /// Bins that a track may leave the searched ones by.
    guard: usize,
    law: Law,
}

/// What sums over the frames are under noise, and from where on they are not.
struct Law {
    sum: ExponentialSum,
    /// Excess over the mean, as part of it, that is a carrier.
    excess: f64,
    /// Median over mean.
    median: f64,
    /// Distance of the 84 % quantile from the median, as part of the mean.
    spread: f64,
    /// Natural logarithm of the number of tracks tried.
    ln_trials: f64,
}

impl Law {
    fn new(frames: &[Frame], trials: f64, family: f64) -> Law {
        let lambda: Vec<f64> = runs(frames).into_iter().flat_map(frame_eigenvalues).collect();
        let sum = ExponentialSum::new(&lambda);
        let ln_trials = trials.ln();
        let excess = sum.isf_ln(family.ln() - ln_trials) / sum.mean() - 1.0;
        let shape = sum.effective();
        let median = gamma_quantile(shape, 0.5) / shape;
        let spread = gamma_quantile(shape, 0.841_345) / shape - median;
        Law { sum, excess, median, spread, ln_trials }
    }
    /// Probability that noise alone shows such an excess anywhere.
    fn false_alarm(&self, excess: f64) -> f64 {
        let ln_p = self.sum.ln_sf((1.0 + excess) * self.sum.mean()) + self.ln_trials;
        ln_p.min(0.0).exp()
    }
}

impl<'a> Part<'a> {
    fn new(
        tuned: &'a Tuned<'a>,
        known: &Known,
        plan: &'a Plan,
        frames: &'a [Frame],
        family: f64,
    ) -> Self {
        let rows = frames[frames.len() - 1].row - frames[0].row + 1;
        let level = rows.next_power_of_two().ilog2();
        let reach = reach(plan.steepest, level);
        // Half the way to either side, and what a cell's window reaches.
        let guard = reach as usize / 2 + 2;
        let (low, high) = known.usable();
        let inside = |hz: f64| (plan.bin(hz).round() as usize).clamp(guard, plan.n - guard);
        let band = (inside(low), inside(high));
        let bins = |hz: f64| plan.bin(hz).clamp(0.0, plan.n as f64) as usize;
        let taken: Vec<(usize, usize)> = known
            .taken(LOBES * plan.bin_hz)
            .into_iter()
            .map(|(low, high)| (bins(low), bins(high) + 1))
            .collect();
        let hidden = (band.0..band.1).filter(|k| is_taken(&taken, *k)).count();
        let free = (band.1 - band.0 - hidden).max(1);
        let law = Law::new(frames, free as f64 * (2 * reach + 1) as f64, family);
        Part { tuned, plan, frames, rows, band, taken, guard, law }
    }
    /// The tracks whose sums noise alone does not make, strongest first.
    fn tracks(
        &self,
        memory: usize,
        on_progress: &mut dyn FnMut(f64) -> bool,
    ) -> Result<Vec<Track>, DetectError> {
        let width = (memory / self.frames.len()).saturating_sub(2 * self.guard).max(1 << 14);
        let passes = (self.band.1 - self.band.0).div_ceil(width).max(1);
        let spectra = Spectra::hann(self.tuned, self.plan.n);
        let mut tracks = Vec::new();
        for pass in 0..passes {
            let low = self.band.0 + pass * width;
            let high = (low + width).min(self.band.1);
            let (first, last) = (low - self.guard, high + self.guard);
            let mut rows: Vec<Option<Vec<u8>>> = vec![None; self.rows];
            each_frame(
                self.frames,
                spectra.together(),
                |frame| spectra.cells(frame, first, last - first),
                |i, cells| rows[self.frames[i].row - self.frames[0].row] = Some(cells),
                |part| match on_progress((pass as f64 + 0.9 * part) / passes as f64) {
                    true => Ok(()),
                    false => Err(DetectError::Stopped),
                },
            )?;
            let chunk = (4 * self.guard).max(1 << 13);
            let starts: Vec<usize> = (low..high).step_by(chunk).collect();
            let each = starts.par_iter().map(|start| {
                let stop = (start + chunk).min(high);
                self.chunk(&rows, first, *start, stop)
            });
            tracks.extend(each.collect::<Vec<_>>().concat());
        }
        Ok(apart(tracks, self.rows))
    }
    /// The tracks whose middle lies in the bins from `start` to `stop`; `rows` begin at `first`.
    fn chunk(
        &self,
        rows: &[Option<Vec<u8>>],
        first: usize,
        start: usize,
        stop: usize,
    ) -> Vec<Track> {
        let (low, high) = (start - self.guard - first, stop + self.guard - first);
        let views: Vec<Option<&[u8]>> =
            rows.iter().map(|r| r.as_ref().map(|r| &r[low..high])).collect();
        let tree = Tree::new(&views, high - low, self.plan.steepest);
        let steps = ((1u64 << tree.level()) - 1).max(1) as f64;
        let middle = 0.5 * (self.rows - 1) as f64;
        // The floor of the sums and their scatter, from those that do not move.
        let still: Vec<f32> = (low..high)
            .map(|k| rows.iter().flatten().map(|r| u32::from(r[k])).sum::<u32>() as f32)
            .collect();
        let median = medians(&still, WINDOW, WINDOW / 4);
        let upper = quantiles(&still, WINDOW, WINDOW / 4, 0.841_345);
        let scale: Vec<(f32, f32)> = median
            .iter()
            .zip(&upper)
            .map(|(median, upper)| {
                let mean = f64::from(*median) / self.law.median;
                let rough = f64::from(upper - median) / (mean * self.law.spread).max(1e-30);
                let rough = if rough > ROUGH { rough } else { 1.0 };
                (mean as f32, (1.0 / (mean * rough).max(1e-30)) as f32)
            })
            .collect();
        let mut best = vec![(f32::NEG_INFINITY, 0isize); stop - start];
        tree.each(|d, sums| {
            let before = (d as f64 * middle / steps).round() as isize;
            for (i, best) in best.iter_mut().enumerate() {
                let k = self.guard + i;
                let (mean, scale) = scale[k];
                let excess = (sums[(k as isize - before) as usize] as f32 - mean) * scale;
                if excess > best.0 {
                    *best = (excess, d);
                }
            }
        });
        let mut tracks = Vec::new();
        for (i, (excess, d)) in best.into_iter().enumerate() {
            let excess = f64::from(excess);
            if excess > self.law.excess && !is_taken(&self.taken, start + i) {
                tracks.push(Track {
                    bin: (start + i) as f64,
                    slope: d as f64 / steps,
                    excess,
                    false_alarm: self.law.false_alarm(excess),
                });
            }
        }
        tracks
    }
}

fn is_taken(taken: &[(usize, usize)], bin: usize) -> bool {
    taken.iter().any(|(low, high)| (*low..*high).contains(&bin))
}

/// The strongest of tracks that cross or touch.
fn apart(mut tracks: Vec<Track>, rows: usize) -> Vec<Track> {
    tracks.sort_by(|a, b| b.excess.total_cmp(&a.excess).then(a.bin.total_cmp(&b.bin)));
    let half = 0.5 * (rows - 1) as f64;
    let mut kept: Vec<Track> = Vec::new();
    for track in tracks {
        let touches = |k: &Track| {
            let (at, slope) = (track.bin - k.bin, track.slope - k.slope);
            let wide = if k.excess > STRONG { LOBES } else { 4.0 };
            at.abs() < slope.abs() * half + wide
        };
        if kept.len() < MOST && !kept.iter().any(touches) {
            kept.push(track);
        }
    }
    kept
}
