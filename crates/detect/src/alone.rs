//! Whether an area shows without the keying of a much stronger emission.
//!
//! A keyed emission throws lines and humps far beside its band for as long as it keys, and a
//! receiver's gain moves with it. Beside one, an area must show in the rest of its time by itself:
//! with a threshold for that time alone, which is higher the less there is of it.

use crate::areas::{Area, View};
use crate::defects::{keyed, splatter_over};
use crate::measure::Piece;

/// Rows without keying from which an area is judged so: fewer tell nothing.
pub(crate) const ROWS: usize = 8;

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
    let (n, hop) = (cells.level.n, cells.level.hop);
    let least = splatter_over(power);
    let mut loud: Vec<(f64, f64)> = pieces
        .iter()
        .filter(|s| s.power >= least && keyed(s, block))
        .map(|s| (s.start - 2.0 * s.u_time, s.stop + 2.0 * s.u_time))
        .collect();
    if loud.is_empty() {
        return true;
    }
    let (start, stop) = ((c.row0 * hop) as f64, ((c.row1 - 1) * hop + n) as f64);
    loud.retain(|l| l.1 > start && l.0 < stop);
    let free = |r: &usize| {
        let (a, z) = middle_of_row(r * hop, n);
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

/// First and one past the last sample of the middle of a row of `n` samples from `first` on: the
/// outer eighths of a Hann frame hold 0.3 % of its energy (closed form).
pub(crate) fn middle_of_row(first: usize, n: usize) -> (f64, f64) {
    ((first + n / 8) as f64, (first + n - n / 8) as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cells::Cells;
    use crate::components::Component;
    use crate::config::Level;
    use crate::marks::Thresholds;

    const ROWS_ALL: usize = 200;

    fn piece(start: usize, stop: usize, power: f64) -> Piece {
        Piece {
            start: start as f64,
            stop: stop as f64,
            u_time: 1.0,
            low_hz: -4.0,
            high_hz: -2.0,
            centre_hz: -3.0,
            u_centre_hz: 0.1,
            bandwidth_hz: 2.0,
            u_bandwidth_hz: 0.1,
            bare: false,
            resolution_hz: 1.5,
            power,
            u_power: 0.1,
            noise: 1.0,
        }
    }

    /// A line of three times the floor, there in all rows or only while another is keyed in the
    /// first half; the answers follow from the rule (thresholds of 100 rows lie under 2).
    #[test]
    fn what_only_keying_shows_is_not_alone() {
        let level = Level { n: 16, hop: 8, rate_hz: 16.0 };
        let block = (ROWS_ALL + 1) * level.hop;
        let half = block / 2;
        let made = |always: bool| {
            let on = |r: usize, k: usize| k == 12 && (always || r * level.hop < half);
            let power = (0..ROWS_ALL)
                .flat_map(|r| (0..level.n).map(move |k| (r, k)))
                .map(|(r, k)| if on(r, k) { 3.0 } else { 1.0 })
                .collect();
            Cells { level, rows: ROWS_ALL, power, gain: vec![1.0; ROWS_ALL] }
        };
        let (floor, thresholds) = (vec![1.0f32; 16], Thresholds::new(0.01, 1e6));
        let component = Component {
            row0: 0,
            row1: ROWS_ALL,
            bin0: 12,
            bin1: 13,
            cells: ROWS_ALL,
            core: (12, 13),
            walls: (0, 16),
        };
        let area = Area { level: 0, component };
        let shows = |always: bool, stop: usize, power: f64| {
            let cells = made(always);
            let view = View { cells: &cells, floor: &floor, thresholds: &thresholds };
            shows_alone(&area, 2.0, &[piece(0, stop, power)], &view, block as f64)
        };
        let far = splatter_over(2.0) * 1.01;
        assert!(!shows(false, half, far), "there only while keyed");
        assert!(shows(true, half, far), "there without too");
        assert!(shows(false, half, 0.5 * far), "not far stronger");
        assert!(shows(false, block, far), "steady, not keyed");
    }
}
