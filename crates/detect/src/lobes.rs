//! Whether an area is a lobe of a much stronger emission: less than 1 % of its power, beside its
//! band, and as much on the other side of it. Unfiltered keying has such lobes without end; they lie
//! outside of its 99 % band by definition (ITU-R SM.328) and are no emissions of their own.

use crate::areas::{Area, View};
use crate::measure::Piece;
use crate::twin::{alike, mirrored};
use std::ops::Range;

/// Part of an emission's power that may lie outside of its band (ITU-R SM.328).
const OUTSIDE: f64 = 0.01;
/// How far from its middle, in widths of it (ITU-R SM.1541: the out-of-band domain).
const REACH: f64 = 2.5;
/// Part of a lobe's time in which its emission is on.
const WHILE: f64 = 0.8;
/// Narrowest lobe, in widths of its emission: lobes are as wide as the symbols are quick, and what is
/// narrower than this is a line.
const NARROW: f64 = 0.02;
/// Cells read of one area at most.
const CELLS: usize = 1 << 18;

/// Whether `area` with its pieces is a lobe of one of the others. `pieces` are those of each area.
pub(crate) fn is_lobe(area: &Area, own: &[Piece], pieces: &[Vec<Piece>], view: &View<'_>) -> bool {
    let on: f64 = own.iter().map(|p| p.stop - p.start).sum();
    let energy = |all: &[Piece]| all.iter().map(|p| p.power * (p.stop - p.start)).sum::<f64>();
    let Some(first) = own.first().filter(|p| !p.bare) else { return false };
    let power = energy(own) / on;
    let mean = std::cell::OnceCell::new();
    pieces.iter().any(|of| {
        let Some(s) = of.first().filter(|s| !s.bare) else { return false };
        let far = (s.centre_hz - first.centre_hz).abs() > REACH * s.bandwidth_hz;
        let line = first.bandwidth_hz < NARROW * s.bandwidth_hz;
        !far && !line
            && s.power * OUTSIDE > power
            && together(own, of) >= WHILE * on
            && has_twin(mean.get_or_init(|| excess(area, view)), (s.low_hz, s.high_hz), area, view)
    })
}

/// Samples in which pieces of both are on.
fn together(a: &[Piece], b: &[Piece]) -> f64 {
    let shared = |x: &Piece, y: &Piece| (x.stop.min(y.stop) - x.start.max(y.start)).max(0.0);
    a.iter().map(|x| b.iter().map(|y| shared(x, y)).sum::<f64>()).sum()
}

/// Mean excess over the floor of every bin while an area is there.
fn excess(area: &Area, view: &View<'_>) -> Vec<f64> {
    let c = &area.component;
    let n = view.cells.level.n;
    let step = (c.rows() * n).div_ceil(CELLS).max(1);
    let mut sum = vec![0.0; n];
    let mut rows = 0.0;
    for r in (c.row0..c.row1).step_by(step) {
        let gain = view.cells.gain[r];
        for ((s, p), f) in sum.iter_mut().zip(view.cells.row(r)).zip(view.floor) {
            *s += f64::from(*p - *f * gain);
        }
        rows += 1.0;
    }
    sum.iter_mut().for_each(|s| *s /= rows);
    sum
}

/// Whether what an area holds beyond a band is there once more at its mirror image about the middle
/// of the energy in the band.
fn has_twin(excess: &[f64], (low_hz, high_hz): (f64, f64), area: &Area, view: &View<'_>) -> bool {
    let level = view.cells.level;
    let bin = |hz: f64| level.bin_at(hz).round().clamp(0.0, (level.n - 1) as f64) as usize;
    let band = bin(low_hz)..bin(high_hz) + 1;
    let c = &area.component;
    // The window spreads a bin either side of the band.
    let beyond =
        [c.bin0..c.bin1.min(band.start.saturating_sub(1)), c.bin0.max(band.end + 1)..c.bin1];
    let sum = |bins: Range<usize>| bins.map(|k| excess[k]).sum::<f64>();
    let body = (band.start, &excess[band.clone()]);
    let mirror = |bins: &Range<usize>| match bins.is_empty() {
        true => 0..0,
        false => mirrored(bins, body, level.n),
    };
    let there: f64 = beyond.iter().map(|b| sum(mirror(b))).sum();
    let here: f64 = beyond.into_iter().map(sum).sum();
    here > 0.0 && alike(there, here)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cells::Cells;
    use crate::components::Component;
    use crate::config::Level;
    use crate::marks::Thresholds;

    const LEVEL: Level = Level { n: 256, hop: 128, rate_hz: 256.0 };
    const ROWS: usize = 16;
    /// Bins of a lobe.
    const LOBE: usize = 10;

    /// Phase shift keying by unfiltered symbols about bin 128 has the spectrum sinc²(f·T) (closed
    /// form), here over a floor of 1e-6; with `both`, else only above its middle.
    fn cells(both: bool) -> Cells {
        let sinc = |x: f64| if x == 0.0 { 1.0 } else { x.sin() / x };
        let power = |k: usize| {
            let symbols = (k as f64 - 128.0) / LOBE as f64;
            let there = both || k + LOBE >= 128;
            1e-6 + if there { sinc(std::f64::consts::PI * symbols).powi(2) } else { 0.0 }
        };
        let row: Vec<f32> = (0..LEVEL.n).map(|k| power(k) as f32).collect();
        Cells { level: LEVEL, rows: ROWS, power: row.repeat(ROWS), gain: vec![1.0; ROWS] }
    }
    fn area(bin0: usize, bin1: usize) -> Area {
        let (core, walls) = ((bin0, bin1), (0, usize::MAX));
        let cells = ROWS * (bin1 - bin0);
        let component = Component { row0: 0, row1: ROWS, bin0, bin1, cells, core, walls };
        Area { level: 0, component }
    }
    /// What is on in some bins all the time.
    fn piece(bin0: usize, bin1: usize, power: f64) -> Piece {
        let (low_hz, high_hz) = (LEVEL.offset_hz(bin0 as f64), LEVEL.offset_hz(bin1 as f64));
        Piece {
            start: 0.0,
            stop: (ROWS * LEVEL.hop) as f64,
            u_time: 1.0,
            low_hz,
            high_hz,
            centre_hz: 0.5 * (low_hz + high_hz),
            u_centre_hz: 0.1,
            bandwidth_hz: high_hz - low_hz,
            u_bandwidth_hz: 0.1,
            bare: false,
            resolution_hz: 1.5,
            power,
            u_power: 0.1,
            noise: 1e-6,
        }
    }

    /// The lobe from 3 to 4 symbol rates holds 0.4 % of the power (∫sinc² from 3 to 4, closed form),
    /// that from 1 to 2 holds 2.4 %.
    #[test]
    fn the_third_lobe_is_a_lobe_unless_it_has_no_twin() {
        let (floor, thresholds) = (vec![1e-6f32; LEVEL.n], Thresholds::new(0.01, 1e6));
        let main = piece(128 - LOBE, 128 + LOBE, 1.0);
        let judged = |both: bool, lobe: usize, power: f64, main: Piece| {
            let cells = cells(both);
            let view = View { cells: &cells, floor: &floor, thresholds: &thresholds };
            let (low, high) = (128 + lobe * LOBE, 128 + (lobe + 1) * LOBE);
            let own = vec![piece(low, high, power)];
            let all = [vec![main], own.clone()];
            is_lobe(&area(low, high), &own, &all, &view)
        };
        assert!(judged(true, 3, 0.004, main), "as much on the other side");
        assert!(!judged(false, 3, 0.004, main), "nothing on the other side");
        assert!(!judged(true, 1, 0.024, main), "more than a per cent");
        assert!(!judged(true, 6, 0.001, main), "far beyond its band");
        let brief = Piece { stop: 0.5 * main.stop, ..main };
        assert!(!judged(true, 3, 0.004, brief), "there without it");
    }
}
