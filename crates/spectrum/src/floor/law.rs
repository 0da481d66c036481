//! The law of noise cells, and the level at which it fits the low end of a histogram.
//!
//! Forward consecutive mean excision (Lehtomäki, Vartiainen, Juntti, Saarnisaari 2005) in one pass:
//! noise cells of mean μ under a cut c have the mean m(c/μ), known from the exact law of a cell
//! (correlated bins, overlapped frames). Going up from the lowest cells, the first cut at which
//! mean under cut / cut falls to m(T)/T is c = T μ: what lies above it, signal or noise, has no say.

use super::Fit;
use super::histogram::Histogram;
use crate::Resolution;
use dsp::gram_eigenvalues;
use num_complex::Complex64;
use std::f64::consts::{LN_10, PI, TAU};

/// The law of a noise cell, as far as the fit needs it.
#[derive(Debug, Clone)]
pub(crate) struct CellLaw {
    /// Independent samples that a cell is worth.
    effective: f64,
    /// The cut that gives the level.
    cut: Cut,
    /// A second, higher one: both agree where the low end is noise.
    check: Cut,
}

/// A cut T in units of the mean.
#[derive(Debug, Clone, Copy)]
struct Cut {
    /// T.
    at: f64,
    /// Mean under T, over T.
    mean_over_cut: f64,
    /// Fraction of noise under T.
    below: f64,
}

/// Fraction of noise cells under the two cuts.
const BELOW: (f64, f64) = (0.6, 0.9);
/// Fewest cells under a cut before it is believed, and as a fraction of all: the lowest 1 % may be
/// anything (drop-outs, switching).
const LEAST_CELLS: f64 = 40.0;
const LEAST_FRACTION: f64 = 0.01;
/// More than this between the two cuts, dB, beyond chance: the low end is not noise alone.
const AGREE_DB: f64 = 0.3;
/// Standard uncertainty of the level at either cut over that of the plain mean of as many cells
/// (measured on noise by the test below).
const U_LOW: f64 = 2.35;
const U_HIGH: f64 = 1.3;

impl CellLaw {
    pub fn new(resolution: &Resolution, bins: usize, frames: usize) -> Self {
        // The eigenvalues depend on the window's shape and relative hop only.
        let n = resolution.bins().min(64);
        let hop = (resolution.hop() * n / resolution.bins()).max(1);
        let w = resolution.window().samples(n);
        let cells = (bins * frames) as f64;
        let lambda: Vec<f64> =
            gram_eigenvalues(&w, hop, bins, frames).into_iter().map(|l| l / cells).collect();
        let squares: f64 = lambda.iter().map(|l| l * l).sum();
        let cdf = sum_of_exponentials(&lambda);
        CellLaw {
            effective: 1.0 / squares,
            cut: Cut::new(&cdf, BELOW.0),
            check: Cut::new(&cdf, BELOW.1),
        }
    }

    /// Level of the noise at the low end of a histogram.
    pub fn fit(&self, histogram: &Histogram) -> Fit {
        let cells = histogram.count() as f64;
        if cells == 0.0 {
            return Fit::new(0.0, f64::INFINITY, histogram.silent() > 0);
        }
        let least = (LEAST_FRACTION * cells).max(LEAST_CELLS).min(0.3 * cells);
        let (low, under) = self.cut.level(histogram, least);
        let (high, _) = self.check.level(histogram, least);
        let noise = under / self.cut.below;
        let u_mean_db = 10.0 / LN_10 / (self.effective * noise).sqrt();
        let apart = 10.0 * (high / low).log10().abs();
        // The higher cut uses more of the noise and is nearly as good as the plain mean; the lower
        // is the one to trust as soon as they tell different stories.
        let (level, u_db) = if apart < 1.5 * U_LOW * u_mean_db {
            (high, U_HIGH * u_mean_db)
        } else {
            (low, (U_LOW * u_mean_db).hypot(0.5 * apart))
        };
        let silent = histogram.silent() as f64 > cells;
        Fit::new(level, u_db, !silent && apart < AGREE_DB + 4.0 * U_LOW * u_mean_db)
    }
}

/// P(sum ≤ x) of exponentials with the means `lambda`, together of mean 1, from its characteristic
/// function φ: ½ − (1/π) Σ Im(φ(t) e^{−jtx})/(k + ½), t = (k + ½)·2π/16 (Bohmann 1961, Davies 1973).
/// Good to 1e-9 in the body of the law, and a thousand times cheaper than its exact tail.
fn sum_of_exponentials(lambda: &[f64]) -> impl Fn(f64) -> f64 {
    // Beyond 16 means there is less than 1e-9 of a sum worth four exponentials or more.
    const STEP: f64 = TAU / 16.0;
    let phi = |k: usize| {
        let t = (k as f64 + 0.5) * STEP;
        let one = |l: &f64| Complex64::new(1.0, -l * t).inv();
        (t, lambda.iter().map(one).product::<Complex64>() / (k as f64 + 0.5))
    };
    let terms: Vec<(f64, Complex64)> =
        (0..4096).map(phi).take_while(|(_, p)| p.norm() > 1e-13).collect();
    move |x| {
        let sum: f64 = terms.iter().map(|(t, p)| (p * Complex64::from_polar(1.0, -t * x)).im).sum();
        0.5 - sum / PI
    }
}

impl Cut {
    /// The cut below which a fraction `below` of the law lies.
    fn new(cdf: &dyn Fn(f64) -> f64, below: f64) -> Cut {
        let (mut low, mut high) = (0.0, 16.0);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if cdf(middle) < below { low = middle } else { high = middle }
        }
        let at = 0.5 * (low + high);
        // E[X | X < T] = T − ∫₀ᵀ F dx / F(T), by Simpson's rule.
        let steps = 64;
        let f = |i: usize| cdf(at * i as f64 / steps as f64);
        let weight = |i: usize| match i {
            0 => 1.0,
            i if i == steps => 1.0,
            i if i % 2 == 1 => 4.0,
            _ => 2.0,
        };
        let integral: f64 = (0..=steps).map(|i| weight(i) * f(i)).sum::<f64>() * at / 192.0;
        Cut { at, mean_over_cut: 1.0 - integral / below / at, below }
    }

    /// Level, and the number of cells under the cut.
    fn level(&self, histogram: &Histogram, least: f64) -> (f64, f64) {
        let (mut count, mut sum) = (0.0, 0.0);
        let mut last = 0.0;
        for bucket in histogram.buckets() {
            let (count_before, sum_before) = (count, sum);
            count += bucket.count;
            sum += bucket.count * 0.5 * (bucket.low + bucket.high);
            last = bucket.high;
            if count < least || sum > self.mean_over_cut * count * bucket.high {
                continue;
            }
            // The crossing lies in this bucket, over which the density is taken as even.
            let (mut low, mut high) = (bucket.low, bucket.high);
            let part = |c: f64| (c - bucket.low) / (bucket.high - bucket.low) * bucket.count;
            for _ in 0..30 {
                let c = 0.5 * (low + high);
                let n = count_before + part(c);
                let s = sum_before + part(c) * 0.5 * (bucket.low + c);
                if n < least || s > self.mean_over_cut * n * c { low = c } else { high = c }
            }
            return (high / self.at, count_before + part(high));
        }
        (last / self.at, count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Stft;
    use rand::SeedableRng;
    use rand_distr::{Distribution, StandardNormal};
    use units::Iq;

    #[test]
    fn cuts_of_a_gamma() {
        // NF-040: mean of a gamma(8) under T = 2, over the mean, is 0.98789122; P(X < 2) from the
        // same law (scipy: gamma.cdf(16, 8) = 0.99000023, so T = 2 to 1e-5).
        let cut = Cut::new(&|x| dsp::gamma_cdf(8.0, 8.0 * x), dsp::gamma_cdf(8.0, 16.0));
        assert!((cut.at - 2.0).abs() < 1e-6, "{}", cut.at);
        assert!((cut.mean_over_cut * cut.at - 0.98789122).abs() < 1e-6);
    }

    #[test]
    fn the_body_of_the_law_is_that_of_the_exact_tail() {
        // dsp::ExponentialSum, which is tested against scipy.
        let w = dsp::Window::Hann.samples(64);
        let lambda: Vec<f64> =
            gram_eigenvalues(&w, 32, 4, 4).into_iter().map(|l| l / 16.0).collect();
        let (exact, body) = (dsp::ExponentialSum::new(&lambda), sum_of_exponentials(&lambda));
        for x in [0.2, 0.5, 0.8, 1.0, 1.3, 2.0, 3.0] {
            let want = -exact.ln_sf(x).exp_m1();
            assert!((body(x) - want).abs() < 1e-8, "{x}: {} for {want}", body(x));
        }
    }

    #[test]
    fn level_and_uncertainty_of_noise_cells() {
        let r = Resolution::hann(64);
        let law = CellLaw::new(&r, 4, 4);
        let stft = Stft::new(r);
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(1);
        let mut errors = Vec::new();
        let mut said = 0.0;
        for _ in 0..400 {
            let mut draw = || -> f32 { StandardNormal.sample(&mut rng) };
            let iq: Vec<Iq> = (0..1024 * 32 + 32).map(|_| Iq::new(draw(), draw())).collect();
            let mut power = vec![0.0; 1024 * 64];
            stft.rows(&iq, &mut power);
            // Cells at bins 8…11 and 40…43 only: independent of one another.
            let mut histogram = Histogram::default();
            for frames in power.chunks_exact(4 * 64) {
                for first in [8, 40] {
                    let bins = |row: &[f32]| row[first..first + 4].iter().sum::<f32>();
                    histogram.add(frames.chunks_exact(64).map(bins).sum::<f32>() / 16.0);
                }
            }
            let fit = law.fit(&histogram);
            errors.push(fit.level_db - units::db_from_ratio(r.noise_per_bin(2.0)));
            said += fit.u_db / 400.0;
        }
        let mean = errors.iter().sum::<f64>() / 400.0;
        let sd = (errors.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / 400.0).sqrt();
        // 512 cells a fit: sd of the mean of 400 fits is sd/20; four of those.
        assert!(mean.abs() < 0.01 + 4.0 * sd / 20.0, "bias {mean} dB, sd {sd} dB");
        assert!((0.7..1.3).contains(&(sd / said)), "sd {sd} dB, said {said} dB");
    }
}
