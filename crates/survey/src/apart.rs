//! Why rows can hardly be one emission, in words with the figures: they lie further apart than their
//! widths and any sender's wandering, or one capture heard both at once.

use ledger::{LedgerRow, Shape, frequency};
use units::Utc;

/// How far the same sender may be found from itself, parts per million: one without a crystal, heard
/// by two receivers that nobody calibrated. Common practice, no source.
const WANDERS_PPM: f64 = 100.0;
/// Standard uncertainties of the difference that are allowed.
const SIGMAS: f64 = 3.0;

/// What speaks against it, a sentence a pair.
pub(crate) fn objections(rows: &[&LedgerRow]) -> Vec<String> {
    let pairs = rows.iter().enumerate().flat_map(|(i, a)| rows[i + 1..].iter().map(|b| (*a, *b)));
    pairs.filter_map(|(a, b)| far(a, b).or_else(|| at_once(a, b))).collect()
}

fn named(row: &LedgerRow) -> String {
    format!("{} at {}", row.id, frequency(row.emission.centre_hz))
}

/// Whether anybody knows where in frequency it is: some logs do not say.
fn is_placed(row: &LedgerRow) -> bool {
    (row.emission.low_hz, row.emission.high_hz) != (0.0, 0.0)
}

/// A hopper's channels and a sweep are all of it.
fn width_hz(row: &LedgerRow) -> f64 {
    row.emission.high_hz - row.emission.low_hz
}

/// How far the centres are apart, and how far those of one emission can be by what was measured.
fn distance_hz(a: &LedgerRow, b: &LedgerRow) -> (f64, f64) {
    let u_hz = |row: &LedgerRow| row.emission.u.centre_hz.unwrap_or(0.0);
    let between_hz = (a.emission.centre_hz - b.emission.centre_hz).abs();
    let measured_hz = 0.5 * (width_hz(a) + width_hz(b)) + SIGMAS * u_hz(a).hypot(u_hz(b));
    (between_hz, measured_hz)
}

fn far(a: &LedgerRow, b: &LedgerRow) -> Option<String> {
    if !(is_placed(a) && is_placed(b)) {
        return None;
    }
    let (between_hz, measured_hz) = distance_hz(a, b);
    let wanders_hz =
        WANDERS_PPM * 1e-6 * a.emission.centre_hz.abs().max(b.emission.centre_hz.abs());
    // The ends of wide ones overlap less where they were heard weakly: twice their half widths.
    let most_hz = 2.0 * measured_hz + wanders_hz;
    (between_hz > most_hz).then(|| {
        format!(
            "{} and {} lie {} apart, and one emission of their widths would be found within {}",
            named(a),
            named(b),
            frequency(between_hz),
            frequency(most_hz)
        )
    })
}

/// What is on all the time is on together with whatever else one capture heard meanwhile. Of two that
/// come and go nobody says that they were on at once.
fn at_once(a: &LedgerRow, b: &LedgerRow) -> Option<String> {
    let lasts = |row: &LedgerRow| row.emission.shape == Shape::Continuous;
    let (between_hz, measured_hz) = distance_hz(a, b);
    if !(is_placed(a) && is_placed(b)) || !(lasts(a) || lasts(b)) || between_hz <= measured_hz {
        return None;
    }
    let heard = |row: &'_ LedgerRow| row.receptions.clone().into_iter().filter(|r| r.heard);
    let both = heard(a).find_map(|one| {
        let other = heard(b).find(|other| {
            other.capture == one.capture
                && other.position == one.position
                && meet((one.first, one.last), (other.first, other.last))
        })?;
        Some(other.capture)
    })?;
    Some(format!(
        "{both} heard {} and {} at once, {} apart",
        named(a),
        named(b),
        frequency(between_hz)
    ))
}

/// Whether two spans have a moment in common. Where times are not known nobody can tell.
fn meet(one: (Option<Utc>, Option<Utc>), other: (Option<Utc>, Option<Utc>)) -> bool {
    match (one, other) {
        ((Some(a), Some(b)), (Some(c), Some(d))) => a <= d && c <= b,
        _ => false,
    }
}
