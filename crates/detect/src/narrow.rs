//! Whether a component is too narrow for the next finer resolution in time to show its band.

use crate::areas::View;
use crate::components::Component;
use std::ops::Range;

/// Its band is where it holds this part of its peak (−13 dB).
const PART: f64 = 0.05;
/// Bins of the finer resolution on either side of a narrow one that hold its leakage, and those
/// beyond them that must hold next to nothing.
const LEAKS: usize = 1;
/// See [`LEAKS`].
const BESIDE: usize = 3;
/// Next to nothing: this part of what it holds (−10 dB).
const NOTHING: f64 = 0.1;

/// Whether all of a component lies within the width of one bin of `finer`, which shows nothing
/// beside it: then it is best seen where it was, however short.
pub(crate) fn is_narrow(c: &Component, view: &View<'_>, finer: &View<'_>) -> bool {
    let (own, level) = (view.cells.level, finer.cells.level);
    let over = mean(view, c.row0..c.row1, c.band());
    let least = PART * over.iter().copied().fold(0.0, f64::max);
    let Some(first) = over.iter().position(|e| *e > least) else { return false };
    let last = over.iter().rposition(|e| *e > least).unwrap_or(first);
    if (last - first + 1) as f64 * own.bin_hz() > level.bin_hz() {
        return false;
    }
    let bin = |k: usize| level.bin_at(own.offset_hz((c.bin0 + k) as f64)).round().max(0.0) as usize;
    let (low, high) = (bin(first).min(level.n - 1), bin(last).min(level.n - 1));
    let rows = c.row0 * own.hop / level.hop
        ..(((c.row1 - 1) * own.hop + own.n) / level.hop).min(finer.cells.rows);
    let band = low.saturating_sub(BESIDE)..(high + BESIDE + 1).min(level.n);
    let over = mean(finer, rows, band.clone());
    let own = low.saturating_sub(LEAKS)..=high + LEAKS;
    let of = |inside: bool| -> f64 {
        band.clone().zip(&over).filter(|(k, _)| own.contains(k) == inside).map(|(_, e)| e).sum()
    };
    of(false) < NOTHING * of(true)
}

/// Mean excess over the floor of some bins over some rows.
fn mean(view: &View<'_>, rows: Range<usize>, bins: Range<usize>) -> Vec<f64> {
    let mut sum = vec![0.0; bins.len()];
    let count = rows.len().max(1) as f64;
    for r in rows {
        let gain = view.cells.gain[r];
        let row = &view.cells.row(r)[bins.clone()];
        for ((s, p), f) in sum.iter_mut().zip(row).zip(&view.floor[bins.clone()]) {
            *s += f64::from(*p - *f * gain) / count;
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fleeting::tests::{OWN, block, component, seen};
    use units::Iq;

    #[test]
    fn a_tone_is_narrow_and_a_slice_of_a_sweep_is_not() {
        let on = |k: usize| (OWN..3 * OWN).contains(&k);
        let narrow =
            |block: &[Iq]| seen(block, |view, finer| is_narrow(&component(1..5), view, finer));
        assert!(narrow(&block(|k| if on(k) { 10.0 } else { 0.0 })));
        // The same component of an emission that sweeps over a quarter of the band in every frame.
        let mut sweep = block(|_| 0.0);
        for (k, x) in sweep.iter_mut().enumerate().filter(|(k, _)| on(*k)) {
            let t = (k % OWN) as f64;
            let turns = (0.125 * t * t / OWN as f64) % 1.0;
            let (sin, cos) = (std::f64::consts::TAU * turns).sin_cos();
            *x += Iq::new(10.0 * cos as f32, 10.0 * sin as f32);
        }
        assert!(!narrow(&sweep));
    }
}
