//! Rounding as printed. Results of the same bits on one machine differ in the last digits on
//! another; printed, they are equal. Both machine contracts round by these.

use crate::{Emission, Guess, Measured};
use detect::Listened;
use units::{Dbfs, Dbm, Reason, Value};

fn to(x: f64, step: f64) -> f64 {
    // Dividing by a whole number gives the nearest double to the decimal; multiplying by 0.01
    // would not.
    let per = (1.0 / step).round();
    let rounded = (x * per).round() / per;
    // Minus nothing is nothing.
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// To a hundredth of a hertz.
pub fn hertz(hz: f64) -> f64 {
    to(hz, 0.01)
}
/// To a microsecond.
pub fn seconds(s: f64) -> f64 {
    to(s, 1e-6)
}
/// To a hundredth of a decibel.
pub fn decibels(db: f64) -> f64 {
    to(db, 0.01)
}
/// To a millionth.
pub fn fraction(x: f64) -> f64 {
    to(x, 1e-6)
}
/// To a thousandth.
pub fn probability(p: f64) -> f64 {
    to(p, 1e-3)
}
/// To so many significant digits.
pub fn significant(x: f64, digits: usize) -> f64 {
    format!("{x:.*e}", digits.saturating_sub(1)).parse().unwrap_or(x)
}

/// Rounds every number of a row.
pub fn emission(e: &mut Emission) {
    for hz in
        [&mut e.centre_hz, &mut e.low_hz, &mut e.high_hz].into_iter().chain(&mut e.bandwidth_hz)
    {
        *hz = hertz(*hz);
    }
    e.channels_hz.iter_mut().flatten().for_each(|hz| *hz = hertz(*hz));
    let b = &mut e.bursts;
    b.median_s = b.median_s.map(seconds);
    b.period_s = b.period_s.map(seconds);
    b.on_fraction = fraction(b.on_fraction);
    e.level_dbfs = e.level_dbfs.map(|l| Dbfs(decibels(l.0)));
    e.level_dbm = e.level_dbm.map(|l| Dbm(decibels(l.0)));
    e.snr_db = e.snr_db.map(decibels);
    let u = &mut e.u;
    for u in [
        &mut u.centre_hz,
        &mut u.bandwidth_hz,
        &mut u.level_db,
        &mut u.first_s,
        &mut u.last_s,
        &mut u.period_s,
    ] {
        *u = u.map(|u| significant(u, 3));
    }
    measured(&mut e.measured);
    if let Some(m) = &mut e.modulation {
        m.probability = probability(m.probability);
        m.others.iter_mut().for_each(guess);
    }
    if let Some(t) = &mut e.technology {
        t.probability = probability(t.probability);
        t.reasons.iter_mut().for_each(reason);
        t.others.iter_mut().for_each(guess);
    }
}

fn measured(m: &mut Measured) {
    for number in [
        &mut m.symbol_rate_hz,
        &mut m.deviation_hz,
        &mut m.ofdm_useful_s,
        &mut m.ofdm_guard_s,
        &mut m.chirp_hz_per_s,
        &mut m.chip_rate_hz,
        &mut m.frame_s,
        &mut m.tone_hz,
        &mut m.line_hz,
        &mut m.field_hz,
        &mut m.subcarrier_hz,
        &mut m.hop_dwell_s,
        &mut m.hop_spacing_hz,
    ] {
        *number = number.map(|x| significant(x, 6));
    }
}

fn guess(guess: &mut Guess) {
    guess.probability = probability(guess.probability);
}

/// Rounds what was listened to.
pub fn listened(l: &mut Listened) {
    l.low_hz = hertz(l.low_hz);
    l.high_hz = hertz(l.high_hz);
    l.looked_s = seconds(l.looked_s);
    l.limit_dbfs = l.limit_dbfs.map(|l| Dbfs(decibels(l.0)));
    l.limit_dbm = l.limit_dbm.map(|l| Dbm(decibels(l.0)));
}

/// Rounds the numbers of a reason; its text is printed as it is.
pub fn reason(reason: &mut Reason) {
    for value in reason.values.values_mut() {
        if let Value::Number(x) = value {
            *x = significant(*x, 12);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_rounded_to_what_is_printed() {
        assert_eq!(hertz(433_920_000.004_9), 433_920_000.0);
        assert_eq!(hertz(-43_457.126), -43_457.13);
        assert_eq!(seconds(0.123_456_789).to_string(), "0.123457");
        assert_eq!(decibels(-0.001).to_string(), "0");
        assert_eq!(significant(0.012_345_6, 3).to_string(), "0.0123");
        assert_eq!(significant(15_625.0, 6), 15_625.0);
        assert_eq!(significant(0.0, 3), 0.0);
    }
}
