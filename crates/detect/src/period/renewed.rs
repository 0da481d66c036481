//! A timer that starts anew at each burst: judged interval by interval.

use super::folded::student_90;
use super::{Fit, LOOSEST};

/// A timer that starts anew at each burst: intervals near whole multiples of the period.
pub(super) fn renewed(t: &[f64], candidate: f64, step_s: f64) -> Option<Fit> {
    let gaps: Vec<f64> = t.windows(2).map(|w| w[1] - w[0]).collect();
    let clock_var = step_s * step_s / 6.0;
    let mut period = candidate;
    let (mut var, mut used) = (0.0, Vec::new());
    for _ in 0..6 {
        let own = LOOSEST * period;
        used = gaps
            .iter()
            .map(|g| ((g / period).round(), *g))
            .filter(|(k, g)| {
                let gate = 2.5 * (k * own * own + clock_var).sqrt();
                *k >= 1.0 && *k <= 4.0 && (g - k * period).abs() <= gate.min(0.45 * period)
            })
            .collect();
        if used.len() < 3 {
            return None;
        }
        // Each interval of k periods scatters by √k.
        let (k, sum) = used.iter().fold((0.0, 0.0), |s, u| (s.0 + u.0, s.1 + u.1));
        let next = sum / k;
        var = used.iter().map(|u| (u.1 - u.0 * next).powi(2) / u.0).sum::<f64>()
            / (used.len() as f64 - 1.0);
        let settled = (next - period).abs() < 1e-9 * period;
        period = next;
        if settled {
            break;
        }
    }
    let n = gaps.len() as f64;
    let m = used.len() as f64;
    let own_var = (var - clock_var).max(0.0);
    if own_var.sqrt() > LOOSEST * period || m < 0.7 * n {
        return None;
    }
    let mean = gaps.iter().sum::<f64>() / n;
    let sd = var.max(clock_var).sqrt().max(1e-3 * period);
    // Each interval: normal about its multiple, times how often that multiple comes, against
    // exponential; less the choice of period and scatter, and of which intervals count.
    let singles = used.iter().filter(|u| u.0 == 1.0).count() as f64;
    let q = ((singles + 0.5) / (m + 1.0)).min(0.98);
    let gain: f64 = used
        .iter()
        .map(|(k, g)| {
            let s = sd * k.sqrt();
            let near = (g - k * period) / s;
            let often = q.ln() + (k - 1.0) * (1.0 - q).ln();
            let periodic = often - 0.5 * near * near - (s * std::f64::consts::TAU.sqrt()).ln();
            periodic - (-(g / mean) - mean.ln())
        })
        .sum();
    let gain = gain - 2.5 * (n - m) - (period / sd).ln() - 3.0;
    let steps: f64 = used.iter().map(|u| u.0).sum();
    // Clock errors of neighbouring intervals cancel, so only the two ends of each run count.
    let u = student_90(m - 1.0) / 1.645
        * ((own_var * steps).sqrt().hypot(step_s / 6f64.sqrt()) / steps);
    Some(Fit { period_s: period, phase_s: None, u_s: u, scatter_s: sd, gain, stamped: Vec::new() })
}
