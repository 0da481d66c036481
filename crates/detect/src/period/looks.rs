//! Whether a period is that of the receiver's own looks.

use super::{Fit, folded::reach};
use crate::group::Look;
use num_complex::Complex;
use std::f64::consts::TAU;

/// What starts within this part of a look's beginning was on before it.
const ALREADY_ON: f64 = 0.05;
/// Looks fold on a period where the mean direction of their time is this long.
const FOLDED: f64 = 0.3;
/// A clock seen through looks that fold scatters by less than this part of what they let through.
const TIGHT: f64 = 0.2;

/// On when the look began: that start is the receiver's.
pub(super) fn was_on(start: f64, looks: &[Look]) -> bool {
    let early = |l: &Look| ALREADY_ON * (l.stop_s - l.start_s);
    looks.iter().any(|l| (-early(l)..=early(l)).contains(&(start - l.start_s)))
}

/// Whether the looks explain a period: looks that come and go make random starts seem regular.
/// Where the looks that saw the clock fold on its period, the starts must fold much more tightly;
/// and the looks must not stand at one phase of it: then it is their own period, a multiple or a
/// part of it, and a start at the same place of each is the receiver's.
pub(super) fn explain(found: &Fit, starts: &[f64], looks: &[Look]) -> bool {
    let turn = |t: f64| TAU * (t / found.period_s).fract();
    // Starts that are not the clock's own say nothing of how it was seen.
    let own = |s: &&f64| {
        found.phase_s.is_none_or(|phase| {
            let turns = (*s - phase) / found.period_s;
            (turns - turns.round()).abs() * found.period_s <= reach(found.scatter_s, found.period_s)
        })
    };
    let own: Vec<f64> = starts.iter().filter(own).copied().collect();
    // Middle and length of each.
    let seen: Vec<(f64, f64)> = (looks.iter())
        .filter(|l| own.iter().any(|s| (l.start_s..=l.stop_s).contains(s)))
        .map(|l| (0.5 * (l.start_s + l.stop_s), l.stop_s - l.start_s))
        .collect();
    let looked_s: f64 = seen.iter().map(|l| l.1).sum();
    if looked_s <= 0.0 {
        return false;
    }
    // Mean of exp(j2πt/P) over the time looked.
    let half_s = found.period_s / TAU;
    let sum: Complex<f64> = (seen.iter())
        .map(|(middle, d)| {
            Complex::from_polar(2.0 * half_s * (0.5 * d / half_s).sin(), turn(*middle))
        })
        .sum();
    if sum.norm() <= FOLDED * looked_s {
        return false;
    }
    // Variance of the time looked about that direction: of the looks' middles, and inside them.
    let off_s = |middle: f64| {
        let turns = (turn(middle) - sum.arg()) / TAU;
        (turns - turns.round()) * found.period_s
    };
    let middles = seen.iter().map(|(m, d)| d * off_s(*m).powi(2)).sum::<f64>() / looked_s;
    let inside = seen.iter().map(|(_, d)| d.powi(3)).sum::<f64>() / (12.0 * looked_s);
    let loose = found.scatter_s > TIGHT * (middles + inside).sqrt();
    let one_phase = middles < TIGHT * TIGHT * inside;
    loose || one_phase
}
