//! The period of the code out of the delays: peaks of equal height at all its multiples.

use super::fluctuation::Delays;
use dsp::gamma_ln_sf;

/// Multiples that are looked at: at least, at most.
const FEWEST: usize = 4;
const MOST: usize = 16;
/// A period shorter than so many samples of a part's own width is none: its neighbours' peaks
/// would run together.
const SHORTEST: f64 = 8.0;
/// A peak whose mean is this much of its variance, beyond chance, is no fluctuation.
const STEADY: f64 = 0.3;
const BEYOND_CHANCE: f64 = 20.0;

/// Delays from which on a steady correlation is no longer the band's own shape, steps; and how much
/// of it, doubled, an emission with a cyclic prefix or another fixed part makes of fluctuation at
/// its own period: two of it at most, and as much again for chance.
const SHAPE: usize = 64;
const OF_FIXED_PARTS: f64 = 4.0;

/// A period that peaks at its multiples.
#[derive(Debug, Clone, Copy)]
pub(super) struct Period {
    /// Samples.
    pub samples: f64,
    pub u_samples: f64,
    /// ln of the probability that noise peaks as high at one period.
    pub ln_p: f64,
    /// Multiples that were looked at.
    pub multiples: usize,
}

/// The best period between two lengths (samples) in each part, and the number of periods tried.
pub(super) fn periods(delays: &[Delays], shortest: f64, longest: f64) -> (Vec<Period>, f64) {
    let mut trials = 0.0;
    let mut best = Vec::new();
    for d in delays {
        let over = fluctuating(d);
        let shortest = shortest.max(SHORTEST * 2.0 * d.step_samples) / d.step_samples;
        let longest = (longest / d.step_samples).min((over.len() - 1) as f64 / FEWEST as f64);
        let mut top: Option<(f64, f64)> = None;
        let mut steps = shortest;
        while steps <= longest {
            let count = multiples(&over, steps);
            let ln_p = ln_p(&over, steps, count, d.averages);
            if top.is_none_or(|(_, least)| ln_p < least) {
                top = Some((steps, ln_p));
            }
            trials += 1.0;
            // The last multiple lies within half a step.
            steps += 1.0 / count as f64;
        }
        best.extend(top.and_then(|(steps, ln_p)| settle(d, &over, steps, ln_p)));
    }
    (best, trials)
}

/// Peaks that have a phase of their own are levelled.
fn fluctuating(d: &Delays) -> Vec<f64> {
    let of = |(over, steady): (&f64, &f64)| {
        let own = *steady > STEADY * (over - 1.0) && *steady * d.averages > BEYOND_CHANCE * over;
        if own { over.min(1.0) } else { *over }
    };
    d.over.iter().zip(&d.steady).map(of).collect()
}

fn multiples(over: &[f64], steps: f64) -> usize {
    (((over.len() - 1) as f64 / steps) as usize).min(MOST)
}

fn at(over: &[f64], steps: f64) -> f64 {
    over.get(steps.round() as usize).copied().unwrap_or(0.0)
}

/// ln P of the sum over the multiples but the highest, which may be another's: at most that of as
/// many averaged exponentials.
fn ln_p(over: &[f64], steps: f64, count: usize, averages: f64) -> f64 {
    let (mut sum, mut highest) = (0.0, 0.0f64);
    for m in 1..=count {
        let value = at(over, m as f64 * steps);
        sum += value;
        highest = highest.max(value);
    }
    let rest = (count - 1) as f64;
    if sum - highest <= rest {
        return 0.0;
    }
    gamma_ln_sf(rest * averages, (sum - highest) * averages)
}

/// The shortest period behind a peak, where it exactly lies, and whether its multiples are alike.
fn settle(d: &Delays, over: &[f64], steps: f64, ln_p: f64) -> Option<Period> {
    let excess = |steps: f64, skip: usize| {
        let count = multiples(over, steps);
        let taken = (1..=count).filter(|m| skip < 2 || m % skip != 0);
        let (n, sum) =
            taken.fold((0.0, 0.0), |(n, sum), m| (n + 1.0, sum + at(over, m as f64 * steps) - 1.0));
        if n > 0.0 { sum / n } else { 0.0 }
    };
    let whole = excess(steps, 0);
    let part = |q: &usize| {
        let short = steps / *q as f64;
        short >= 2.0 * SHORTEST && excess(short, *q) > 0.5 * whole
    };
    let steps = steps / (2..=8).rev().find(part).unwrap_or(1) as f64;
    let count = multiples(over, steps);
    let heights: Vec<f64> = (1..=count).map(|m| at(over, m as f64 * steps) - 1.0).collect();
    let mean = heights.iter().sum::<f64>() / count as f64;
    let chance = 2.5 * (1.0 + mean) / d.averages.sqrt();
    let alike = |h: &&f64| **h > 0.3 * mean - chance && **h < 3.0 * mean + chance;
    if heights.iter().filter(alike).count() * 5 < count * 4 || mean < OF_FIXED_PARTS * fixed(d) {
        return None;
    }
    let (samples, u_samples) = refined(over, steps, count);
    Some(Period {
        samples: samples * d.step_samples,
        u_samples: u_samples * d.step_samples,
        ln_p,
        multiples: count,
    })
}

/// Fraction of the power that comes again, just so, after some delay.
fn fixed(d: &Delays) -> f64 {
    let most = d.steady.iter().skip(SHAPE).copied().fold(0.0, f64::max);
    (most / d.samples).sqrt()
}

/// The line through the peaks' tops, from the origin, and its standard uncertainty; in steps.
fn refined(over: &[f64], steps: f64, count: usize) -> (f64, f64) {
    let top = |m: usize| {
        let near = (m as f64 * steps).round() as usize;
        let highest = (near.saturating_sub(1)..=(near + 1).min(over.len() - 2))
            .max_by(|a, b| over[*a].total_cmp(&over[*b]))
            .unwrap_or(near);
        let (a, b, c) = (over[highest - 1], over[highest], over[highest + 1]);
        let bend = a - 2.0 * b + c;
        let shift = if bend < 0.0 { 0.5 * (a - c) / bend } else { 0.0 };
        highest as f64 + shift.clamp(-0.5, 0.5)
    };
    let tops: Vec<(f64, f64)> = (1..=count)
        .filter(|m| m * (steps as usize) + 2 < over.len())
        .map(|m| (m as f64, top(m)))
        .collect();
    let squares: f64 = tops.iter().map(|(m, _)| m * m).sum();
    let line = tops.iter().map(|(m, t)| m * t).sum::<f64>() / squares;
    let left: f64 = tops.iter().map(|(m, t)| (t - m * line).powi(2)).sum();
    let sd = (left / (tops.len() as f64 - 1.0).max(1.0)).sqrt().max(0.1);
    (line, sd / squares.sqrt())
}
