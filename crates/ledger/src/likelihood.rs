//! How much likelier two rows of different captures are one emission than two: the natural
//! logarithm of the odds, term by term.
//!
//! Method: Bayes with independent terms. Every term but frequency is a mixture with a broad part,
//! so that it can speak against but never forbid: people talk or fall silent, receivers look for a
//! second or for a night. Widths of the priors are named below; where no source is given they are
//! common practice, no source.

use crate::look::Look;
use detect::{BandwidthIs, Shape};

/// Share of the channels in use near an emission: how many unrelated ones to expect there.
const CROWDED: f64 = 0.25;
/// Narrowest raster that land-mobile channels are assigned on, hertz (ECC Recommendation (05)08
/// speaks of 12.5 kHz and 6.25 kHz channels; from memory).
const RASTER_HZ: f64 = 12.5e3;
/// Standard deviation of a transmitter's own frequency between two visits, parts per million: a
/// crystal in a room.
const EMITTER_PPM: f64 = 2.0;
/// Share of transmitters without a crystal, and how far those wander, parts per million.
const WANDERING: (f64, f64) = (0.1, 10.0);
/// Share of a reference's uncertainty that changes between two captures of the same chain: its
/// error is shared, its warming up is not.
const SAME_CHAIN: f64 = 0.2;
/// Part of its bandwidth by which the middle of a modulated signal moves with what it carries.
const WOBBLE: f64 = 0.02;
/// Standard deviation of the logarithm of a bandwidth that is measured twice.
const LN_WIDTH_SD: f64 = 0.15;
/// Standard deviation of the logarithm of bandwidths of unrelated emissions.
const LN_WIDTH_ANY: f64 = 1.2;

/// The most that equal widths speak for one emission: neighbours on a raster have them too.
const ALIKE: f64 = 0.7;

/// ln of the odds that two rows of different captures are one emission, without what identity,
/// roles and people say. Symmetric.
pub(crate) fn ln_odds(a: &Look, b: &Look) -> f64 {
    let place = match (a.shape, b.shape) {
        (Shape::Hopping, Shape::Hopping) => channels(a, b),
        (Shape::Hopping, _) => on_a_channel(a, b),
        (_, Shape::Hopping) => on_a_channel(b, a),
        _ if a.cut_low || a.cut_high || b.cut_low || b.cut_high => edges(a, b),
        _ => frequency(a, b),
    };
    place + shape(a, b) + period(a, b)
}

/// Standard uncertainty of the difference of two centres, hertz, without the emitter's wandering.
pub(crate) fn u_difference_hz(a: &Look, b: &Look) -> f64 {
    let hz = 0.5 * (a.centre_hz + b.centre_hz).abs();
    let square_ppm = if a.chain == b.chain {
        (SAME_CHAIN * a.u_reference_ppm.max(b.u_reference_ppm)).powi(2)
    } else {
        a.u_reference_ppm.powi(2) + b.u_reference_ppm.powi(2)
    };
    let ppm = (square_ppm + EMITTER_PPM * EMITTER_PPM).sqrt();
    let own_hz = |look: &Look| look.bandwidth_hz.unwrap_or(look.width_hz);
    let wobble_hz = WOBBLE * own_hz(a).min(own_hz(b));
    // At least a hertz. A plain sum of squares: `hypot` was a third of a large survey's time.
    let squares = [a.u_centre_hz, b.u_centre_hz, ppm * 1e-6 * hz, wobble_hz].map(|u| u * u);
    (1.0 + squares.iter().sum::<f64>()).sqrt()
}

/// Centres that agree within their uncertainty, against another emission that happens to be there;
/// and widths.
fn frequency(a: &Look, b: &Look) -> f64 {
    let difference_hz = a.centre_hz - b.centre_hz;
    let u_hz = u_difference_hz(a, b);
    let hz = 0.5 * (a.centre_hz + b.centre_hz).abs();
    let wide_hz = u_hz.hypot(WANDERING.1 * 1e-6 * hz);
    let same = (1.0 - WANDERING.0) * normal(difference_hz, u_hz)
        + WANDERING.0 * normal(difference_hz, wide_hz);
    ln_ratio(same, others_per_hz(a, b)) + width(a, b)
}

/// Unrelated emissions to expect in a hertz.
fn others_per_hz(a: &Look, b: &Look) -> f64 {
    CROWDED / RASTER_HZ.max(a.width_hz.max(b.width_hz))
}

/// Rows that the edge of what was listened to cuts off: the edges that both show compare.
fn edges(a: &Look, b: &Look) -> f64 {
    let both = a.band.overlap(&b.band).map_or(0.0, |band| band.width_hz());
    let least = a.width_hz.min(b.width_hz);
    if both < 0.5 * least {
        return -4.0;
    }
    let u_hz = u_difference_hz(a, b).hypot(0.05 * a.width_hz.max(b.width_hz));
    let edge = |cut: bool, difference_hz: f64| {
        if cut { 0.0 } else { ln_ratio(normal(difference_hz, u_hz), others_per_hz(a, b)) }
    };
    let low = edge(a.cut_low || b.cut_low, a.band.low_hz - b.band.low_hz);
    let high = edge(a.cut_high || b.cut_high, a.band.high_hz - b.band.high_hz);
    // With no edge to compare, that two wide signals lie over each other still says a little.
    low.max(-4.0) + high.max(-4.0) + 0.5
}

/// Bandwidths.
fn width(a: &Look, b: &Look) -> f64 {
    let (Some(wide_a), Some(wide_b)) = (a.bandwidth_hz, b.bandwidth_hz) else { return 0.0 };
    let x = (wide_a / wide_b).ln();
    let sd = match (a.bandwidth_is, b.bandwidth_is) {
        // A bare carrier is not wider than its bound; it may be the other one, unmodulated.
        (BandwidthIs::UpperBound, BandwidthIs::UpperBound) => return 0.0,
        (BandwidthIs::UpperBound, _) if wide_b <= 1.5 * wide_a => return 0.0,
        (_, BandwidthIs::UpperBound) if wide_a <= 1.5 * wide_b => return 0.0,
        (BandwidthIs::Measured, BandwidthIs::Measured) => {
            LN_WIDTH_SD.hypot(a.u_ln_width).hypot(b.u_ln_width)
        }
        _ => 0.7,
    };
    let any = normal(x, LN_WIDTH_ANY.max(sd));
    ln_ratio(0.85 * normal(x, sd) + 0.15 * any, any).min(ALIKE)
}

/// Hoppers: the channels that both show, of those that the shorter look shows.
fn channels(a: &Look, b: &Look) -> f64 {
    let (few, many) = if a.channels_hz.len() <= b.channels_hz.len() { (a, b) } else { (b, a) };
    if few.channels_hz.is_empty() {
        return -4.0;
    }
    let near_hz = 3.0 * u_difference_hz(a, b).hypot(0.1 * few.width_of_hop_hz.max(RASTER_HZ));
    let near = |hz: &f64| many.channels_hz.iter().any(|other| (hz - other).abs() <= near_hz);
    let shared = few.channels_hz.iter().filter(|hz| near(hz)).count() as f64;
    let share = shared / few.channels_hz.len() as f64;
    // An unrelated hopper fills the same band but hits the same channels by chance only.
    let span_hz = many.band.width_hz().max(near_hz);
    let by_chance = (many.channels_hz.len() as f64 * 2.0 * near_hz / span_hz).clamp(0.05, 0.95);
    let n = few.channels_hz.len() as f64;
    let same = 0.9;
    // Binomial likelihoods of `shared` of `n`, cut off so that one look never settles it alone.
    let hits = shared * (same / by_chance).ln();
    let misses = (n - shared) * ((1.0 - same) / (1.0 - by_chance)).ln();
    let hop = width_of(a.width_of_hop_hz, b.width_of_hop_hz, 0.3);
    (hits + misses).clamp(-6.0, 6.0) + hop + if share < 0.5 { -2.0 } else { 0.5 }
}

/// A row that stays on one frequency, against a hopper that uses it too: a short look at a hopper
/// sees few of its channels. All of `n` bursts on one of `c` channels has odds of c^(1 − n).
fn on_a_channel(hopper: &Look, row: &Look) -> f64 {
    if row.shape != Shape::Bursts || hopper.channels_hz.is_empty() {
        return -4.0;
    }
    let near_hz = 3.0 * u_difference_hz(hopper, row).hypot(0.1 * hopper.width_of_hop_hz);
    if !hopper.channels_hz.iter().any(|hz| (hz - row.centre_hz).abs() <= near_hz) {
        return -6.0;
    }
    let channels = hopper.channels_hz.len() as f64;
    let stays = (row.bursts.max(1) - 1) as f64 * channels.ln();
    let there = (hopper.band.width_hz() / (2.0 * near_hz * channels)).max(1.0).ln();
    (there + width_of(hopper.width_of_hop_hz, row.width_hz, 0.3) - stays).max(-6.0)
}

fn width_of(a_hz: f64, b_hz: f64, sd: f64) -> f64 {
    if a_hz <= 0.0 || b_hz <= 0.0 {
        return 0.0;
    }
    let x = (a_hz / b_hz).ln();
    let any = normal(x, LN_WIDTH_ANY);
    ln_ratio(0.85 * normal(x, sd) + 0.15 * any, any)
}

/// Shapes. What comes and goes looks continuous to one who looks for less than one on-period.
fn shape(a: &Look, b: &Look) -> f64 {
    match (a.shape, b.shape) {
        (Shape::Continuous, Shape::Bursts) => continuous_by_chance(a.looked_s, b),
        (Shape::Bursts, Shape::Continuous) => continuous_by_chance(b.looked_s, a),
        (Shape::Hopping, Shape::Bursts) | (Shape::Bursts, Shape::Hopping) => 0.0,
        (x, y) if x == y => 0.4,
        _ => -2.3,
    }
}

fn continuous_by_chance(looked_s: f64, bursts: &Look) -> f64 {
    let on = bursts.on_fraction.clamp(0.0, 1.0);
    let length_s = bursts.median_s.unwrap_or(0.0).max(1e-6);
    // It was on when the look began, and stayed on for all of it (lengths taken as exponential).
    let p = on * (-looked_s / length_s).exp();
    ln_ratio(p.max(0.05), 0.4)
}

/// Periods of the starts, where both have one.
pub(crate) fn period(a: &Look, b: &Look) -> f64 {
    let (Some((t_a, u_a)), Some((t_b, u_b))) = (a.period_s, b.period_s) else { return 0.0 };
    // Unrelated periods: any decade from a tenth of a second to an hour alike.
    let any = 1.0 / (t_a.max(t_b) * (3600f64 / 0.1).ln());
    let same = 0.8 * normal(t_a - t_b, u_a.hypot(u_b)) + 0.2 * any;
    ln_ratio(same, any)
}

/// Density of a normal distribution.
pub(crate) fn normal(x: f64, sd: f64) -> f64 {
    (-0.5 * (x / sd).powi(2)).exp() / (sd * (2.0 * std::f64::consts::PI).sqrt())
}

/// ln(a / b), finite.
pub(crate) fn ln_ratio(a: f64, b: f64) -> f64 {
    (a.max(1e-300) / b.max(1e-300)).ln().max(-50.0)
}
