//! Log evidence of a chain's observations under one scenario: the emitter's power is unknown and
//! integrated out, heard places are normal about it, places that heard nothing are censored.

use dsp::normal_sf;

/// What one place says, with what a scenario expects there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Term {
    /// Received level plus expected loss is the emitter's power, with this variance.
    Heard { power_db: f64, variance: f64 },
    /// Heard, and the scale ended there: its power is over `power_db`.
    Over { power_db: f64, variance: f64 },
    /// Had its power been over `power_db` (limit plus expected loss), it would have been heard,
    /// unless it was silent.
    NotHeard { power_db: f64, variance: f64, p_silent: f64 },
}

/// Standard deviation of the emitter's power about the least that explains the loudest place, where
/// the unit or the gain is not known, dB: what sends in and about houses differs by 17 dB (power.rs),
/// receivers by some 10 dB (common practice, no source).
pub(crate) const POWER_SIGMA_DB: f64 = 20.0;
/// The power left open by the heard places is integrated in steps of so many of its deviations and
/// no more dB (censored terms are wider), up to so many deviations either side.
const POWER_STEP: (f64, f64) = (0.6, 4.0);
const POWER_REACH: f64 = 4.2;

/// ln p(terms), up to a constant that is the same for every scenario of the same observations.
/// The power is normal about `around_db` with `sigma_db`. Heard terms are taken in closed form, censored ones on
/// a grid over what those leave open of the power.
pub(crate) fn log_evidence(terms: &[Term], around_db: f64, sigma_db: f64) -> f64 {
    let mut precision = 1.0 / (sigma_db * sigma_db);
    let mut weighted = 0.0;
    let mut squares = 0.0;
    let mut logs = precision.ln();
    let mut censored = false;
    for term in terms {
        match *term {
            Term::Heard { power_db, variance } => {
                let (w, x) = (1.0 / variance, power_db - around_db);
                precision += w;
                weighted += w * x;
                squares += w * x * x;
                logs += w.ln();
            }
            Term::Over { .. } | Term::NotHeard { .. } => censored = true,
        }
    }
    let mean = weighted / precision;
    let ln_p = -0.5 * (squares - weighted * mean - logs + precision.ln());
    if !censored {
        return ln_p;
    }
    let sigma = precision.sqrt().recip();
    let (mut sum, mut weights) = (0.0, 0.0);
    let points = (POWER_REACH / POWER_STEP.0.min(POWER_STEP.1 / sigma)).ceil() as i32;
    for k in -points..=points {
        let z = POWER_REACH * f64::from(k) / f64::from(points);
        let weight = (-0.5 * z * z).exp();
        let power_db = around_db + mean + z * sigma;
        weights += weight;
        sum += weight * terms.iter().map(|term| chance(term, power_db)).product::<f64>();
    }
    // Nothing is impossible: a floor keeps one odd reading from deciding all.
    ln_p + (sum / weights).max(1e-30).ln()
}

/// Chance of a censored term, were the power known; 1 for one that was heard with its level.
fn chance(term: &Term, power: f64) -> f64 {
    match *term {
        Term::Heard { .. } => 1.0,
        Term::Over { power_db, variance } => normal_sf((power_db - power) / variance.sqrt()),
        // Tobin 1958: under the limit, or silent.
        Term::NotHeard { power_db, variance, p_silent } => {
            p_silent + (1.0 - p_silent) * normal_sf((power - power_db) / variance.sqrt())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Power wholly unknown.
    const UNKNOWN_DB: f64 = 1e3;

    /// Two places, difference of received levels `e`, expected difference `delta`, its sigma.
    fn pair(e: f64, delta: f64, sigma: f64) -> f64 {
        let variance = sigma * sigma / 2.0;
        let terms =
            [Term::Heard { power_db: e, variance }, Term::Heard { power_db: delta, variance }];
        log_evidence(&terms, e, UNKNOWN_DB)
    }

    #[test]
    fn two_hypotheses_of_one_excess() {
        // LOC-022: excess 5 dB, ±8 dB, sigma 6 dB, equal priors: 0.9022274 (Bayes, closed form).
        let (inside, outside) = (pair(5.0, 8.0, 6.0), pair(5.0, -8.0, 6.0));
        let p = 1.0 / (1.0 + (outside - inside).exp());
        assert!((p - 0.9022274).abs() < 1e-5, "{p}");
    }

    #[test]
    fn not_heard_at_the_reference() {
        // LOC-018 (Tobin 1958; scipy norm.cdf(-5/6)): predicted −95, limit −100, sigma 6.
        let term = |p_silent| Term::NotHeard { power_db: -100.0, variance: 36.0, p_silent };
        assert!((chance(&term(0.0), -95.0) - 0.20232838).abs() < 1e-6);
        assert_eq!(chance(&term(1.0), -95.0), 1.0);
        let over = Term::Over { power_db: -100.0, variance: 36.0 };
        assert!((chance(&over, -95.0) - (1.0 - 0.20232838)).abs() < 1e-6);
        // LOC-028: room −85, limit outside −95, ±8 dB, sigma 6 dB in all: 0.99635941.
        let p = |delta: f64| {
            let room = Term::Heard { power_db: -85.0, variance: 18.0 };
            let yard = Term::NotHeard { power_db: -95.0 + delta, variance: 18.0, p_silent: 0.0 };
            log_evidence(&[room, yard], -85.0, UNKNOWN_DB)
        };
        let p_inside = 1.0 / (1.0 + (p(-8.0) - p(8.0)).exp());
        assert!((p_inside - 0.99635941).abs() < 1e-5, "{p_inside}");
    }

    #[test]
    fn heard_terms_are_the_joint_normal_density() {
        // Mean −40, covariance diag(9, 16, 25) + 30², at (−42, −30, −51): −½ eᵀC⁻¹e − ½ ln|C| by
        // the determinants of the 3 × 3 matrix.
        let terms = [(-42.0, 9.0), (-30.0, 16.0), (-51.0, 25.0)]
            .map(|(power_db, variance)| Term::Heard { power_db, variance });
        let found = log_evidence(&terms, -40.0, 30.0);
        assert!((found + 12.490332881233).abs() < 1e-9, "{found}");
    }
}
