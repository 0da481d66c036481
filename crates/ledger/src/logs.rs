//! Two event logs of one band: how likely a row of one and a row of the other are one emission,
//! by timing, period and place. A log's frequency is a band's name, so timing decides.

use crate::atom::Atom;
use crate::input::Input;
use crate::join::{Pair, of_log};
use crate::likelihood::{ln_ratio, normal, period};
use crate::look::Look;
use detect::Shape;
use units::Strength;

/// ln of the odds before timing is looked at: what fills a band at one place is, more often than
/// not, what fills it at the next (common practice, no source).
const SAME_BAND: f64 = 0.5;
/// Standard deviation of the logarithm of what two logs of one emission say of its durations and
/// of its share of time: the thresholds differ with distance.
const LN_TIMING_SD: f64 = 0.6;
/// The same of unrelated emissions.
const LN_TIMING_ANY: f64 = 2.0;
/// Odds below which one row is not clearly better than another.
const CLEARLY: f64 = 0.7;

/// All pairs of rows of different logs that are likelier one emission than two.
pub(crate) fn pairs(looks: &[Look], ln_odds: &dyn Fn(&Look, &Look) -> f64) -> Vec<Pair> {
    let logs: Vec<usize> = (0..looks.len()).filter(|&i| of_log(&looks[i])).collect();
    let mut pairs = Vec::new();
    for (n, &a) in logs.iter().enumerate() {
        for &b in &logs[n + 1..] {
            if looks[a].capture == looks[b].capture || !same_band(&looks[a], &looks[b]) {
                continue;
            }
            let ln_odds = ln_odds(&looks[a], &looks[b]);
            if ln_odds > 0.0 {
                pairs.push(Pair { a, b, ln_odds });
            }
        }
    }
    pairs
}

/// Whether a row fits two rows of another log alike.
pub(crate) fn ambiguous(_: &Look, best: (&Look, f64), second: (&Look, f64)) -> bool {
    best.1 - second.1 < CLEARLY
}

/// Bands that are mostly the same: half of the wider one is shared.
fn same_band(a: &Look, b: &Look) -> bool {
    let wider_hz = a.band.width_hz().max(b.band.width_hz());
    a.band.overlap(&b.band).is_some_and(|shared| shared.width_hz() >= 0.5 * wider_hz)
}

/// ln of the odds that two rows of logs are one emission.
pub(crate) fn ln_odds(input: &Input, atoms: &[Atom], a: &Look, b: &Look) -> f64 {
    if !of_log(a) || !of_log(b) || !same_band(a, b) {
        return -20.0;
    }
    let shape = match (a.shape, b.shape) {
        (x, y) if x == y => 0.4,
        (Shape::Continuous, Shape::Bursts) | (Shape::Bursts, Shape::Continuous) => -1.5,
        _ => -2.3,
    };
    // One that has a period and many events of one that has none: they keep different time.
    let both_bursts = a.shape == Shape::Bursts && b.shape == Shape::Bursts;
    let one_period = a.period_s.is_some() != b.period_s.is_some() && a.bursts.min(b.bursts) >= 5;
    let odd = if one_period { -1.5 } else { 0.0 };
    let lengths = match (a.median_s, b.median_s) {
        // Logs count whole seconds.
        (Some(x), Some(y)) if both_bursts => alike((x.max(0.5) / y.max(0.5)).ln()),
        _ => 0.0,
    };
    let shares = match (a.on_fraction, b.on_fraction) {
        (x, y) if x > 0.0 && y > 0.0 && both_bursts => 0.5 * alike((x / y).ln()),
        _ => 0.0,
    };
    SAME_BAND + shape + odd + period(a, b) + lengths + shares + place(input, atoms, a, b)
}

fn alike(x: f64) -> f64 {
    let any = normal(x, LN_TIMING_ANY);
    // Many things last a second or two: to be alike says little.
    ln_ratio(0.8 * normal(x, LN_TIMING_SD) + 0.2 * any, any).min(0.3)
}

/// Strength at the places that both were heard at: alike speaks for one emission.
fn place(input: &Input, atoms: &[Atom], a: &Look, b: &Look) -> f64 {
    let mut common = 0;
    let mut differs = 0.0f64;
    for &i in &a.atoms {
        for &j in &b.atoms {
            if atoms[i].position.is_none() || atoms[i].position != atoms[j].position {
                continue;
            }
            common += 1;
            if let (Some(x), Some(y)) = (loudest(input, &atoms[i]), loudest(input, &atoms[j])) {
                differs = differs.max((x.value / x.of - y.value / y.of).abs());
            }
        }
    }
    match common {
        0 => 0.0,
        // A third of a scale is some 15 dB: more than people walking about make of one emission
        // (common practice, no source).
        _ if differs > 1.0 / 3.0 => -1.0,
        _ => 0.8,
    }
}

/// The strongest step that an atom of a log shows; of the row where events tell none.
pub(crate) fn loudest(input: &Input, atom: &Atom) -> Option<Strength> {
    if let Some(reading) = atom.reading(input) {
        return reading.strength;
    }
    let capture = atom.capture(input)?;
    let strengths = atom.events.iter().filter_map(|e| capture.events[e.index].event.strength);
    strengths
        .max_by(|x, y| (x.value / x.of).total_cmp(&(y.value / y.of)))
        .or(atom.row(input)?.strength)
}
