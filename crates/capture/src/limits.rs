//! What a number of hertz can be. Beyond it a file is damaged or misread, and nothing that is
//! computed from such numbers would be one.

/// Radio waves end at 3000 GHz (ITU Radio Regulations, No. 1.5).
const MOST_HZ: f64 = 3e12;
/// No receiver's samples come slower than this (common practice, no source).
const LEAST_RATE_HZ: f64 = 1.0;

/// What [`is_rate`] wants, for a message.
pub(crate) const A_RATE: &str = "a sample rate from 1 Hz to 3000 GHz";
/// What [`is_frequency`] wants, for a message.
pub(crate) const A_FREQUENCY: &str = "a frequency up to 3000 GHz";

/// Whether a number can be a frequency or an offset, hertz.
pub(crate) fn is_frequency(hz: f64) -> bool {
    hz.abs() <= MOST_HZ
}

/// A number of hertz for a message, short also where it is absurd.
pub(crate) fn told(hz: f64) -> String {
    if hz.abs() < 1e15 { hz.to_string() } else { format!("{hz:e}") }
}

/// Whether a number can be a sample rate, hertz.
pub(crate) fn is_rate(hz: f64) -> bool {
    (LEAST_RATE_HZ..=MOST_HZ).contains(&hz)
}
