//! What was listened to, and down to which level.

use crate::Listened;
use crate::marks::Thresholds;
use dsp::detection_probability;
use units::{Db, Dbfs, Dbm};

/// One centre that was listened to, over all its segments.
#[derive(Debug, Clone)]
pub(crate) struct Stretch {
    pub low_hz: f64,
    pub high_hz: f64,
    pub looked_s: f64,
    /// Σ seconds × limit power, for the mean limit.
    pub limit: f64,
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

/// Adds a block's look.
pub(crate) fn add(all: &mut Vec<Stretch>, low_hz: f64, high_hz: f64, seconds: f64, limit: f64) {
    let same = |s: &&mut Stretch| {
        (s.low_hz - low_hz).abs() < 0.02 * (high_hz - low_hz)
            && (s.high_hz - high_hz).abs() < 0.02 * (high_hz - low_hz)
    };
    match all.iter_mut().find(same) {
        Some(s) => {
            s.looked_s += seconds;
            s.limit += seconds * limit;
        }
        None => all.push(Stretch { low_hz, high_hz, looked_s: seconds, limit: seconds * limit }),
    }
}

/// The account, by rising frequency.
pub(crate) fn finish(all: Vec<Stretch>, full_scale: Option<Dbm>) -> Vec<Listened> {
    let mut out: Vec<Listened> = all
        .iter()
        .map(|s| {
            let power = s.limit / s.looked_s.max(f64::MIN_POSITIVE);
            let limit = (power > 0.0).then(|| Dbfs::from_power(power));
            Listened {
                low_hz: s.low_hz,
                high_hz: s.high_hz,
                looked_s: s.looked_s,
                limit_dbfs: limit,
                limit_dbm: limit.zip(full_scale).map(|(l, f)| Dbm(f.0 + l.0)),
            }
        })
        .collect();
    out.sort_by(|a, b| a.low_hz.total_cmp(&b.low_hz));
    out
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
}
