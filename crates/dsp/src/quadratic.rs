//! The exact tail of a sum Σ λ_i E_i of unit exponentials: the law of a cell summed over
//! correlated bins and overlapped frames, which the gamma of its variance gets wrong by factors
//! (1.5 to 4.6 at 1e-6). λ are the eigenvalues of the Gram matrix of the shifted, modulated
//! windows; the tail comes from integrating e^{K(s)−sx}/s along a line through the saddle point,
//! K(s) = −Σ ln(1 − λ_i s).

use crate::symmetric::eigenvalues;
use num_complex::Complex64;
use std::f64::consts::{PI, TAU};

/// A sum of exponentials with the given means.
#[derive(Debug, Clone)]
pub struct ExponentialSum {
    lambda: Vec<f64>,
}

/// Eigenvalues of one bin summed over `frames` Hann frames half overlapped: their amplitudes
/// correlate by 1/6 with the next frame only, so the matrix is tridiagonal (closed form).
pub fn frame_eigenvalues(frames: usize) -> Vec<f64> {
    let at = |k: usize| 1.0 + (PI * k as f64 / (frames as f64 + 1.0)).cos() / 3.0;
    (1..=frames).map(at).collect()
}

/// Eigenvalues of the normalised Gram matrix of `bins` adjacent bins by `frames` frames, window
/// `w`, `hop` samples apart.
pub fn gram_eigenvalues(w: &[f64], hop: usize, bins: usize, frames: usize) -> Vec<f64> {
    let n = w.len();
    let total: f64 = w.iter().map(|w| w * w).sum();
    let size = bins * frames;
    // Entry between (frame p, bin a) and (frame q, bin b): Σ_n w[n−p hop] w[n−q hop] e^{j2π(b−a)n/N}.
    let entry = |i: usize, j: usize| {
        let (p, a, q, b) = (i / bins, i % bins, j / bins, j % bins);
        let mut sum = Complex64::default();
        let start = p.max(q) * hop;
        let stop = (p.min(q) * hop + n).max(start);
        for t in start..stop {
            let phase = TAU * ((b as f64 - a as f64) * t as f64 / n as f64).fract();
            sum += Complex64::from_polar(w[t - p * hop] * w[t - q * hop], phase);
        }
        sum / total
    };
    // Turning the order of the bins (J) conjugates the Gram matrix A + jB, so that the real
    // symmetric A + BJ is unitarily similar to it.
    let mut real = vec![vec![0.0; size]; size];
    for (i, row) in real.iter_mut().enumerate() {
        for j in 0..size {
            let g = entry(i, j);
            row[j] += g.re;
            row[j / bins * bins + bins - 1 - j % bins] += g.im;
        }
    }
    let mut values = eigenvalues(real);
    values.reverse();
    values
}

impl ExponentialSum {
    /// From the means; those below 1e-12 of the largest do not count.
    pub fn new(lambda: &[f64]) -> Self {
        let largest = lambda.iter().copied().fold(0.0, f64::max);
        ExponentialSum { lambda: lambda.iter().copied().filter(|l| *l > 1e-12 * largest).collect() }
    }
    /// Mean of the sum.
    pub fn mean(&self) -> f64 {
        self.lambda.iter().sum()
    }
    /// (Σλ)²/Σλ²: independent samples that the variance is worth.
    pub fn effective(&self) -> f64 {
        self.mean().powi(2) / self.lambda.iter().map(|l| l * l).sum::<f64>()
    }
    fn cumulants(&self, s: f64) -> (f64, f64, f64) {
        let (mut k0, mut k1, mut k2) = (0.0, 0.0, 0.0);
        for l in &self.lambda {
            let g = l / (1.0 - l * s);
            k0 -= (-l * s).ln_1p();
            k1 += g;
            k2 += g * g;
        }
        (k0, k1, k2)
    }
    /// ln P(sum > x).
    pub fn ln_sf(&self, x: f64) -> f64 {
        if x <= 0.0 {
            return 0.0;
        }
        let largest = self.lambda.iter().copied().fold(0.0, f64::max);
        // Saddle of K(s) − s x − ln s on 0 < s < 1/λ_max: the derivative rises through zero.
        let (mut low, mut high) = (0.0, 1.0 / largest);
        for _ in 0..200 {
            let s = 0.5 * (low + high);
            let slope = self.cumulants(s).1 - x - 1.0 / s;
            if slope < 0.0 { low = s } else { high = s }
        }
        let s0 = 0.5 * (low + high);
        let (k0, _, k2) = self.cumulants(s0);
        let scale = 1.0 / (k2 + 1.0 / (s0 * s0)).sqrt();
        // A parabola through the saddle, open to the right about the singularities 1/λ: e^{−sx}
        // falls along it like a Gaussian, however few the exponentials.
        let bend = 0.25 / (1.0 / largest - s0);
        let at = |u: f64| {
            let s = Complex64::new(s0 + bend * u * u, u);
            // The factors' product stays far from overflow in chunks, and spares logarithms.
            let mut k = Complex64::new(-k0, 0.0) - (s - s0) * x;
            for chunk in self.lambda.chunks(16) {
                let product: Complex64 = chunk.iter().map(|l| 1.0 - s * *l).product();
                k -= product.ln();
            }
            let value = k.exp() / s;
            value.re + 2.0 * bend * u * value.im
        };
        // Trapezoid: spectrally accurate for this analytic, decaying integrand.
        let step = scale / 16.0;
        let mut sum = 0.5 * at(0.0);
        let mut small = 0;
        for i in 1..200_000 {
            let value = at(f64::from(i) * step);
            sum += value;
            // It passes through zero on its way: only a run of small values is the end.
            small = if value.abs() < 1e-14 * sum.abs() { small + 1 } else { 0 };
            if small == 8 {
                break;
            }
        }
        k0 - s0 * x + (sum * step / PI).ln()
    }
    /// x with ln P(sum > x) = `ln_p`.
    pub fn isf_ln(&self, ln_p: f64) -> f64 {
        let (mut low, mut high) = (0.0, self.mean());
        let (mut at_low, mut at_high) = (-ln_p, self.ln_sf(high) - ln_p);
        while at_high > 0.0 {
            (low, at_low) = (high, at_high);
            high *= 2.0;
            at_high = self.ln_sf(high) - ln_p;
        }
        // Regula falsi after Illinois: the logarithm of the tail is nearly a straight line.
        let mut side = 0;
        for _ in 0..100 {
            let x = (low * at_high - high * at_low) / (at_high - at_low);
            let at = self.ln_sf(x) - ln_p;
            if high - low < 1e-12 * high || at.abs() < 1e-12 {
                return x;
            }
            if at > 0.0 {
                (low, at_low) = (x, at);
                at_high *= if side == 1 { 0.5 } else { 1.0 };
                side = 1;
            } else {
                (high, at_high) = (x, at);
                at_low *= if side == -1 { 0.5 } else { 1.0 };
                side = -1;
            }
        }
        0.5 * (low + high)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Window, gamma_isf_ln};

    #[test]
    fn cells_of_correlated_bins_and_frames() {
        // FA-018…029: computed with scipy (eigenvalues of the Gram matrix, tail by inversion).
        let w = Window::Hann.samples(64);
        for (row, bins, frames, effective, threshold, moment_matched) in [
            ("FA-018…020", 4, 1, 2.3606557, 8.3115639, 4.6324369e-6),
            ("FA-021…023", 1, 4, 3.84, 5.6515626, 1.749524e-6),
            ("FA-024…026", 4, 4, 8.9277751, 3.5964059, 2.3730113e-6),
            ("FA-027…029", 8, 8, 32.831436, 2.0841066, 1.5501619e-6),
        ] {
            let sum = ExponentialSum::new(&gram_eigenvalues(&w, 32, bins, frames));
            assert!((sum.effective() / effective - 1.0).abs() < 1e-4, "{row}: {}", sum.effective());
            let got = sum.isf_ln(1e-6f64.ln()) / sum.mean();
            assert!((got / threshold - 1.0).abs() < 1e-4, "{row}: {got}");
            let n = sum.effective();
            let naive = gamma_isf_ln(n, 1e-6f64.ln()) / n * sum.mean();
            let rate = sum.ln_sf(naive).exp();
            assert!((rate / moment_matched - 1.0).abs() < 1e-3, "{row}: {rate}");
        }
    }

    #[test]
    fn frames_of_one_bin_in_closed_form() {
        let w = Window::Hann.samples(64);
        let exact = gram_eigenvalues(&w, 32, 1, 5);
        let mut closed = frame_eigenvalues(5);
        closed.sort_by(|a, b| b.total_cmp(a));
        for (a, b) in exact.iter().zip(&closed) {
            assert!((a - b).abs() < 1e-9, "{exact:?} {closed:?}");
        }
        // One exponential: e^{−x}.
        for x in [0.01, 1.0, 30.0, 500.0] {
            assert!((ExponentialSum::new(&[1.0]).ln_sf(x) + x).abs() < 1e-9, "{x}");
        }
        // Two: (a e^{−x/a} − b e^{−x/b})/(a − b).
        let (a, b) = (1.5, 0.5);
        for x in [0.1f64, 2.0, 40.0] {
            let want = ((a * (-x / a).exp() - b * (-x / b).exp()) / (a - b)).ln();
            assert!((ExponentialSum::new(&[a, b]).ln_sf(x) - want).abs() < 1e-9, "{x}");
        }
        // Sixty-four equal ones: a gamma of that shape.
        let equal = ExponentialSum::new(&[1.0; 64]);
        for x in [30.0, 64.0, 150.0, 400.0] {
            let want = crate::gamma_ln_sf(64.0, x);
            assert!((equal.ln_sf(x) - want).abs() < 1e-9, "{x}: {} {want}", equal.ln_sf(x));
        }
        assert!((equal.isf_ln(-30.0) - gamma_isf_ln(64.0, -30.0)).abs() < 1e-6);
    }
}
