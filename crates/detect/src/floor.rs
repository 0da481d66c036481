//! The noise floor of one block: one power density over frequency.
//!
//! Within each of up to 128 stretches of frequency the lowest cells are fitted with the truncated
//! exponential law (so that bursts and narrow emissions do not lift it); across frequency a
//! grey opening takes out what is wide and never stops, and leaves the slopes of the receiver's
//! filter.

use crate::cells::Cells;
use dsp::truncated_mean;
use rayon::prelude::*;

/// Noise power per bin of the finest resolution, and how sure it is.
#[derive(Debug, Clone)]
pub(crate) struct Floor {
    /// Noise density at the middle of each stretch, full scale squared per hertz.
    pub density: Vec<f64>,
    /// Standard uncertainty, dB.
    pub u_db: f64,
    /// Fraction of the band where the stretches lie over 3 dB above the floor taken.
    pub lifted: f64,
}

/// Widest emission that never stops and is still told from the floor, as a fraction of the band.
const WIDEST: f64 = 0.65;
/// Cells kept are below this many times the mean.
const KEEP: f64 = 2.0;
/// Cells sampled in one stretch; more do not make the floor better than its model.
const MOST: usize = 40_000;

impl Floor {
    /// The floor of a block from its cells.
    pub fn of(cells: &Cells) -> Floor {
        let n = cells.level.n;
        let stretches = (n / 8).clamp(4, 128);
        let silent: Vec<bool> = (0..cells.rows).map(|r| cells.row(r).iter().all(|p| *p == 0.0)).collect();
        let measured: Vec<f64> =
            (0..stretches).into_par_iter().map(|j| stretch(cells, &silent, j, stretches)).collect();
        let width = ((WIDEST * stretches as f64) as usize).max(2);
        let opened = opening(&measured, width);
        let lifted = measured.iter().zip(&opened).filter(|(m, o)| **m > 2.0 * **o).count() as f64
            / stretches as f64;
        let seen = (cells.rows * n / stretches).min(MOST) as f64;
        // Half of the cells are kept and half-overlapped frames are worth 0.95 of their number.
        let u_db = 4.34 / (0.5 * seen).sqrt().max(1.0);
        let bin = cells.level.bin_hz();
        Floor { density: opened.iter().map(|p| p / bin).collect(), u_db, lifted }
    }

    /// Noise power in each of `n` bins across `rate_hz`.
    pub fn per_bin(&self, n: usize, rate_hz: f64) -> Vec<f32> {
        let m = self.density.len();
        let bin_hz = rate_hz / n as f64;
        let at = |k: usize| {
            let x = ((k as f64 + 0.5) * m as f64 / n as f64 - 0.5).clamp(0.0, (m - 1) as f64);
            let i = (x as usize).min(m.saturating_sub(2));
            let (a, b) = (self.density[i], self.density[(i + 1).min(m - 1)]);
            let t = x - i as f64;
            // Straight in dB.
            (a.max(1e-30).powf(1.0 - t) * b.max(1e-30).powf(t) * bin_hz) as f32
        };
        (0..n).map(at).collect()
    }
}

/// Mean noise power of the cells in one stretch of frequency: forward consecutive mean excision
/// from the lowest decile, with the truncated exponential law's own bias taken out each round.
fn stretch(cells: &Cells, silent: &[bool], j: usize, of: usize) -> f64 {
    let n = cells.level.n;
    let (k0, k1) = (j * n / of, (j + 1) * n / of);
    let rows = silent.iter().filter(|s| !**s).count();
    let step = ((k1 - k0) * rows / MOST).max(1);
    let mut values: Vec<f32> = Vec::with_capacity((k1 - k0) * rows / step + 1);
    let mut i = 0;
    for r in (0..cells.rows).filter(|r| !silent[*r]) {
        for p in &cells.row(r)[k0..k1] {
            if i % step == 0 {
                values.push(*p);
            }
            i += 1;
        }
    }
    if values.is_empty() {
        return 0.0;
    }
    values.sort_unstable_by(f32::total_cmp);
    let decile = values[values.len() / 10];
    let mut mean = f64::from(decile) / -(0.9f64.ln());
    let correction = truncated_mean(1.0, KEEP);
    for _ in 0..20 {
        let kept = values.partition_point(|p| f64::from(*p) < KEEP * mean);
        let sum: f64 = values[..kept].iter().map(|p| f64::from(*p)).sum();
        let next = sum / kept.max(1) as f64 / correction;
        let done = (next / mean - 1.0).abs() < 1e-4;
        mean = next;
        if done || !(mean > 0.0) {
            break;
        }
    }
    mean.max(0.0)
}

/// Grey opening that forgives single dips: each window of `width` gives its second lowest value,
/// each point takes the highest of the windows that hold it.
fn opening(x: &[f64], width: usize) -> Vec<f64> {
    let n = x.len();
    let width = width.min(n);
    let rank = (width / 20).min(width - 1);
    let low: Vec<f64> = (0..=n - width)
        .map(|i| {
            let mut w = x[i..i + width].to_vec();
            w.sort_unstable_by(f64::total_cmp);
            w[rank]
        })
        .collect();
    (0..n)
        .map(|j| {
            let windows = &low[(j + 1).saturating_sub(width)..=j.min(n - width)];
            windows.iter().copied().fold(0.0, f64::max)
        })
        // Never above what was measured there by more than its own scatter.
        .collect::<Vec<f64>>()
        .iter()
        .zip(x)
        .map(|(o, x)| o.min(*x * 1.05))
        .collect()
}
