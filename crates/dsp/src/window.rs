//! Cosine-sum windows, DFT-even (periodic), with their exact coherent gain, equivalent noise
//! bandwidth and overlap correlation.
//!
//! w[n] = a0 − a1 cos(2πn/N) + a2 cos(4πn/N) − …; Harris 1978; Heinzel, Rüdiger and Schilling
//! 2002; averaging of overlapped segments after Welch 1967.

use std::f64::consts::TAU;

/// A cosine-sum window.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Window {
    /// No window.
    Rectangular,
    /// Hann: side lobes −31 dB, falling 18 dB an octave.
    Hann,
    /// Hamming.
    Hamming,
    /// Blackman (0.42, 0.5, 0.08).
    Blackman,
    /// Blackman with the exact coefficients (7938, 9240, 1430)/18608.
    ExactBlackman,
    /// Three-term Blackman–Harris, −67 dB.
    BlackmanHarris3,
    /// Four-term Blackman–Harris, −92 dB.
    BlackmanHarris4,
    /// Nuttall's four-term window with continuous first derivative.
    Nuttall4b,
    /// Nuttall's minimum four-term window.
    Nuttall4c,
    /// Five-term flat top (SFT5F-like coefficients of common signal libraries).
    FlatTop,
    /// HFT144D flat top of Heinzel et al.
    Hft144d,
}

impl Window {
    /// a0, a1, … of the sum, normalised as usually printed.
    pub fn coefficients(self) -> &'static [f64] {
        match self {
            Window::Rectangular => &[1.0],
            Window::Hann => &[0.5, 0.5],
            Window::Hamming => &[0.54, 0.46],
            Window::Blackman => &[0.42, 0.5, 0.08],
            Window::ExactBlackman => &[7938.0 / 18608.0, 9240.0 / 18608.0, 1430.0 / 18608.0],
            Window::BlackmanHarris3 => &[0.42323, 0.49755, 0.07922],
            Window::BlackmanHarris4 => &[0.35875, 0.48829, 0.14128, 0.01168],
            Window::Nuttall4b => &[0.355768, 0.487396, 0.144232, 0.012604],
            Window::Nuttall4c => &[0.3635819, 0.4891775, 0.1365995, 0.0106411],
            Window::FlatTop => &[0.21557895, 0.41663158, 0.277263158, 0.083578947, 0.006947368],
            Window::Hft144d => {
                &[1.0, 1.96760033, 1.57983607, 0.81123644, 0.22583558, 0.02773848, 0.00090360]
            }
        }
    }

    /// The window of length `n`, one period without the repeated end point.
    pub fn samples(self, n: usize) -> Vec<f64> {
        let a = self.coefficients();
        let at = |i: usize| {
            let term = |(k, a): (usize, &f64)| {
                let sign = if k % 2 == 0 { 1.0 } else { -1.0 };
                // Reduced before the cosine, so that long windows lose no digits.
                let turn = (k * i % n) as f64 / n as f64;
                sign * a * (TAU * turn).cos()
            };
            a.iter().enumerate().map(term).sum()
        };
        (0..n).map(at).collect()
    }

    /// The same in single precision, for multiplying samples.
    pub fn samples_f32(self, n: usize) -> Vec<f32> {
        self.samples(n).into_iter().map(|w| w as f32).collect()
    }

    /// Mean of the window: the gain of a tone at a bin. Exact for lengths above the term count.
    pub fn coherent_gain(self) -> f64 {
        self.coefficients()[0]
    }

    /// Mean of the squared window: the gain of noise power.
    pub fn noise_gain(self) -> f64 {
        let a = self.coefficients();
        a[0] * a[0] + 0.5 * a[1..].iter().map(|a| a * a).sum::<f64>()
    }

    /// Equivalent noise bandwidth, bins.
    pub fn enbw_bins(self) -> f64 {
        self.noise_gain() / (self.coherent_gain() * self.coherent_gain())
    }

    /// `Σ w[j] w[j+s] / Σ w²` for a shift of `shift` in a window of `n`: the correlation of the
    /// amplitudes of two overlapped frames of white noise.
    pub fn overlap_correlation(self, n: usize, shift: usize) -> f64 {
        let w = self.samples(n);
        let total: f64 = w.iter().map(|w| w * w).sum();
        w.iter().zip(w.iter().skip(shift)).map(|(a, b)| a * b).sum::<f64>() / total
    }

    /// Correlation of the **powers** of two bins `apart` bins apart, white noise, one frame.
    pub fn bin_power_correlation(self, apart: usize) -> f64 {
        let n = 256;
        let w = self.samples(n);
        let total: f64 = w.iter().map(|w| w * w).sum();
        let (mut re, mut im) = (0.0, 0.0);
        for (i, w) in w.iter().enumerate() {
            let phase = TAU * ((apart * i) % n) as f64 / n as f64;
            re += w * w * phase.cos();
            im += w * w * phase.sin();
        }
        (re * re + im * im) / (total * total)
    }

    /// Number of independent averages that `k` frames of length `n`, `hop` apart, are worth:
    /// K / (1 + 2 Σ (1 − r/K) c_r²) (Welch 1967).
    pub fn effective_averages(self, k: usize, n: usize, hop: usize) -> f64 {
        if k == 0 || hop == 0 {
            return 0.0;
        }
        let mut sum = 0.0;
        for r in 1..k.min(n.div_ceil(hop)) {
            let c = self.overlap_correlation(n, r * hop);
            sum += (1.0 - r as f64 / k as f64) * c * c;
        }
        k as f64 / (1.0 + 2.0 * sum)
    }

    /// Loss of a tone half-way between two bins, dB (positive).
    pub fn scalloping_db(self) -> f64 {
        let n = 4096;
        let w = self.samples(n);
        let (mut re, mut im) = (0.0, 0.0);
        for (i, w) in w.iter().enumerate() {
            let phase = TAU * 0.5 * i as f64 / n as f64;
            re += w * phase.cos();
            im += w * phase.sin();
        }
        let at_bin: f64 = w.iter().sum();
        20.0 * (at_bin / re.hypot(im)).log10()
    }
}

#[cfg(test)]
mod tests {
    use super::Window::{self, *};

    fn close(got: f64, want: f64, tolerance: f64, row: &str) {
        assert!((got - want).abs() <= tolerance, "{row}: got {got}, want {want}");
    }

    #[test]
    fn noise_bandwidths_are_the_published_ones() {
        // WIN-001…006: Harris 1978 Table 1; WIN-007…011, 020: Heinzel, Rüdiger, Schilling 2002;
        // WIN-022, 023 computed with scipy.
        let rows: [(&str, Window, f64, f64); 14] = [
            ("WIN-001", Rectangular, 1.00, 0.01),
            ("WIN-002", Hann, 1.50, 0.01),
            ("WIN-003", Hamming, 1.36, 0.01),
            ("WIN-004", Blackman, 1.73, 0.01),
            ("WIN-005", BlackmanHarris3, 1.71, 0.01),
            ("WIN-006", BlackmanHarris4, 2.00, 0.01),
            ("WIN-007", Hann, 1.5000, 1e-4),
            ("WIN-008", Hamming, 1.3628, 1e-4),
            ("WIN-009", BlackmanHarris4, 2.0044, 1e-4),
            ("WIN-010", Nuttall4b, 2.0212, 1e-4),
            ("WIN-011", Nuttall4c, 1.9761, 1e-4),
            ("WIN-020", Hft144d, 4.5386, 1e-4),
            ("WIN-022", ExactBlackman, 1.6936989, 1.7e-6),
            ("WIN-023", FlatTop, 3.7702464, 3.8e-6),
        ];
        for (row, window, want, tolerance) in rows {
            close(window.enbw_bins(), want, tolerance, row);
            let w = window.samples(1000);
            let sum: f64 = w.iter().sum();
            let square: f64 = w.iter().map(|w| w * w).sum();
            close(1000.0 * square / (sum * sum), want, tolerance, row);
        }
    }

    #[test]
    fn gains_and_scalloping() {
        // WIN-024…028 closed form, WIN-029…034 computed with scipy (Harris 1978 prints them).
        for (row, window, want) in [
            ("WIN-024", Hann, 0.5),
            ("WIN-025", Hamming, 0.54),
            ("WIN-026", Blackman, 0.42),
            ("WIN-027", BlackmanHarris4, 0.35875),
            ("WIN-028", FlatTop, 0.21557895),
        ] {
            close(window.coherent_gain(), want, 1e-9, row);
            close(window.samples(64).iter().sum::<f64>() / 64.0, want, 1e-9, row);
        }
        for (row, window, want) in [
            ("WIN-029", Rectangular, 3.9223973),
            ("WIN-030", Hann, 1.4236228),
            ("WIN-031", Hamming, 1.7514312),
            ("WIN-032", Blackman, 1.0988788),
            ("WIN-033", BlackmanHarris4, 0.82557223),
        ] {
            close(window.scalloping_db(), want, 0.005, row);
        }
        close(Hann.scalloping_db() + 10.0 * Hann.enbw_bins().log10(), 3.1845354, 0.005, "WIN-034");
    }

    #[test]
    fn overlap_and_effective_averages() {
        // WIN-040…045 (Harris 1978 section IV), WIN-046…050 (Welch 1967), computed with scipy.
        let n = 4096;
        for (row, window, overlap, want) in [
            ("WIN-040", Rectangular, 0.5, 0.5),
            ("WIN-041", Hann, 0.5, 0.16666667),
            ("WIN-042", Hann, 0.75, 0.65915494),
            ("WIN-043", Hamming, 0.5, 0.2337695),
            ("WIN-044", BlackmanHarris4, 0.5, 0.037601869),
            ("WIN-045", BlackmanHarris4, 0.75, 0.45998519),
        ] {
            let shift = ((1.0 - overlap) * n as f64) as usize;
            close(window.overlap_correlation(n, shift), want, 5e-4, row);
        }
        for (row, window, overlap, k, want) in [
            ("WIN-046", Hann, 0.5, 10, 9.5238095),
            ("WIN-047", Hann, 0.5, 1000, 947.41829),
            ("WIN-048", Hann, 0.75, 1000, 519.8428),
            ("WIN-049", BlackmanHarris4, 0.5, 1000, 997.18298),
            ("WIN-050", BlackmanHarris4, 0.75, 1000, 701.47289),
        ] {
            let hop = ((1.0 - overlap) * n as f64) as usize;
            close(window.effective_averages(k, n, hop), want, 1e-3 * want, row);
        }
        // Adjacent-bin power correlation of Hann: (2/3)² and (1/6)².
        close(Hann.bin_power_correlation(1), 4.0 / 9.0, 1e-9, "Hann 1");
        close(Hann.bin_power_correlation(2), 1.0 / 36.0, 1e-9, "Hann 2");
    }
}
