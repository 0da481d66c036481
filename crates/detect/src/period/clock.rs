//! The period from stamps of a coarse clock: each is an interval, not a moment.
//!
//! Posterior over period, phase and jitter under flat priors: a stamp m says that the report came
//! in m..m + step. Where the period is a whole number of steps the stamps all err alike, and only
//! the range of periods that fit is known; the posterior's width says so.

use dsp::normal_sf;

/// Points over the period and over the phase.
const GRID: usize = 41;
/// Jitter, as fractions of the clock's step.
const JITTERS: [f64; 4] = [0.02, 0.1, 0.3, 0.7];

/// Period and its standard uncertainty from `used` (index, stamp at the start of its step) about
/// a first guess.
pub(super) fn interval_fit(
    used: &[(f64, f64)],
    period: f64,
    phase: f64,
    step_s: f64,
) -> (f64, f64) {
    let first = used.first().map_or(0.0, |u| u.0);
    let last = used.last().map_or(1.0, |u| u.0);
    let middle = 0.5 * (first + last);
    let half = (0.5 * (last - first)).max(1.0);
    // The guess was fitted to the stamps: reports lie half a step later.
    let centre = phase + period * middle + 0.5 * step_s;
    let (reach_p, reach_t) = (1.5 * step_s / half, 1.5 * step_s);
    let at = |k: usize, reach: f64| reach * (2.0 * k as f64 / (GRID - 1) as f64 - 1.0);
    let mut weights = Vec::with_capacity(GRID);
    let mut logs = Vec::with_capacity(GRID * GRID * JITTERS.len());
    for p in 0..GRID {
        let dp = at(p, reach_p);
        for f in 0..GRID {
            let df = at(f, reach_t);
            for jitter in JITTERS {
                logs.push(likelihood(used, period + dp, centre + df, middle, step_s, jitter));
            }
        }
    }
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    for chunk in logs.chunks(GRID * JITTERS.len()) {
        weights.push(chunk.iter().map(|l| (l - top).exp()).sum::<f64>());
    }
    let total: f64 = weights.iter().sum();
    let mean = weights.iter().enumerate().map(|(p, w)| w * at(p, reach_p)).sum::<f64>() / total;
    let var = weights.iter().enumerate().map(|(p, w)| w * (at(p, reach_p) - mean).powi(2));
    let u_s = (var.sum::<f64>() / total).sqrt().max(reach_p / GRID as f64);
    (period + mean, u_s)
}

/// Log of the chance of the stamps: reports at `centre + (k − middle) × period`, smeared by a
/// normal jitter, each inside its stamp's step.
fn likelihood(
    used: &[(f64, f64)],
    period: f64,
    centre: f64,
    middle: f64,
    step_s: f64,
    jitter: f64,
) -> f64 {
    let sd = jitter * step_s;
    used.iter()
        .map(|(k, stamp)| {
            let at = centre + (k - middle) * period;
            let inside = normal_sf((stamp - at) / sd) - normal_sf((stamp + step_s - at) / sd);
            inside.max(1e-6).ln()
        })
        .sum()
}
