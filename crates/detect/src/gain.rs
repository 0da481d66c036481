//! How much higher the noise stands than its floor from moment to moment: receivers with automatic
//! gain turn it up between bursts.
//!
//! The lowest tenths of a moment's cells tell, over the whole band: an emission that leaves a
//! fifth of the band free does not move them.

use crate::cells::Cells;
use rayon::prelude::*;

/// Fraction of the cells looked at.
const LOW: f64 = 0.15;
/// Cells of one moment.
const CELLS: usize = 512;
/// Most that the noise may rise, as a ratio: beyond it a burst over the whole band is likelier.
const MOST: f64 = 10.0;

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
        let count = power.len() as f64;
        let sd = (LOW * (1.0 - LOW) * 2.0 / count).sqrt();
        if f64::from(below) / count > LOW - 2.0 * sd {
            return;
        }
        let mut ratios: Vec<f32> = power
            .chunks_exact(n)
            .flat_map(|row| row.iter().zip(floor).map(|(p, f)| p / f))
            .collect();
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
