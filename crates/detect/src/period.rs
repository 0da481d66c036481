//! The period of starts that come late, are missed, or are stamped by a coarse clock.
//!
//! Candidates come from folding (Rayleigh) and from the intervals. Each is judged by how much
//! likelier the times are under a period than at random: folded onto a clock (missed and extra
//! ones allowed), and interval by interval (a timer that starts anew at each burst). What is
//! likelier by less than the number of periods and phases tried could explain is no period.

use crate::group::Look;

mod clock;

/// Times used at most: the earliest.
const MOST: usize = 200;
/// Logarithm of the likelihood ratio that a period needs beyond the number of trials. Chosen so
/// that random starts give a period in less than 1 % (test below).
const NEEDED: f64 = 4.0;
/// Largest scatter about the period, as its fraction: beyond, 'period' says nothing.
const LOOSEST: f64 = 0.12;

/// What starts within this part of a look's beginning was on before it.
const ALREADY_ON: f64 = 0.05;

/// A period and its standard uncertainty (90 % lie within ±1.645 of it).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Period {
    /// Seconds.
    pub period_s: f64,
    /// Seconds.
    pub u_s: f64,
}

/// The period of starts in samples, seconds, rising; `None` where they have none or where what
/// looks like one is that of the receiver's own looks.
pub(crate) fn of_starts(starts: &[f64], looks: &[Look]) -> Option<Period> {
    // On when the look began: that start is the receiver's.
    let was_on = |s: f64| {
        let early = |l: &Look| ALREADY_ON * (l.stop_s - l.start_s);
        looks.iter().any(|l| (-early(l)..=early(l)).contains(&(s - l.start_s)))
    };
    let seen: Vec<f64> = starts.iter().copied().filter(|s| !was_on(*s)).take(MOST).collect();
    let starts = &seen[..];
    let found = fit(starts, 0.0)?;
    // Looks that come and go make random starts seem regular: where the looks themselves fold,
    // the starts must fold much more tightly.
    let mut sum = num_complex::Complex::new(0.0, 0.0);
    let mut looked = 0.0;
    let w = std::f64::consts::TAU / found.period_s;
    let seen = looks.iter().filter(|l| starts.iter().any(|s| (l.start_s..=l.stop_s).contains(s)));
    for l in seen {
        let (a, z) = (w * l.start_s, w * l.stop_s);
        sum += num_complex::Complex::new(z.sin() - a.sin(), a.cos() - z.cos()) / w;
        looked += l.stop_s - l.start_s;
    }
    let r = if looked > 0.0 { sum.norm() / looked } else { 0.0 };
    let gate_s = found.period_s * (-2.0 * r.min(0.999).ln()).sqrt() / std::f64::consts::TAU;
    if r > 0.3 && found.scatter_s > 0.2 * gate_s {
        return None;
    }
    Some(Period { period_s: found.period_s, u_s: found.u_s })
}

/// The period of times each known to lie in `t..t + step_s` (0: exact). Rising.
pub(crate) fn of_times(times: &[f64], step_s: f64) -> Option<Period> {
    let found = fit(times, step_s)?;
    Some(Period { period_s: found.period_s, u_s: found.u_s })
}

/// A fitted period.
#[derive(Debug, Clone)]
struct Fit {
    period_s: f64,
    phase_s: f64,
    u_s: f64,
    scatter_s: f64,
    /// Log-likelihood ratio over random, less the trials.
    gain: f64,
    /// Index and stamp of its reports, where the clock's step rules the error.
    stamped: Vec<(f64, f64)>,
}

fn fit(times: &[f64], step_s: f64) -> Option<Fit> {
    let t: Vec<f64> = times.iter().take(MOST).copied().collect();
    let n = t.len();
    let span = t.last()? - t.first()?;
    if n < 4 || span <= 0.0 {
        return None;
    }
    let mut best: Option<Fit> = None;
    for candidate in candidates(&t, span, step_s) {
        let enough = |f: &Fit| f.gain > NEEDED;
        // On a clock if that suffices: it states the sharper period and knows drifting ones.
        let fit = folded(&t, candidate, span, step_s).filter(enough);
        if let Some(f) = fit.or_else(|| renewed(&t, candidate, step_s).filter(enough)) {
            // Half and third of a period fold as well: the longer one needs to be nearly as good.
            let better = best.as_ref().is_none_or(|b| {
                let margin = if f.period_s > 1.5 * b.period_s {
                    -3.0
                } else if f.period_s < b.period_s / 1.5 {
                    3.0
                } else {
                    0.0
                };
                f.gain > b.gain + margin
            });
            if better {
                best = Some(f);
            }
        }
    }
    let mut best = best?;
    // Found by its intervals: on a clock all the same?
    if let Some(f) = folded(&t, best.period_s, span, step_s).filter(|f| f.gain > NEEDED) {
        best = if (f.period_s / best.period_s - 1.0).abs() < 0.05 { f } else { best };
    }
    if !best.stamped.is_empty() {
        let walk = walk_u(&best.stamped, best.period_s, step_s);
        let fit = clock::interval_fit(&best.stamped, best.period_s, best.phase_s, step_s);
        (best.period_s, best.u_s) = (fit.0, fit.1.max(walk.unwrap_or(0.0)));
    }
    Some(best)
}

/// Periods worth a look, longest first.
fn candidates(t: &[f64], span: f64, step_s: f64) -> Vec<f64> {
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
fn folded(t: &[f64], candidate: f64, span: f64, step_s: f64) -> Option<Fit> {
    let n = t.len() as f64;
    let (mut period, mut phase) = (candidate, circular_phase(t, candidate));
    let mut used: Vec<(f64, f64)> = Vec::new();
    let mut scatter = 0.25 * period;
    for _ in 0..8 {
        let gate = (3.5 * scatter).clamp(0.03 * period, 0.3 * period);
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
    Some(Fit { period_s: period, phase_s: phase, u_s, scatter_s: scatter, gain, stamped })
}

/// Standard uncertainty of the slope of times about a clock, widened so that ±1.645 u holds 90 %
/// for few points (Student).
fn regression_u(used: &[(f64, f64)], scatter: f64, kk: f64) -> f64 {
    student_90(used.len() as f64 - 2.0) / 1.645 * scatter / kk.sqrt()
}

/// The same for a timer that starts anew at each burst, if the times look like one's: the
/// scatter of k-step differences then grows with k, and is constant under a clock.
fn walk_u(used: &[(f64, f64)], period: f64, step_s: f64) -> Option<f64> {
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
fn student_90(free: f64) -> f64 {
    let (z, v) = (1.644_853_6_f64, free.max(1.0));
    let g1 = (z.powi(3) + z) / 4.0;
    let g2 = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
    let g3 = (3.0 * z.powi(7) + 19.0 * z.powi(5) + 17.0 * z.powi(3) - 15.0 * z) / 384.0;
    z + g1 / v + g2 / (v * v) + g3 / v.powi(3)
}

/// A timer that starts anew at each burst: intervals near whole multiples of the period.
fn renewed(t: &[f64], candidate: f64, step_s: f64) -> Option<Fit> {
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
    Some(Fit { period_s: period, phase_s: t[0], u_s: u, scatter_s: sd, gain, stamped: Vec::new() })
}

/// Phase of the mean direction of times folded at a period, seconds from 0.
fn circular_phase(t: &[f64], period: f64) -> f64 {
    let (mut re, mut im) = (0.0, 0.0);
    for x in t {
        let (s, c) = (std::f64::consts::TAU * ((x - t[0]) / period).fract()).sin_cos();
        re += c;
        im += s;
    }
    t[0] + im.atan2(re) / std::f64::consts::TAU * period
}

#[cfg(test)]
mod tests;
