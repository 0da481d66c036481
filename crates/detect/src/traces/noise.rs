//! The noise of swept spectra whose resolution bandwidth, detector and averaging nobody states:
//! its level over frequency, how much it scatters, and the threshold that follows.

use dsp::{gamma_isf_ln, gamma_quantile};
use units::db_from_ratio;

/// Bins of the window over which the floor follows frequency: wider than wide emissions.
const WINDOW: (usize, usize) = (61, 401);
/// No emission is nearer the floor than this, dB (threshold of 3 to 5 dB over the noise,
/// ITU-R SM.1880, from memory).
const LEAST_DB: f64 = 3.0;

/// Law of the noise: levels scatter as the mean of `averages` powers does, or, where a peak
/// detector kept the largest of several, with its longer tail.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Law {
    /// Effective averages of one level.
    pub averages: f64,
}

impl Law {
    /// From differences of levels that should be alike (dB, any sign): their median size. Robust
    /// against what comes and goes in less than half of them.
    pub fn of_differences(differences: &mut [f64]) -> Self {
        differences.iter_mut().for_each(|d| *d = d.abs());
        let typical = crate::group::median(differences);
        // Normal: median |d| = 0.6745 √2 sd, sd ≈ 4.343/√M dB. M = 1 (logistic): ln 3 nepers,
        // 4.77 dB. Between: both met by the next line within 3 %.
        let ratio = 4.771 / typical.max(1e-3);
        Law { averages: (0.75 * ratio * ratio + 0.25 * ratio).clamp(1.0, 1e4) }
    }
    /// dB over the mean of noise that a level exceeds with probability exp(`ln_p`).
    pub fn threshold_db(&self, ln_p: f64) -> f64 {
        let gamma = db_from_ratio(gamma_isf_ln(self.averages, ln_p) / self.averages);
        gamma.max(self.peak_tail_db(ln_p)).max(LEAST_DB)
    }
    /// The same for the largest of n powers with the same scatter (Gumbel): exceeds t with about
    /// n·exp(−t); n from the distance between median and lowest decile.
    fn peak_tail_db(&self, ln_p: f64) -> f64 {
        let wanted = self.quantile_db(0.5) - self.quantile_db(0.1);
        let spread = |ln_n: f64| {
            // Quantile q of the largest: −ln(−ln q) + ln n; at n = 1 exactly −ln(1 − q).
            let at = |q: f64| -> f64 { -(1.0 - q.powf((-ln_n).exp())).ln() };
            db_from_ratio(at(0.5) / at(0.1))
        };
        let (mut low, mut high) = (0.0, 12.0);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if spread(middle) > wanted { low = middle } else { high = middle }
        }
        let mean = low + 0.577_215_7 * (1.0 - (-low).exp()) + (-low).exp();
        db_from_ratio((low - ln_p) / mean)
    }
    /// Quantile over mean, dB (checks NF-017 to NF-024).
    pub fn quantile_db(&self, q: f64) -> f64 {
        db_from_ratio(gamma_quantile(self.averages, q) / self.averages)
    }
}

/// Floor over frequency, dB, from each bin's low level over time: the lower quartile of a sliding
/// window, which an emission that fills less than three quarters of it does not lift; `bias_db`
/// is what that quartile of noise lies under its mean.
pub(super) fn floor(low_db: &[f64], bias_db: f64) -> Vec<f64> {
    let n = low_db.len();
    let window = (n / 6).clamp(WINDOW.0, WINDOW.1).min(n.max(1));
    let step = (window / 8).max(1);
    let quartile = |at: usize| {
        let from = at.saturating_sub(window / 2).min(n - window);
        let mut part: Vec<f64> =
            low_db[from..from + window].iter().copied().filter(|x| x.is_finite()).collect();
        part.sort_by(f64::total_cmp);
        part.get(part.len() / 4).copied().unwrap_or(f64::INFINITY)
    };
    if n == 0 {
        return Vec::new();
    }
    let knots: Vec<f64> =
        (0..n.div_ceil(step) + 1).map(|k| quartile((k * step).min(n - 1))).collect();
    (0..n)
        .map(|k| {
            let (a, part) = (k / step, (k % step) as f64 / step as f64);
            knots[a] * (1.0 - part) + knots[a + 1] * part + bias_db
        })
        .collect()
}
