//! Periods that times may have: from their intervals, and from folding (Rayleigh).

use num_complex::Complex64;
use rayon::prelude::*;

/// Periods worth a look, longest first.
pub(super) fn candidates(t: &[f64], span: f64, step_s: f64) -> Vec<f64> {
    let mut gaps: Vec<f64> = t.windows(2).map(|w| w[1] - w[0]).filter(|g| *g > 0.0).collect();
    gaps.sort_by(f64::total_cmp);
    let Some(median) = gaps.get(gaps.len() / 2).copied() else { return Vec::new() };
    let shortest = (0.45 * median).max(1.5 * step_s).max(1e-9 * span);
    let mut out: Vec<f64> =
        [0.25, 0.5, 0.75].iter().map(|q| gaps[(q * (gaps.len() - 1) as f64) as usize]).collect();
    // Folded: |Σ exp(j2πft)|² over frequency, a tenth of a turn over the span a step
    // (checks PER-009).
    let step = 0.1 / span;
    let (from, to) = (2.0 / span, 1.0 / shortest);
    let count = (((to - from) / step).ceil().max(0.0) as usize).min(40_000);
    let power: Vec<f64> = (0..count.div_ceil(STEPS))
        .into_par_iter()
        .flat_map_iter(|part| {
            let first = part * STEPS;
            rayleigh(t, from + first as f64 * step, step, STEPS.min(count - first))
        })
        .collect();
    let mut peaks: Vec<(f64, usize)> = (0..count)
        .filter(|k| {
            let left = k.checked_sub(1).map_or(0.0, |j| power[j]);
            power[*k] >= left && power[*k] > power.get(k + 1).copied().unwrap_or(0.0)
        })
        .map(|k| (power[k], k))
        .collect();
    peaks.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    out.extend(peaks.iter().take(12).map(|(_, k)| 1.0 / (from + *k as f64 * step)));
    out.retain(|p| *p >= shortest && *p <= 0.5 * span);
    out.sort_by(|a, b| b.total_cmp(a));
    out
}

/// Frequencies in a row that are reached by turning on from the first.
const STEPS: usize = 512;

/// |Σ exp(j2πft)|²/n at `count` frequencies from `hz` on, `step_hz` apart.
fn rayleigh(t: &[f64], hz: f64, step_hz: f64, count: usize) -> Vec<f64> {
    let at = |hz: f64, x: f64| {
        let (s, c) = (std::f64::consts::TAU * (hz * (x - t[0])).fract()).sin_cos();
        Complex64::new(c, s)
    };
    let mut now: Vec<Complex64> = t.iter().map(|x| at(hz, *x)).collect();
    let turn: Vec<Complex64> = t.iter().map(|x| at(step_hz, *x)).collect();
    (0..count)
        .map(|_| {
            let sum: Complex64 = now.iter().sum();
            now.iter_mut().zip(&turn).for_each(|(z, w)| *z *= w);
            sum.norm_sqr() / t.len() as f64
        })
        .collect()
}
