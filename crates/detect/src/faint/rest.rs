//! What no clear emission explains of the cells of one resolution, over the noise of each.

use super::Boxed;
use crate::areas::{Area, View, explained};
use crate::config::Level;
use crate::slow::{Left, Part, cumulated};
use rayon::prelude::*;

/// Parts of the time whose means tell how high the noise of a bin stands; their median counts.
const PARTS: usize = 8;
/// Rows that each must have.
const PART_ROWS: usize = 8;
/// Over the floor from which on what is keyed throws something beside its band that means of many
/// cells show: what lies 25 dB under it does not count to it (the measure of the band), and they
/// reach a few dB under the noise.
const LOUD: f32 = 100.0;
/// Such a mean is taken over this part of the bins to either side, 4 bins at least.
const SMOOTH: usize = 128;
/// Noise that stands so many times over the floor in a row has risen.
const CLEAR: f32 = 1.5;
/// The variance of a median over that of a mean (π/2).
const MEDIAN: f64 = std::f64::consts::FRAC_PI_2;
/// What the floor of a short recording may be wrong by, as a ratio (1 dB).
const FLOOR_ERROR: f64 = 1.26;
/// Part of what a box stands out by that it must stand out over its surroundings too.
const SURROUNDED: f64 = 0.5;

/// Cells over their noise; those that an emission explains count as noise.
#[derive(Debug)]
pub(crate) struct Rest {
    pub rows: usize,
    pub bins: usize,
    /// Rows × bins.
    pub power: Vec<f32>,
    /// Bins over which the mean of every bin was brought to 1; none where there were too few rows.
    levelled: Option<usize>,
}

impl Rest {
    /// What `taken` leaves of `view`, one of `views`, and its means before they were levelled out.
    pub fn of(view: &View<'_>, views: &[View<'_>], taken: &[Area]) -> (Rest, Parts) {
        let (rows, bins) = (view.cells.rows, view.cells.level.n);
        let quiet: Vec<f32> = view.floor.iter().map(|f| 1.0 / f).collect();
        let mut power = vec![0.0f32; rows * bins];
        let gain = &view.cells.gain;
        power.par_chunks_mut(bins).zip(view.cells.power.par_chunks(bins)).zip(gain).for_each(
            |((out, row), gain)| {
                // Less is within what chance makes of one moment.
                let quieter = if *gain > CLEAR { 1.0 / gain } else { 1.0 };
                for ((o, p), q) in out.iter_mut().zip(row).zip(&quiet) {
                    *o = p * q * quieter;
                }
            },
        );
        let mut rest = Rest { rows, bins, power, levelled: None };
        let barred = taken.par_iter().map(|area| explained(area, views, view));
        let mut alone = vec![true; rows];
        for e in barred.collect::<Vec<_>>() {
            // What is keyed so far above the noise throws some of it all over the band.
            if e.peak > LOUD && e.rows.len() < rows {
                alone[e.rows.clone()].fill(false);
            }
            for r in e.rows.clone() {
                for bins in &e.deep {
                    rest.power[r * rest.bins..(r + 1) * rest.bins][bins.clone()].fill(EXPLAINED);
                }
            }
        }
        let parts = rest.parts(&alone);
        rest.level_out(&parts.0);
        (rest, parts)
    }

    /// Sums and numbers of the unexplained cells of every bin, in parts of the time, of the rows in
    /// which nothing loud is keyed.
    fn parts(&self, alone: &[bool]) -> Parts {
        let n = self.bins;
        let part_rows = self.rows.div_ceil(PARTS).max(1);
        let of = |(i, part): (usize, &[f32])| {
            let (mut sum, mut count) = (vec![0.0f32; n], vec![0.0f32; n]);
            let rows = part.chunks_exact(n).zip(&alone[i * part_rows..]);
            for (row, _) in rows.filter(|(_, alone)| **alone) {
                for ((s, c), p) in sum.iter_mut().zip(&mut count).zip(row) {
                    *s += p.max(0.0);
                    *c += if *p < 0.0 { 0.0 } else { 1.0 };
                }
            }
            let rows = part.len() / n;
            let alone = &alone[i * part_rows..][..rows];
            let alone = alone.iter().filter(|alone| **alone).count();
            Sums { row0: i * part_rows, rows, alone, sum, count }
        };
        Parts(self.power.par_chunks(part_rows * n).enumerate().map(of).collect())
    }

    /// Brings every bin to a mean of 1 over the time, by the median of the means of its parts: what
    /// the floor is wrong by goes, and what lasts less than half of the time stays.
    fn level_out(&mut self, parts: &[Sums]) {
        let n = self.bins;
        let half = (n / SMOOTH).max(4);
        let few = self.rows < PARTS * PART_ROWS;
        let means: Vec<Vec<f32>> = match few {
            true => Vec::new(),
            false => parts.par_iter().map(|part| part.smooth_mean(half)).collect(),
        };
        self.levelled = (!few).then_some(2 * half + 1);
        let level = |k: usize| {
            let mut of: Vec<f32> = means.iter().map(|m| m[k]).filter(|m| *m > 0.0).collect();
            if of.is_empty() {
                return 1.0;
            }
            let at = of.len() / 2;
            let high = *of.select_nth_unstable_by(at, f32::total_cmp).1;
            // Of an even number, the mean of the two in the middle.
            let low = of[..at].iter().copied().fold(0.0, f32::max);
            if of.len().is_multiple_of(2) { 0.5 * (low + high) } else { high }
        };
        let quiet: Vec<f32> = (0..n).map(|k| 1.0 / level(k)).collect();
        self.power.par_chunks_mut(n).for_each(|row| {
            for (p, q) in row.iter_mut().zip(&quiet) {
                *p = if *p < 0.0 { 1.0 } else { *p * q };
            }
        });
    }

    /// Mean of some cells.
    pub fn mean(&self, rows: std::ops::Range<usize>, bins: std::ops::Range<usize>) -> f64 {
        let cells = (rows.len() * bins.len()).max(1) as f64;
        let sum: f64 = rows.map(|r| sum(&self.power[r * self.bins..][bins.clone()])).sum();
        sum / cells
    }

    /// The mean of a box as it counts: what it stands out by is less sure than the box alone tells, as
    /// the noise that it is held against was told by some of the same cells.
    pub fn surely(&self, b: &Boxed) -> f64 {
        match self.levelled {
            Some(wide) => {
                let time = b.rows() as f64 / self.rows as f64;
                let band = (b.bins() as f64 / wide as f64).min(1.0);
                1.0 + (b.mean - 1.0) / (1.0 + MEDIAN * time * band).sqrt()
            }
            None => b.mean / FLOOR_ERROR,
        }
    }

    /// Whether a box stands out over the cells beside it in frequency at its time too.
    pub fn stands_out(&self, b: &Boxed) -> bool {
        let wide = b.bins().max(8);
        let below = b.bin0.saturating_sub(wide + 2)..b.bin0.saturating_sub(2);
        let above = (b.bin1 + 2).min(self.bins)..(b.bin1 + 2 + wide).min(self.bins);
        let over = 1.0 + (1.0 - SURROUNDED) * (b.mean - 1.0);
        let mut sides = [below, above].into_iter().filter(|side| 2 * side.len() >= wide).peekable();
        // What fills the band may be the receiver's noise that rose.
        sides.peek().is_some() && sides.all(|side| self.mean(b.row0..b.row1, side) < over)
    }
}

/// Marks a cell that an emission explains, until the bins are levelled out.
const EXPLAINED: f32 = -1.0;

/// Bins to either side over which a floor is smooth, as a part of all.
const SHAPE: usize = 32;

/// A floor over the same made smooth: it may have steps where its estimates meet, and beside others
/// in a mean of many rows a step looks like an emission.
fn over_smooth(floor: &[f32]) -> Vec<f32> {
    let n = floor.len();
    let sums = cumulated(floor);
    let half = n / SHAPE;
    let smooth = |k: usize| {
        let half = half.min(k).min(n - 1 - k);
        ((sums[k + half + 1] - sums[k - half]) / (2 * half + 1) as f64) as f32
    };
    floor.iter().enumerate().map(|(k, f)| f / smooth(k)).collect()
}

/// Sums over parts of the time.
pub(crate) struct Parts(Vec<Sums>);

impl Parts {
    /// Their means, over the noise of `view`.
    pub fn left(&self, view: &View<'_>) -> Left {
        let (level, ratio) = (view.cells.level, over_smooth(view.floor));
        let some = self.0.par_iter().filter(|p| p.alone > 0);
        Left { parts: some.map(|p| p.part(level, &ratio)).collect(), noise: view.floor.to_vec() }
    }
}

/// Sums of some rows.
struct Sums {
    row0: usize,
    rows: usize,
    /// Rows that were summed.
    alone: usize,
    /// Of the unexplained cells of every bin.
    sum: Vec<f32>,
    /// How many they are.
    count: Vec<f32>,
}

impl Sums {
    /// Mean of the unexplained cells of every bin and `half` to either side; 0 where there are few.
    fn smooth_mean(&self, half: usize) -> Vec<f32> {
        let n = self.sum.len();
        let (sums, counts) = (cumulated(&self.sum), cumulated(&self.count));
        let mean = |k: usize| {
            let (a, z) = (k.saturating_sub(half), (k + half + 1).min(n));
            let count = counts[z] - counts[a];
            let few = count < 0.25 * (self.rows * (z - a)) as f64;
            if few { 0.0 } else { ((sums[z] - sums[a]) / count) as f32 }
        };
        (0..n).map(mean).collect()
    }

    /// Its mean spectrum, of which each bin is to count `ratio` times what it does here.
    fn part(&self, level: Level, ratio: &[f32]) -> Part {
        let sum: Vec<f32> = self.sum.iter().zip(ratio).map(|(s, r)| s * r).collect();
        let start = level.row_start(self.row0) as u64;
        let stop = start + (self.rows * level.hop) as u64;
        Part::of(&sum, &self.count, self.alone, start, stop)
    }
}

/// Sum in blocks, for its digits.
fn sum(x: &[f32]) -> f64 {
    x.chunks(256).map(|c| f64::from(c.iter().sum::<f32>())).sum()
}
