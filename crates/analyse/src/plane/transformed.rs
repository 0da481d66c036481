//! Pictures out of the samples themselves: transforms of the length that the zoom asks for, of the
//! stretch of samples that each row is, and of nothing more.

use super::grid::Grid;
use super::{Area, KeepGoing, Stretch};
use crate::AnalyseError;
use rayon::prelude::*;
use spectrum::{Pixels, Resolution, Stft, Workspace, code_from_power};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};
use units::{Iq, Samples, Segment};

/// Samples read at once, if the transform is not longer.
const AT_ONCE: usize = 1 << 16;

/// The transforms that were planned, by their length: the longest takes milliseconds to plan.
#[derive(Debug, Default)]
pub(crate) struct Plans(Mutex<BTreeMap<u64, Arc<Stft>>>);

impl Plans {
    fn of(&self, bins: u64) -> Arc<Stft> {
        let mut plans = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let plan = || Arc::new(Stft::new(Resolution::hann(bins as usize)));
        plans.entry(bins).or_insert_with(plan).clone()
    }
}

/// What one thread needs.
#[derive(Default)]
struct Scratch {
    work: Workspace,
    iq: Vec<Iq>,
    power: Vec<f32>,
    max: Vec<f32>,
    sum: Vec<f32>,
    count: Vec<u32>,
}

pub(crate) fn area(
    samples: &dyn Samples,
    plans: &Plans,
    grid: &Grid,
    stretches: &[Stretch],
    area: Area,
    keep_going: KeepGoing<'_>,
) -> Result<Pixels, AnalyseError> {
    let Area { level, width, height, .. } = area;
    let (mut max, mut mean) = (vec![0; width * height], vec![0; width * height]);
    if let Some(bins) = grid.bins_at(level.frequency) {
        let stft = &*plans.of(bins);
        let of = Of { samples, stretches, grid, area, stft };
        let rows = max.par_chunks_mut(width).zip(mean.par_chunks_mut(width)).enumerate();
        rows.try_for_each_init(Scratch::default, |scratch, (y, (max, mean))| {
            if !keep_going() {
                return Err(AnalyseError::Cancelled);
            }
            of.row(y, scratch)?;
            for x in 0..width {
                max[x] = code_from_power(scratch.max[x]);
                mean[x] = code_from_power(scratch.sum[x] / scratch.count[x].max(1) as f32);
            }
            Ok(())
        })?;
    }
    Ok(Pixels { width, max, mean })
}

struct Of<'a> {
    samples: &'a dyn Samples,
    stretches: &'a [Stretch],
    grid: &'a Grid,
    area: Area,
    stft: &'a Stft,
}

impl Of<'_> {
    /// Power of row `y` into the scratch.
    fn row(&self, y: usize, scratch: &mut Scratch) -> Result<(), AnalyseError> {
        let Area { level, left, width, top, .. } = self.area;
        scratch.max.clear();
        scratch.max.resize(width, 0.0);
        scratch.sum.clear();
        scratch.sum.resize(width, 0.0);
        scratch.count.clear();
        scratch.count.resize(width, 0);
        let row_s = self.grid.row_at(level.time);
        let (from_s, until_s) =
            ((top + y as i64) as f64 * row_s, (top + y as i64 + 1) as f64 * row_s);
        let cell_hz = self.grid.cell_at(level.frequency);
        for (stretch, segment) in self.stretches.iter().zip(self.samples.segments()) {
            let first = ((stretch.low_hz - self.grid.low_hz) / cell_hz).round() as i64;
            let bins = self.stft.resolution().bins() as i64;
            let aside = first + bins <= left || first >= left + width as i64;
            let ended = stretch.start_s + stretch.duration_s <= from_s;
            if aside || ended || stretch.start_s >= until_s {
                continue;
            }
            let rate_hz = self.samples.sample_rate_hz();
            let at = |s: f64| {
                let n = ((s - stretch.start_s) * rate_hz).round();
                n.clamp(0.0, segment.samples as f64) as u64
            };
            self.frames(segment, (at(from_s), at(until_s)), first - left, scratch)?;
        }
        Ok(())
    }

    /// Transforms the frames whose middles are samples `from` up to `until` of a segment.
    fn frames(
        &self,
        segment: &Segment,
        (from, until): (u64, u64),
        shift: i64,
        scratch: &mut Scratch,
    ) -> Result<(), AnalyseError> {
        let bins = self.stft.resolution().bins();
        let (n, hop) = (bins as u64, bins as u64 / 2);
        let Some(last) = segment.samples.checked_sub(n).filter(|_| from < segment.samples) else {
            return Ok(());
        };
        let row = until.saturating_sub(from);
        // Frame k begins at k hops; the first whose middle is here, and the last.
        let (begin, end) = (from.div_ceil(hop).max(1), until.saturating_sub(1) / hop);
        // One frame about the middle of a short row.
        let (first, frames) = match row <= hop || end < begin {
            true => ((from + row / 2).saturating_sub(hop), 1),
            false => ((begin - 1) * hop, end - begin + 1),
        };
        let Scratch { work, iq, power, max, sum, count } = scratch;
        power.resize(bins, 0.0);
        let at_once = (AT_ONCE / hop as usize).max(2) as u64 - 1;
        let begin = (-shift).clamp(0, bins as i64) as usize;
        let end = (max.len() as i64 - shift).clamp(begin as i64, bins as i64) as usize;
        let x = (begin as i64 + shift) as usize;
        let mut frame = 0;
        while frame < frames {
            let here = at_once.min(frames - frame);
            let start = |frame: u64| (first + frame * hop).min(last);
            let (begins, ends) = (start(frame), start(frame + here - 1) + n);
            iq.resize((ends - begins) as usize, Iq::default());
            self.samples.read(segment.first_sample + begins, iq)?;
            for frame in frame..frame + here {
                let at = (start(frame) - begins) as usize;
                self.stft.row(&iq[at..at + bins], &mut power[..bins], work);
                let powers = &power[begin..end];
                for ((max, sum), power) in max[x..].iter_mut().zip(&mut sum[x..]).zip(powers) {
                    *max = max.max(*power);
                    *sum += power;
                }
                for count in &mut count[x..x + powers.len()] {
                    *count += 1;
                }
            }
            frame += here;
        }
        Ok(())
    }
}
