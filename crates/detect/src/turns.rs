//! Tones that take turns, as those of frequency shift keying do.

use crate::cells::Cells;
use crate::join::{Scene, bins_at, sum};
use std::ops::Range;

/// Correlation of the powers of two tones that take turns; of two emitters it is 0.
const TURNS: f64 = -0.25;
/// Times that the turn must go from one to the other: two emitters that key now and then are off
/// at each other's times by chance.
const TURN_COUNT: usize = 16;
/// Rows that a glance rests on at least, and [`GLANCE`] times as many are looked at at most.
const ROWS: usize = 256;

/// Whether two bands hold tones of which one is on when the other is off, as in frequency shift
/// keying: powers of like size that rise and fall against each other. Seen at the resolution that
/// is finest in time of those that tell the bands apart; over several symbols it shows as well, for
/// the two powers add up to one.
pub(crate) fn take_turns(
    (a, b): (Range<usize>, Range<usize>),
    rows: (usize, usize),
    scene: &Scene<'_>,
) -> bool {
    let own = scene.cells.level;
    for (cells, floor) in scene.finer.iter().rev() {
        let level = cells.level;
        let (a, b) = (bins_at(&a, own, level), bins_at(&b, own, level));
        let apart = a.start.max(b.start) as i64 - a.end.min(b.end) as i64;
        if apart < 2 && level != own {
            continue;
        }
        let start = rows.0 * own.hop / level.hop;
        let stop = ((rows.1 - 1) * own.hop + own.n) / level.hop;
        let rows = start..stop.min(cells.rows).min(start + GLANCE * ROWS);
        return rows.len() >= 64 && against((&a, &b), rows, cells, floor);
    }
    false
}

/// Rows of which one is looked at first, where there are many.
const GLANCE: usize = 16;

/// Whether the powers of two bands are alike and move against each other.
fn against(
    (a, b): (&Range<usize>, &Range<usize>),
    rows: Range<usize>,
    cells: &Cells,
    floor: &[f32],
) -> bool {
    let noise = |bins: &Range<usize>| sum(&floor[bins.clone()]);
    let noise = (noise(a), noise(b));
    let powers = |r: usize| {
        let (row, gain) = (cells.row(r), f64::from(cells.gain[r]));
        (sum(&row[a.clone()]) - noise.0 * gain, sum(&row[b.clone()]) - noise.1 * gain)
    };
    let glance = rows.len() / GLANCE;
    if glance >= ROWS {
        // Chance moves the correlation of n rows by 1/√n: three of those are allowed for.
        let some = Pair::of(rows.clone().step_by(GLANCE).map(powers));
        if some.correlation() > TURNS + 3.0 / (glance as f64).sqrt() {
            return false;
        }
    }
    let pair = Pair::of(rows.map(powers));
    pair.alike() && pair.correlation() < TURNS && pair.turns >= TURN_COUNT
}

/// Two powers over time.
#[derive(Default)]
struct Pair {
    n: f64,
    x: f64,
    y: f64,
    xx: f64,
    yy: f64,
    xy: f64,
    /// How often the turn goes from one to the other.
    turns: usize,
}

impl Pair {
    fn of(powers: impl Iterator<Item = (f64, f64)>) -> Pair {
        let (mut all, mut last) = (Pair::default(), 0.0f64);
        for (p, q) in powers {
            // Whose turn it is, once it is clear.
            let lead = p - q;
            if lead.abs() > 0.25 * (p + q).abs() {
                all.turns += usize::from(lead * last < 0.0);
                last = lead;
            }
            all.n += 1.0;
            all.x += p;
            all.y += q;
            all.xx += p * p;
            all.yy += q * q;
            all.xy += p * q;
        }
        all
    }
    fn alike(&self) -> bool {
        self.x > 0.0 && self.y > 0.0 && (self.x / self.y).ln().abs() < 1.4
    }
    fn correlation(&self) -> f64 {
        let Pair { n, x, y, xx, yy, xy, .. } = *self;
        (xy - x * y / n) / ((xx - x * x / n) * (yy - y * y / n)).sqrt()
    }
}
