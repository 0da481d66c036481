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
use super::plan::Plan;
use super::plane::{Spectra, each_frame};
use super::tree::{Tree, reach};
use super::tuned::{Frame, Tuned, runs};
use super::{DeepFound, DeepOptions};
use crate::DetectError;
use dsp::{ExponentialSum, frame_eigenvalues, gamma_quantile};
use rayon::prelude::*;

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
    Ok(joined(found, &plan))
}

/// A carrier that several parts show is one row: the surest, over the time of all.
fn joined(mut found: Vec<DeepFound>, plan: &Plan) -> Vec<DeepFound> {
    found.sort_by(|a, b| a.false_alarm.total_cmp(&b.false_alarm));
    let mut kept: Vec<DeepFound> = Vec::new();
    for one in found {
        let middle_s = |f: &DeepFound| 0.5 * (f.found.first_s + f.found.last_s);
        let same = |k: &&mut DeepFound| {
            let apart_s = (middle_s(k) - middle_s(&one)).abs();
            let apart_hz = (k.found.centre_hz - one.found.centre_hz).abs();
            apart_s > 0.0
                && apart_hz < plan.drift_hz_per_s(plan.steepest) * apart_s + 4.0 * plan.bin_hz
        };
        match kept.iter_mut().find(same) {
            Some(kept) => {
                kept.found.first_s = kept.found.first_s.min(one.found.first_s);
                kept.found.last_s = kept.found.last_s.max(one.found.last_s);
                kept.found.low_hz = kept.found.low_hz.min(one.found.low_hz);
                kept.found.high_hz = kept.found.high_hz.max(one.found.high_hz);
            }
            None => kept.push(one),
        }
    }
    kept
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
    /// Bins that a track may leave the searched ones by, in all and against its drift.
    guard: usize,
    inner: usize,
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
        // Half the way to either side, and what rounding adds.
        let half = |steepest: f64| reach(steepest, level) as usize / 2 + 2;
        let (guard, inner) = (half(plan.steepest) + half(plan.rest), half(plan.rest));
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
        let slopes = plan.drifts.len() * (2 * reach(plan.rest, level) as usize + 1);
        let law = Law::new(frames, free as f64 * slopes as f64, family);
        Part { tuned, plan, frames, rows, band, taken, guard, inner, law }
    }
    /// The tracks whose sums noise alone does not make, strongest first.
    fn tracks(
        &self,
        memory: usize,
        on_progress: &mut dyn FnMut(f64) -> bool,
    ) -> Result<Vec<Track>, DetectError> {
        let width = (memory / self.frames.len()).saturating_sub(2 * self.guard).max(1 << 14);
        let starts: Vec<usize> = (self.band.0..self.band.1).step_by(width).collect();
        let all = (starts.len() * self.plan.drifts.len()) as f64;
        let mut done = 0.0;
        let mut tracks = Vec::new();
        for drift in &self.plan.drifts {
            let hz_per_s = self.plan.drift_hz_per_s(*drift);
            let spectra = Spectra::hann(self.tuned, self.plan.n, hz_per_s);
            for low in &starts {
                let high = (low + width).min(self.band.1);
                let first = low - self.guard;
                let mut rows: Vec<Option<Vec<u8>>> = vec![None; self.rows];
                each_frame(
                    self.frames,
                    spectra.together(),
                    |frame| spectra.cells(frame, first, high + self.guard - first),
                    |i, cells| rows[self.frames[i].row - self.frames[0].row] = Some(cells),
                    |part| match on_progress((done + 0.9 * part) / all) {
                        true => Ok(()),
                        false => Err(DetectError::Stopped),
                    },
                )?;
                let chunk = (4 * self.inner).max(1 << 13);
                let chunks: Vec<usize> = (*low..high).step_by(chunk).collect();
                let each = chunks.par_iter().map(|start| {
                    let stop = (start + chunk).min(high);
                    self.chunk(&rows, first, (*start, stop), *drift)
                });
                tracks.extend(each.collect::<Vec<_>>().concat());
                done += 1.0;
            }
        }
        Ok(apart(tracks, self.rows))
    }
    /// The tracks of about such a drift whose middle lies in the bins from `start` to `stop`; `rows`
    /// begin at `first`.
    fn chunk(
        &self,
        rows: &[Option<Vec<u8>>],
        first: usize,
        (start, stop): (usize, usize),
        drift: f64,
    ) -> Vec<Track> {
        let low = start - self.inner - first;
        let wide = stop - start + 2 * self.inner;
        let middle = 0.5 * (self.rows - 1) as f64;
        // Each row moved along the drift.
        let views: Vec<Option<&[u8]>> = rows
            .iter()
            .enumerate()
            .map(|(i, row)| {
                let low = low as isize + (drift * (i as f64 - middle)).round() as isize;
                row.as_ref().map(|row| &row[low as usize..low as usize + wide])
            })
            .collect();
        let tree = Tree::new(&views, wide, self.plan.rest);
        let steps = ((1u64 << tree.level()) - 1).max(1) as f64;
        // The floor of the sums and their scatter, from those that move no further.
        let still: Vec<f32> = (0..wide)
            .map(|k| views.iter().flatten().map(|r| u32::from(r[k])).sum::<u32>() as f32)
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
                let k = self.inner + i;
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
                    slope: drift + d as f64 / steps,
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
