//! Whether a component is made of bursts far shorter than a frame of its resolution: the next finer
//! one in time shows them apart, and what else is on between them.

use crate::areas::View;
use crate::components::Component;

/// A component is fleeting where the finer resolution sees it on for less than this part of the
/// time that its own sees it: three rows of a frame for a burst of a sixth of one.
const SHORT: f64 = 0.2;
/// Part of its energy that the finer resolution must show in single cells, to be trusted with it.
const SHOWN: f64 = 0.7;
/// Cells read at most.
const CELLS: usize = 1 << 18;

/// Whether `finer` should look at a component of `view` instead.
pub(crate) fn fleeting(c: &Component, view: &View<'_>, finer: &View<'_>) -> bool {
    let (own, level) = (view.cells.level, finer.cells.level);
    let bin = |k: usize| level.bin_at(own.offset_hz(k as f64)).round().max(0.0) as usize;
    let low = bin(c.bin0).min(level.n - 1);
    let high = (bin(c.bin1 - 1) + 1).clamp(low + 1, level.n);
    let first = c.row0 * own.hop / level.hop;
    let last = (((c.row1 - 1) * own.hop + own.n) / level.hop).min(finer.cells.rows);
    if last <= first {
        return false;
    }
    let own_view = Stretch::of(view, (c.row0, c.row1), (c.bin0, c.bin1));
    let finer_view = Stretch::of(finer, (first, last), (low, high));
    finer_view.shown > SHOWN && finer_view.on_s < SHORT * own_view.on_s
}

/// What single cells of a stretch of time and frequency show.
struct Stretch {
    /// Part of the excess over the floor that cells over the threshold hold.
    shown: f64,
    /// Seconds that a bin is over the threshold, on average.
    on_s: f64,
}

impl Stretch {
    fn of(view: &View<'_>, rows: (usize, usize), bins: (usize, usize)) -> Stretch {
        let step = ((rows.1 - rows.0) * (bins.1 - bins.0)).div_ceil(CELLS).max(1);
        let one = view.thresholds.one() as f32;
        let (mut shown, mut all, mut cells) = (0.0, 0.0, 0usize);
        for r in (rows.0..rows.1).step_by(step) {
            let gain = view.cells.gain[r];
            let row = &view.cells.row(r)[bins.0..bins.1];
            for (p, f) in row.iter().zip(&view.floor[bins.0..bins.1]) {
                let excess = f64::from(*p - *f * gain);
                all += excess;
                if *p > one * *f * gain {
                    shown += excess;
                    cells += 1;
                }
            }
        }
        let level = view.cells.level;
        let samples = (cells * step * level.hop) as f64 / (bins.1 - bins.0) as f64;
        Stretch { shown: shown / all.max(f64::MIN_POSITIVE), on_s: samples / level.rate_hz }
    }
}
