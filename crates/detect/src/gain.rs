//! How much higher the noise stands than its floor from moment to moment: receivers with automatic
//! gain turn it up between bursts.
//!
//! The lowest tenths of a moment's cells tell, over the whole band, of those that no emission
//! clearly covers. Far skirts of a keyed emission lift them as well: beside one a moment counts for
//! less, as it does under a raised gain.

use crate::cells::Cells;
use rayon::prelude::*;

/// Fraction of the cells looked at.
const LOW: f64 = 0.15;
/// Cells of one moment.
const CELLS: usize = 512;
/// Most that the noise may rise, as a ratio: beyond it a burst over the whole band is likelier.
const MOST: f64 = 10.0;
/// Cells so far over the floor hold an emission (noise at the highest gain reaches it once in e^10).
const COVERED: f32 = 100.0;
/// They count from this part of the band on (one over it): fewer do not move the lowest tenths much.
const MUCH: usize = 4;

/// The noise stands high in a moment in which it is so many times its floor.
const HIGH: f32 = 2.0;
/// A bin is an emission's if it is as low as noise so much more seldom than the quietest quarter.
const SELDOM: f64 = 1.0 / 3.0;
/// Rows in which that is looked at.
const ROWS: usize = 4096;

/// Noise of every row of `cells` as a multiple of `floor`; 1 where it does not clearly differ.
/// Emissions that are weaker than [`COVERED`] lift it as well, where they are over much of the band:
/// what is looked for there must stand out further, as beside a keyed one.
pub(crate) fn of(cells: &Cells, floor: &[f32]) -> Vec<f32> {
    let moments = Moments::new(floor, vec![true; cells.level.n]);
    let mut gain = vec![1.0f32; cells.rows];
    let rows = moments.rows();
    let each = gain.par_chunks_mut(rows).zip(cells.power.par_chunks(rows * cells.level.n));
    each.for_each(|(gain, power)| gain.fill(moments.lift(power)));
    gain
}

/// Fraction of the time in which the noise itself stands high, of cells with their gain: bins that
/// are an emission's for most of the time tell nothing here.
pub(crate) fn unsteady(cells: &Cells, floor: &[f32]) -> f64 {
    let gain = &cells.gain;
    if gain.iter().all(|gain| *gain <= HIGH) {
        return 0.0;
    }
    let moments = Moments::new(floor, free_bins(cells, floor));
    let rows = moments.rows();
    let each = gain.par_chunks(rows).zip(cells.power.par_chunks(rows * cells.level.n));
    let high = each.filter(|(gain, power)| gain[0] > HIGH && moments.lift(power) > HIGH);
    high.map(|(gain, _)| gain.len()).sum::<usize>() as f64 / gain.len() as f64
}

/// The value below which [`LOW`] of unit exponentials lie.
fn expected() -> f64 {
    -(1.0 - LOW).ln()
}

/// How far the noise is lifted in a moment, told by some of the bins.
struct Moments<'a> {
    floor: &'a [f32],
    /// Bins that are looked at.
    told: Vec<bool>,
    /// How many they are.
    width: usize,
    /// What [`LOW`] of the cells of a bin lie under; 0 for one that is not looked at.
    limit: Vec<f32>,
}

impl<'a> Moments<'a> {
    fn new(floor: &'a [f32], told: Vec<bool>) -> Self {
        let limit = |(floor, told): (&f32, &bool)| match told {
            true => floor * expected() as f32,
            false => 0.0,
        };
        let limit = floor.iter().zip(&told).map(limit).collect();
        let width = told.iter().filter(|told| **told).count();
        Moments { floor, told, width, limit }
    }
    /// Rows of a moment.
    fn rows(&self) -> usize {
        CELLS.div_ceil(self.floor.len())
    }
    /// Noise of the rows of a moment as a multiple of the floor; 1 where it does not clearly differ.
    fn lift(&self, power: &[f32]) -> f32 {
        let n = self.floor.len();
        let looked = power.len() / n * self.width;
        let below: u32 = power
            .chunks_exact(n)
            .map(|row| row.iter().zip(&self.limit).map(|(p, l)| u32::from(p < l)).sum::<u32>())
            .sum();
        // Cells of Hann frames half overlapped are correlated: worth about half their number.
        let lifted = |below: u32, count: f64| {
            f64::from(below) / count <= LOW - 2.0 * (LOW * (1.0 - LOW) * 2.0 / count).sqrt()
        };
        if !lifted(below, looked as f64) {
            return 1.0;
        }
        let mut ratios: Vec<f32> = power
            .chunks_exact(n)
            .flat_map(|row| row.iter().zip(self.floor).zip(&self.told))
            .filter(|(_, told)| **told)
            .map(|((p, f), _)| p / f)
            .collect();
        let covered = ratios.iter().filter(|ratio| **ratio >= COVERED).count();
        if covered > ratios.len() / MUCH {
            ratios.retain(|ratio| *ratio < COVERED);
        }
        let count = ratios.len() as f64;
        // Too little of the band is free: nothing can be told.
        if ratios.len() < looked / 8 || !lifted(below, count) {
            return 1.0;
        }
        let at = ((LOW * count) as usize).min(ratios.len() - 1);
        let (_, low, _) = ratios.select_nth_unstable_by(at, f32::total_cmp);
        (f64::from(*low) / expected()).clamp(1.0, MOST) as f32
    }
}

/// The bins that no emission holds for most of the block. The noise lifts them all at once.
fn free_bins(cells: &Cells, floor: &[f32]) -> Vec<bool> {
    let n = cells.level.n;
    let mut low = vec![0u32; n];
    let each = cells.rows.div_ceil(ROWS).max(1);
    for row in cells.power.chunks_exact(n).step_by(each) {
        for ((low, p), floor) in low.iter_mut().zip(row).zip(floor) {
            *low += u32::from(*p < floor * expected() as f32);
        }
    }
    let mut sorted = low.clone();
    let (_, quiet, _) = sorted.select_nth_unstable(n - 1 - n / 4);
    let least = SELDOM * f64::from(*quiet);
    low.iter().map(|low| f64::from(*low) >= least).collect()
}

/// The same for the rows of a coarser resolution: the mean over a row's frame, weighted as the
/// window weighs power.
pub(crate) fn coarser(gain: &[f32], from: &Cells, to: &Cells) -> Vec<f32> {
    let row = |r: usize| {
        let first = (r * to.level.hop / from.level.hop).min(gain.len());
        let last = ((r * to.level.hop + to.level.n) / from.level.hop).clamp(first, gain.len());
        let part = &gain[first..last];
        if part.iter().all(|g| *g == 1.0) {
            return 1.0;
        }
        let hann = |i: usize| {
            let turn = std::f32::consts::TAU * (i as f32 + 0.5) / part.len() as f32;
            (1.0 - turn.cos()).powi(2)
        };
        let (sum, weight) = part.iter().enumerate().fold((0.0, 0.0), |(s, w), (i, g)| {
            let h = hann(i);
            (s + h * g, w + h)
        });
        if weight > 0.0 { sum / weight } else { 1.0 }
    };
    (0..to.rows).map(row).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Level;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    /// 200 moments of exponential cells of mean `gain`, of which the first `covered` of 64 bins hold
    /// an emission of mean `over`.
    fn made(gain: f64, covered: usize, over: f64) -> Cells {
        let mut random = ChaCha8Rng::seed_from_u64(5);
        let (n, rows) = (64, 8 * 200);
        let mut cell = |k: usize| {
            let mean = if k % n < covered { over } else { gain };
            (-mean * (1.0 - random.random::<f64>()).ln()) as f32
        };
        let power = (0..rows * n).map(&mut cell).collect();
        let level = Level { n, hop: n / 2, rate_hz: 1e6 };
        Cells { level, rows, power, gain: Vec::new() }
    }

    /// Mean gain found of such.
    fn found(gain: f64, covered: usize) -> f64 {
        let gains = of(&made(gain, covered, 1000.0), &[1.0; 64]);
        gains.iter().map(|g| f64::from(*g)).sum::<f64>() / gains.len() as f64
    }

    /// Part of the time in which the noise is said to stand high, of the same.
    fn high(gain: f64, covered: usize, over: f64) -> f64 {
        let mut cells = made(gain, covered, over);
        cells.gain = of(&cells, &[1.0; 64]);
        unsteady(&cells, &[1.0; 64])
    }

    #[test]
    fn emissions_over_much_of_the_band_are_no_noise_that_stands_high() {
        for covered in [0, 6, 20, 32] {
            for over in [10.0, 30.0, 1000.0] {
                let (one, four) = (high(1.0, covered, over), high(4.0, covered, over));
                assert!(one < 0.005, "{covered} bins, {over}: {one}");
                assert!(four > 0.9, "{covered} bins, {over}: {four}");
            }
        }
    }

    #[test]
    fn a_gain_is_told_from_an_emission_over_much_of_the_band() {
        for covered in [0, 6, 20, 32, 40] {
            let (one, four) = (found(1.0, covered), found(4.0, covered));
            assert!((1.0..1.1).contains(&one), "{covered} bins: {one}");
            assert!((3.4..5.0).contains(&four), "{covered} bins: {four}");
        }
    }
}
