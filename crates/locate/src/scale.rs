//! Ordinal strengths: steps of an unknown number of dB. The link is monotone, nearly even, and
//! its step is integrated over; the offset of the scale goes into the emitter's unknown power.

use units::Strength;

/// What a whole scale spans, median, dB: 12 steps of 3 dB or so, 5 of 8 dB; nine in ten lie from
/// 22 dB to 71 dB (common practice, no source). The link is that of the cumulative probit (McCullagh 1980) with even cuts.
pub const SPAN_MEDIAN_DB: f64 = 40.0;
/// Standard deviation of the logarithm of the span (common practice, no source).
pub const SPAN_LOG_SIGMA: f64 = 0.35;
/// Steps of one scale differ by so much of their median (common practice, no source: 'the step
/// in dB differs between bars', data/strength_scales.csv).
const STEP_UNEVEN: f64 = 0.2;
/// Spans in dB to integrate over, with their weights: five Gauss–Hermite points of the normal
/// distribution (Abramowitz and Stegun 25.4.46, rescaled).
pub(crate) fn spans_db() -> [(f64, f64); 5] {
    crate::premises::NORMAL_POINTS
        .map(|(z, weight)| (SPAN_MEDIAN_DB * (SPAN_LOG_SIGMA * z).exp(), weight))
}

/// What a reading says of the level above the bottom of its scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Reading {
    /// This level, with this variance.
    About(f64, f64),
    /// At least this level: the scale ends there.
    AtLeast(f64, f64),
}

/// Level of a reading above the bottom of its scale, dB, and its variance, dB².
pub(crate) fn reading(strength: Strength, span_db: f64) -> Reading {
    let step_db = span_db / strength.of;
    let uneven = (STEP_UNEVEN * step_db).powi(2) * strength.value;
    if strength.value >= strength.of {
        return Reading::AtLeast((strength.value - 1.0) * step_db, uneven);
    }
    // Anywhere within its step: rectangular.
    Reading::About((strength.value - 0.5) * step_db, step_db * step_db / 12.0 + uneven)
}

/// Level under which nothing shows: the bottom of the scale.
pub(crate) const BOTTOM_DB: f64 = 0.0;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_rise_and_end() {
        let of = |value| reading(Strength { value, of: 12.0 }, 36.0);
        // 4 of 12 in steps of 3 dB: 9 to 12 dB; 9/12 dB² of the step and 4 · (0.6 dB)².
        let Reading::About(level, variance) = of(4.0) else { panic!("within the scale") };
        assert!((level - 10.5).abs() < 1e-12 && (variance - (0.75 + 1.44)).abs() < 1e-12);
        // 12 of 12: from 33 dB on.
        let Reading::AtLeast(level, _) = of(12.0) else { panic!("the end of the scale") };
        assert!((level - 33.0).abs() < 1e-12);
    }

    #[test]
    fn spans_are_log_normal() {
        let spans = spans_db();
        let sum: f64 = spans.iter().map(|s| s.1).sum();
        let mean: f64 = spans.iter().map(|s| s.1 * s.0).sum();
        assert!((sum - 1.0).abs() < 1e-9);
        // Mean of a log-normal: median · exp(σ²/2) = 40 · 1.06317.
        assert!((mean - 42.527).abs() < 1e-2, "{mean}");
    }
}
