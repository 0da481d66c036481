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

/// Noise of every row of `cells` as a multiple of `floor`; 1 where it does not clearly differ.
pub(crate) fn of(cells: &Cells, floor: &[f32]) -> Vec<f32> {
    let n = cells.level.n;
    let rows = CELLS.div_ceil(n);
    // The value below which `LOW` of unit exponentials lie.
    let expected = -(1.0 - LOW).ln();
    let limit: Vec<f32> = floor.iter().map(|f| f * expected as f32).collect();
    let mut gain = vec![1.0f32; cells.rows];
    gain.par_chunks_mut(rows).zip(cells.power.par_chunks(rows * n)).for_each(|(gain, power)| {
        let below: u32 = power
            .chunks_exact(n)
            .map(|row| row.iter().zip(&limit).map(|(p, l)| u32::from(p < l)).sum::<u32>())
            .sum();
        // Cells of Hann frames half overlapped are correlated: worth about half their number.
        let lifted = |below: u32, count: f64| {
            f64::from(below) / count <= LOW - 2.0 * (LOW * (1.0 - LOW) * 2.0 / count).sqrt()
        };
        if !lifted(below, power.len() as f64) {
            return;
        }
        let mut ratios: Vec<f32> = power
            .chunks_exact(n)
            .flat_map(|row| row.iter().zip(floor).map(|(p, f)| p / f))
            .collect();
        let covered = ratios.iter().filter(|ratio| **ratio >= COVERED).count();
        if covered > ratios.len() / MUCH {
            ratios.retain(|ratio| *ratio < COVERED);
        }
        let count = ratios.len() as f64;
        // Too little of the band is free: nothing can be told.
        if ratios.len() < power.len() / 8 || !lifted(below, count) {
            return;
        }
        let at = ((LOW * count) as usize).min(ratios.len() - 1);
        let (_, low, _) = ratios.select_nth_unstable_by(at, f32::total_cmp);
        gain.fill((f64::from(*low) / expected).clamp(1.0, MOST) as f32);
    });
    gain
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

    /// Mean gain found of 200 moments of exponential cells of mean `gain`, of which the first
    /// `covered` of 64 bins hold an emission 1000 times as strong.
    fn found(gain: f64, covered: usize) -> f64 {
        let mut random = ChaCha8Rng::seed_from_u64(5);
        let (n, rows) = (64, 8 * 200);
        let mut cell = |k: usize| {
            let mean = if k % n < covered { 1000.0 } else { gain };
            (-mean * (1.0 - random.random::<f64>()).ln()) as f32
        };
        let power = (0..rows * n).map(&mut cell).collect();
        let level = Level { n, hop: n / 2, rate_hz: 1e6 };
        let gains = of(&Cells { level, rows, power, gain: Vec::new() }, &[1.0; 64]);
        gains.iter().map(|g| f64::from(*g)).sum::<f64>() / rows as f64
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
