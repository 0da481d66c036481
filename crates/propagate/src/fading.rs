//! Shadowing from place to place and fading from wavelength to wavelength.

use crate::indoor::SiteGeneral;
use std::f64::consts::PI;

/// Log-normal shadowing: normal in dB, correlated over distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shadowing {
    /// Standard deviation from place to place, dB.
    pub sigma_db: f64,
    /// Distance over which the correlation falls to 1/e, metres.
    pub decorrelation_m: f64,
}

/// Indoor decorrelation distance, metres: 1 m to 5 m (from memory; Gudmundson measured outdoors).
const INDOOR_DECORRELATION_M: f64 = 2.0;

impl Default for Shadowing {
    /// Indoors, 6 dB (common practice, no source; the site-general rows of ITU-R P.1238 lie
    /// between 3 dB and 9 dB) and 2 m.
    fn default() -> Self {
        Shadowing { sigma_db: 6.0, decorrelation_m: INDOOR_DECORRELATION_M }
    }
}

impl Shadowing {
    /// Of an indoor environment of ITU-R P.1238 edition 10; see [`SiteGeneral::of`].
    pub fn indoors(environment: &str, line_of_sight: bool) -> Option<Shadowing> {
        let sigma_db = SiteGeneral::of(environment, line_of_sight)?.sigma_db;
        Some(Shadowing { sigma_db, decorrelation_m: INDOOR_DECORRELATION_M })
    }

    /// Correlation of two places `distance_m` apart, exp(−d/dc) (Gudmundson 1991).
    pub fn correlation(&self, distance_m: f64) -> f64 {
        (-distance_m / self.decorrelation_m).exp()
    }

    /// Covariance of two places, dB².
    pub fn covariance(&self, distance_m: f64) -> f64 {
        self.sigma_db * self.sigma_db * self.correlation(distance_m)
    }
}

/// Chance that Rayleigh power lies more than `below_db` under its mean (exponential power).
pub fn rayleigh_fade_chance(below_db: f64) -> f64 {
    -(-units::ratio_from_db(-below_db)).exp_m1()
}

/// Chance that Rician power with steady part over scattered part `k_db` lies more than
/// `below_db` under its mean: a Poisson mixture of gamma distributions (non-central χ²).
pub fn rician_fade_chance(k_db: f64, below_db: f64) -> f64 {
    let k = units::ratio_from_db(k_db);
    let x = (1.0 + k) * units::ratio_from_db(-below_db);
    // P = Σ Poisson(n; K) · P(Gamma(n + 1) < x), and P(Gamma(n + 1) < x) is 1 − Σ_{m ≤ n} of the
    // Poisson terms of x. Terms beyond both means by ten deviations are below 1e-20.
    let last = (k.max(x) + 10.0 * k.max(x).sqrt() + 30.0) as usize;
    let (mut of_k, mut of_x) = ((-k).exp(), (-x).exp());
    let mut above = of_x;
    let mut chance = of_k * (1.0 - above);
    for n in 1..=last {
        of_k *= k / n as f64;
        of_x *= x / n as f64;
        above += of_x;
        chance += of_k * (1.0 - above).max(0.0);
    }
    chance
}

/// Standard deviation of the mean of `n` independent Rayleigh powers, dB:
/// (10/ln 10) √ψ'(n), ψ' the trigamma function.
pub fn rayleigh_mean_sigma_db(n: u32) -> f64 {
    10.0 / 10f64.ln() * trigamma(f64::from(n.max(1))).sqrt()
}

/// Relative standard deviation of Rayleigh power averaged along a straight walk of so many
/// wavelengths, waves from all sides: √((2/L) ∫ (1 − y/L) J0²(2πy) dy) (Clarke's spectrum).
pub fn walk_mean_deviation(wavelengths: f64) -> f64 {
    // Simpson's rule, 64 steps a wavelength.
    let steps = 2 * (32.0 * wavelengths).ceil().max(1.0) as usize;
    let width = wavelengths / steps as f64;
    let value = |i: usize| {
        let y = i as f64 * width;
        (1.0 - y / wavelengths) * bessel_j0(2.0 * PI * y).powi(2)
    };
    let weight = |i: usize| match i {
        0 => 1.0,
        i if i == steps => 1.0,
        i if i % 2 == 1 => 4.0,
        _ => 2.0,
    };
    let integral = (0..=steps).map(|i| weight(i) * value(i)).sum::<f64>() * width / 3.0;
    (2.0 / wavelengths * integral).sqrt()
}

/// ψ'(x) for x ≥ 1: recurrence up to 10, then the asymptotic series (Abramowitz and Stegun
/// 6.4.12), better than 1e-12.
fn trigamma(x: f64) -> f64 {
    let (mut x, mut sum) = (x, 0.0);
    while x < 10.0 {
        sum += 1.0 / (x * x);
        x += 1.0;
    }
    let i = 1.0 / (x * x);
    let series = i * (1.0 / 6.0 - i * (1.0 / 30.0 - i * (1.0 / 42.0 - i / 30.0)));
    sum + (1.0 + 1.0 / (2.0 * x) + series) / x
}

/// J0(x) = mean of cos(x sin θ) over a turn; with more points than x the error is below 1e-12
/// (a periodic function is summed exactly but for its aliases).
fn bessel_j0(x: f64) -> f64 {
    let points = (x.abs() + 40.0).ceil() as usize;
    let angle = |k: usize| 2.0 * PI * k as f64 / points as f64;
    (0..points).map(|k| (x * angle(k).sin()).cos()).sum::<f64>() / points as f64
}
