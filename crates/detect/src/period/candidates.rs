//! Periods that times may have: from their intervals, and from folding (Rayleigh).

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
    let power: Vec<f64> = (0..count).map(|k| rayleigh(t, from + k as f64 * step)).collect();
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

/// |Σ exp(j2πft)|²/n.
fn rayleigh(t: &[f64], hz: f64) -> f64 {
    let (mut re, mut im) = (0.0, 0.0);
    for x in t {
        let (s, c) = (std::f64::consts::TAU * (hz * (x - t[0])).fract()).sin_cos();
        re += c;
        im += s;
    }
    (re * re + im * im) / t.len() as f64
}
