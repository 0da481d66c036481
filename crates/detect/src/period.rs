//! The period of starts that come late, are missed, or are stamped by a coarse clock.
//!
//! Candidates come from folding (Rayleigh) and from the intervals. Each is judged by how much
//! likelier the times are under a period than at random: folded onto a clock (missed and extra
//! ones allowed), and interval by interval (a timer that starts anew at each burst). What is
//! likelier by less than the number of periods and phases tried could explain is no period.

use crate::group::Look;

mod candidates;
mod clock;
mod folded;
mod looks;
mod renewed;

/// Times used at most: the earliest.
const MOST: usize = 200;
/// Logarithm of the likelihood ratio that a period needs beyond the number of trials. Chosen so
/// that random starts give a period in less than 1 % (test below).
const NEEDED: f64 = 4.0;
/// Largest scatter about the period, as its fraction: beyond, 'period' says nothing.
const LOOSEST: f64 = 0.12;

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
    let fresh = starts.iter().copied().filter(|s| !looks::was_on(*s, looks));
    let starts: Vec<f64> = fresh.take(MOST).collect();
    let found = fit(&starts, 0.0)?;
    let own = !looks::explain(&found, &starts, looks);
    own.then_some(Period { period_s: found.period_s, u_s: found.u_s })
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
    /// When its clock struck; `None` for a timer that starts anew at each burst.
    phase_s: Option<f64>,
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
    for candidate in candidates::candidates(&t, span, step_s) {
        let enough = |f: &Fit| f.gain > NEEDED;
        // On a clock if that suffices: it states the sharper period and knows drifting ones.
        let fit = folded::folded(&t, candidate, span, step_s).filter(enough);
        if let Some(f) = fit.or_else(|| renewed::renewed(&t, candidate, step_s).filter(enough)) {
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
    if let Some(f) = folded::folded(&t, best.period_s, span, step_s).filter(|f| f.gain > NEEDED) {
        best = if (f.period_s / best.period_s - 1.0).abs() < 0.05 { f } else { best };
    }
    if let (false, Some(phase_s)) = (best.stamped.is_empty(), best.phase_s) {
        let walk = folded::walk_u(&best.stamped, best.period_s, step_s);
        let fit = clock::interval_fit(&best.stamped, best.period_s, phase_s, step_s);
        (best.period_s, best.u_s) = (fit.0, fit.1.max(walk.unwrap_or(0.0)));
    }
    Some(best)
}

#[cfg(test)]
mod tests;
