//! Whether an area shows without the keying of a much stronger emission.
//!
//! A keyed emission throws lines and humps far beside its band for as long as it keys, and a
//! receiver's gain moves with it. Beside one, an area must show in the rest of its time by itself:
//! with a threshold for that time alone, which is higher the less there is of it.

use crate::areas::{Area, View};
use crate::defects::{keyed, splatter_over};
use crate::measure::Piece;

/// Rows without keying from which an area is judged so: fewer tell nothing.
const ROWS: usize = 8;

/// Whether the area stands over the floor in the rows of its time in which no emission far stronger
/// than `power`, its own, is keyed. `pieces` are all of the block, which has `block` samples.
pub(crate) fn shows_alone(
    area: &Area,
    power: f64,
    pieces: &[Piece],
    view: &View<'_>,
    block: f64,
) -> bool {
    let (c, cells) = (&area.component, view.cells);
    if c.rows() < ROWS {
        return true;
    }
    let least = splatter_over(power);
    let loud: Vec<(f64, f64)> = pieces
        .iter()
        .filter(|s| s.power >= least && keyed(s, block))
        .map(|s| (s.start - 2.0 * s.u_time, s.stop + 2.0 * s.u_time))
        .collect();
    if loud.is_empty() {
        return true;
    }
    let (n, hop) = (cells.level.n, cells.level.hop);
    // The outer eighths of a Hann frame hold less than a thousandth of its energy.
    let free = |r: &usize| {
        let (a, z) = ((r * hop + n / 8) as f64, (r * hop + n - n / 8) as f64);
        loud.iter().all(|l| l.1 <= a || l.0 >= z)
    };
    let rows: Vec<usize> = (c.row0..c.row1).filter(free).collect();
    if rows.len() < ROWS {
        return true;
    }
    let mean = |k: usize| {
        let over = |r: &usize| f64::from(cells.row(*r)[k] / (view.floor[k] * cells.gain[*r]));
        rows.iter().map(over).sum::<f64>() / rows.len() as f64
    };
    let over = view.thresholds.over(rows.len());
    (c.bin0..c.bin1).any(|k| mean(k) > over)
}
