//! Times folded onto a clock: some missed, some not its own.

use super::{Fit, LOOSEST};

/// How far from a clock its own times may lie, seconds.
pub(super) fn reach(scatter: f64, period: f64) -> f64 {
    (3.5 * scatter).clamp(0.03 * period, 0.3 * period)
}

/// A line through (k, t) by least squares: period, phase, scatter, and Σ (k − mean)².
fn line(points: &[(f64, f64)]) -> (f64, f64, f64, f64) {
    let n = points.len() as f64;
    let (mk, mt) = points.iter().fold((0.0, 0.0), |s, p| (s.0 + p.0 / n, s.1 + p.1 / n));
    let kk: f64 = points.iter().map(|p| (p.0 - mk).powi(2)).sum();
    let kt: f64 = points.iter().map(|p| (p.0 - mk) * (p.1 - mt)).sum();
    let period = if kk > 0.0 { kt / kk } else { 0.0 };
    let phase = mt - period * mk;
    let ss: f64 = points.iter().map(|p| (p.1 - phase - period * p.0).powi(2)).sum();
    (period, phase, (ss / (n - 2.0).max(1.0)).sqrt(), kk)
}

/// Times on a clock of about that period: some missed, some not its own.
pub(super) fn folded(t: &[f64], candidate: f64, span: f64, step_s: f64) -> Option<Fit> {
    let n = t.len() as f64;
    let (mut period, mut phase) = (candidate, circular_phase(t, candidate));
    let mut used: Vec<(f64, f64)> = Vec::new();
    let mut scatter = 0.25 * period;
    for _ in 0..8 {
        let gate = reach(scatter, period);
        used.clear();
        for x in t {
            let k = ((x - phase) / period).round();
            let off = (x - phase - k * period).abs();
            if off > gate {
                continue;
            }
            match used.last_mut() {
                // One a slot: the nearer one.
                Some(last) if last.0 == k => {
                    let before = (last.1 - phase - k * period).abs();
                    last.1 = if off < before { *x } else { last.1 };
                }
                _ => used.push((k, *x)),
            }
        }
        if used.len() < 4 {
            return None;
        }
        let (p, f, s, _) = line(&used);
        if !(p > 0.5 * candidate && p < 2.0 * candidate) {
            return None;
        }
        let settled = (p - period).abs() < 1e-9 * period;
        (period, phase, scatter) = (p, f, s);
        if settled {
            break;
        }
    }
    let m = used.len() as f64;
    let own = (scatter * scatter - step_s * step_s / 12.0).max(0.0).sqrt();
    let (_, _, _, kk) = line(&used);
    let floor = scatter.max(1e-3 * period).max(step_s / 12f64.sqrt());
    if own > LOOSEST * period || m < 0.6 * n {
        return None;
    }
    // Normal about the clock against uniform over the period, less what was free to choose:
    // the (period, phase) pairs that differ, the scatter, which ones are its own.
    let per_time = (period / (floor * (std::f64::consts::TAU * std::f64::consts::E).sqrt())).ln();
    let trials = (span / period).max(1.0) * (period / floor).powi(2);
    let gain = m * per_time - 2.5 * (n - m) - trials.ln() - 1.0;
    let u_s = regression_u(&used, scatter, kk).max(walk_u(&used, period, step_s).unwrap_or(0.0));
    // Jitter well under the clock's step: stamps are intervals, to be read once this is chosen.
    let stamped = if step_s > own { used } else { Vec::new() };
    Some(Fit { period_s: period, phase_s: Some(phase), u_s, scatter_s: scatter, gain, stamped })
}

/// Standard uncertainty of the slope of times about a clock, widened so that ±1.645 u holds 90 %
/// for few points (Student).
fn regression_u(used: &[(f64, f64)], scatter: f64, kk: f64) -> f64 {
    student_90(used.len() as f64 - 2.0) / 1.645 * scatter / kk.sqrt()
}

/// The same for a timer that starts anew at each burst, if the times look like one's: the
/// scatter of k-step differences then grows with k, and is constant under a clock.
pub(super) fn walk_u(used: &[(f64, f64)], period: f64, step_s: f64) -> Option<f64> {
    const LAG: usize = 4;
    if used.len() < 8 {
        return None;
    }
    let var = |lag: usize| {
        let pairs = used.windows(lag + 1);
        let n = pairs.len() as f64;
        pairs.map(|w| (w[lag].1 - w[0].1 - period * (w[lag].0 - w[0].0)).powi(2)).sum::<f64>() / n
    };
    let (one, four) = (var(1), var(LAG));
    // Under a clock the ratio is 1, under a timer 4; few points scatter, so lean to the timer,
    // whose uncertainty is the larger.
    let steps = used[used.len() - 1].0 - used[0].0;
    // What the clock's step adds to an interval is taken off. 1.2: variance of the regression
    // over that of the mean interval, for a random walk.
    let per_burst = 1.2 * (one - step_s * step_s / 6.0).max((four - one) / (LAG - 1) as f64);
    let student = student_90(used.len() as f64 - 2.0) / 1.645;
    (four > 1.6 * one).then(|| student * (per_burst * (used.len() - 1) as f64).sqrt() / steps)
}

/// Two-sided 90 % point of Student's t, `free` ≥ 1 degrees (Cornish–Fisher about the normal
/// point; within 1 % from 3 on, Abramowitz and Stegun 26.7.5).
pub(super) fn student_90(free: f64) -> f64 {
    let (z, v) = (1.644_853_6_f64, free.max(1.0));
    let g1 = (z.powi(3) + z) / 4.0;
    let g2 = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
    let g3 = (3.0 * z.powi(7) + 19.0 * z.powi(5) + 17.0 * z.powi(3) - 15.0 * z) / 384.0;
    z + g1 / v + g2 / (v * v) + g3 / v.powi(3)
}

/// Phase of the mean direction of times folded at a period, seconds from 0.
pub(super) fn circular_phase(t: &[f64], period: f64) -> f64 {
    let (mut re, mut im) = (0.0, 0.0);
    for x in t {
        let (s, c) = (std::f64::consts::TAU * ((x - t[0]) / period).fract()).sin_cos();
        re += c;
        im += s;
    }
    t[0] + im.atan2(re) / std::f64::consts::TAU * period
}
