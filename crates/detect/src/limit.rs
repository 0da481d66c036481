//! How weak a steady emission one block still finds.
//!
//! Three things raise it over what the noise and the time alone allow: emissions keyed far above it,
//! beside which it must show in the rest of the time; a block that they fill, in which it passes for
//! their splatter; and a receiver that turns its gain up, under whose noise it counts for less.

use crate::alone::{ROWS as ALONE_ROWS, middle_of_row};
use crate::config::Level;
use crate::defects::{COVERED, keyed, splatter_over};
use crate::marks::Thresholds;
use crate::measure::Piece;
use dsp::detection_probability;
use units::Db;

/// One block, as far as the limit depends on it.
pub(crate) struct Look<'a> {
    /// The finest resolution and its rows.
    pub level: Level,
    pub rows: usize,
    /// Samples of the block.
    pub samples: f64,
    /// Noise in one bin.
    pub noise: f64,
    /// All that was seen, whatever it was.
    pub pieces: &'a [Piece],
}

/// Power of a steady line, in one bin of the finest resolution, from which on the block shows it
/// with probability 0.9. `over(rows)` is [`limit_over`].
pub(crate) fn of_block(look: &Look<'_>, over: &mut dyn FnMut(usize) -> f64) -> f64 {
    let by_noise = look.noise * over(look.rows);
    let limit = by_noise.max(covered_under(look));
    let free = free_rows(look, &loud(look, splatter_over(limit)));
    if (ALONE_ROWS..look.rows).contains(&free) { limit.max(look.noise * over(free)) } else { limit }
}

/// Times of what is keyed with `least` power or more, apart and in order.
fn loud(look: &Look<'_>, least: f64) -> Vec<(f64, f64)> {
    let is_loud = |s: &&Piece| s.power >= least && keyed(s, look.samples);
    let mut spans: Vec<(f64, f64)> = look
        .pieces
        .iter()
        .filter(is_loud)
        .map(|s| (s.start - 2.0 * s.u_time, s.stop + 2.0 * s.u_time))
        .collect();
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut apart: Vec<(f64, f64)> = Vec::new();
    for s in spans {
        match apart.last_mut() {
            Some(last) if s.0 <= last.1 => last.1 = last.1.max(s.1),
            _ => apart.push(s),
        }
    }
    apart
}

/// Power under which a steady line passes for splatter, as what is keyed far above it leaves it
/// next to no time of its own; 0 where none does.
fn covered_under(look: &Look<'_>) -> f64 {
    let mut powers: Vec<f64> =
        look.pieces.iter().filter(|s| keyed(s, look.samples)).map(|s| s.power).collect();
    powers.sort_by(|a, b| b.total_cmp(a));
    let covers = |least: f64| {
        let time: f64 = loud(look, least).iter().map(|s| s.1 - s.0).sum();
        time >= COVERED * look.samples
    };
    let first = powers.partition_point(|p| !covers(*p));
    powers.get(first).map_or(0.0, |p| p / splatter_over(1.0))
}

/// Rows whose middle no span touches.
fn free_rows(look: &Look<'_>, spans: &[(f64, f64)]) -> usize {
    let free = |r: &usize| {
        let (a, z) = middle_of_row(r * look.level.hop, look.level.n);
        let next = spans.partition_point(|s| s.1 <= a);
        spans.get(next).is_none_or(|s| s.0 >= z)
    };
    (0..look.rows).filter(free).count()
}

/// How much higher noise that stands at `gain` from row to row leaves the limit: a row brought to
/// its floor shows a line the less, the more it is turned down.
pub(crate) fn raised(gain: &[f32]) -> f64 {
    let kept: f64 = gain.iter().map(|g| 1.0 / f64::from(*g)).sum();
    if kept > 0.0 { gain.len() as f64 / kept } else { 1.0 }
}

/// Mean loss of a line that lies anywhere between two bins, dB: the mean over d = 0 to ½ of the
/// Hann window's transform squared, (sin πd / πd / (1 − d²))² (closed form; 1.42 dB at the worst).
const SCALLOPING_DB: f64 = 0.451;

/// Power of a steady line that one block of `rows` rows finds with probability 0.9, over the floor
/// of one bin.
pub(crate) fn limit_over(thresholds: &Thresholds, rows: usize) -> f64 {
    let rows = rows.max(1);
    let over = thresholds.over(rows);
    let independent = (rows as f64 * 18.0 / 19.0).max(1.0);
    let (mut low, mut high) = (1e-4f64, 1e4f64);
    for _ in 0..60 {
        let middle = (low * high).sqrt();
        let found = detection_probability(independent, middle, over * independent);
        if found < 0.9 { low = middle } else { high = middle }
    }
    (low * high).sqrt() * Db(SCALLOPING_DB).ratio()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    /// Against the window's own sum over its samples, which knows nothing of the closed form.
    #[test]
    fn scalloping_is_that_of_the_window() {
        let n = 256;
        let window: Vec<f64> =
            (0..n).map(|i| 0.5 - 0.5 * (2.0 * PI * f64::from(i) / f64::from(n)).cos()).collect();
        let power = |d: f64| {
            let turn = |i: usize| 2.0 * PI * d * i as f64 / f64::from(n);
            let re: f64 = window.iter().enumerate().map(|(i, w)| w * turn(i).cos()).sum();
            let im: f64 = window.iter().enumerate().map(|(i, w)| w * turn(i).sin()).sum();
            re * re + im * im
        };
        let steps = 200;
        let mean =
            (0..steps).map(|k| power((f64::from(k) + 0.5) / f64::from(2 * steps))).sum::<f64>()
                / f64::from(steps);
        let loss_db = -units::db_from_ratio(mean / power(0.0));
        assert!((loss_db - SCALLOPING_DB).abs() < 1e-3, "{loss_db}");
    }

    const LEVEL: Level = Level { n: 1024, hop: 512, rate_hz: 250e3 };
    const ROWS: usize = 400;
    const LENGTH: f64 = 512.0 * 401.0;

    /// Emissions of power 1 on for `on` samples out of every `period`, half of them at 0.1.
    fn keying(on: f64, period: f64) -> Vec<Piece> {
        let count = (LENGTH / period) as usize;
        let start = |k: usize| (k as f64 * period).max(10.0);
        let power = |k: usize| if k.is_multiple_of(2) { 1.0 } else { 0.1 };
        (0..count).map(|k| piece(start(k), start(k) + on, power(k))).collect()
    }

    fn piece(start: f64, stop: f64, power: f64) -> Piece {
        Piece {
            start,
            stop,
            u_time: 1.0,
            low_hz: 0.0,
            high_hz: 1e3,
            centre_hz: 500.0,
            u_centre_hz: 1.0,
            bandwidth_hz: 1e3,
            u_bandwidth_hz: 1.0,
            bare: false,
            resolution_hz: 366.0,
            power,
            u_power: 0.1,
            noise: 1e-9,
        }
    }

    #[test]
    fn keying_leaves_less_time_and_raises_the_limit() {
        let thresholds = Thresholds::new(0.01, 1e6);
        let at = |pieces: &[Piece]| {
            let look = Look { level: LEVEL, rows: ROWS, samples: LENGTH, noise: 1e-9, pieces };
            of_block(&look, &mut |rows| limit_over(&thresholds, rows))
        };
        let quiet = at(&[]);
        assert_eq!(quiet, 1e-9 * limit_over(&thresholds, ROWS));
        // What lasts the whole block is not keyed, what is hardly stronger throws nothing.
        assert_eq!(at(&[piece(0.0, LENGTH, 1.0)]), quiet);
        assert_eq!(at(&[piece(10.0, 0.5 * LENGTH, 100.0 * quiet)]), quiet);
        // One half of the time keyed: as if only the other half had been looked at.
        let half = at(&[piece(10.0, 0.5 * LENGTH, 1.0)]);
        let want = 1e-9 * limit_over(&thresholds, ROWS / 2);
        assert!((half / want - 1.0).abs() < 0.02 && half > 1.2 * quiet, "{half} {want} {quiet}");
        // Keyed 95 % of the time by 1 and 0.1 in turn: what lies 25 dB under the weaker goes with
        // it, for the stronger alone leave it half of the time.
        let all = at(&keying(4864.0, 5120.0));
        assert!((all / (0.1 * 10f64.powf(-2.5)) - 1.0).abs() < 1e-9, "{all}");
    }

    #[test]
    fn raised_noise_raises_the_limit() {
        // A quarter of the time at four times the noise: a line counts ¾ + ¼·¼ of what it would.
        let gain: Vec<f32> = (0..400).map(|r| if r % 4 == 0 { 4.0 } else { 1.0 }).collect();
        assert!((raised(&gain) - 1.0 / (0.75 + 0.0625)).abs() < 1e-6);
        assert_eq!(raised(&[1.0; 7]), 1.0);
        assert_eq!(raised(&[]), 1.0);
    }
}
