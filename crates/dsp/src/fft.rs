//! A planned forward or inverse transform of one length with caller-owned scratch.
//!
//! Unnormalised both ways, as rustfft: inverse(forward(x)) = N x.

use rustfft::{FftDirection, FftPlanner};
use std::sync::Arc;
use units::Iq;

/// A plan, cheap to clone and safe to share between threads.
#[derive(Clone)]
pub struct Fft {
    plan: Arc<dyn rustfft::Fft<f32>>,
}

impl std::fmt::Debug for Fft {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Fft({})", self.len())
    }
}

impl Fft {
    /// Plan of a forward transform, e^{−j2πkn/N}. `n` ≥ 1.
    pub fn forward(n: usize) -> Self {
        Fft { plan: FftPlanner::new().plan_fft(n, FftDirection::Forward) }
    }
    /// Plan of an inverse transform, e^{+j2πkn/N}, not divided by N. `n` ≥ 1.
    pub fn inverse(n: usize) -> Self {
        Fft { plan: FftPlanner::new().plan_fft(n, FftDirection::Inverse) }
    }
    /// Length of the transform.
    pub fn len(&self) -> usize {
        self.plan.len()
    }
    /// Whether the length is zero (never, but clippy wants it beside `len`).
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
    /// Scratch for [`Fft::in_place`].
    pub fn scratch(&self) -> Vec<Iq> {
        vec![Iq::default(); self.plan.get_inplace_scratch_len()]
    }
    /// Scratch for [`Fft::out_of_place`].
    pub fn scratch_out_of_place(&self) -> Vec<Iq> {
        vec![Iq::default(); self.plan.get_immutable_scratch_len()]
    }
    /// Transforms `data` (length N, or a multiple: one transform each) in place.
    ///
    /// # Panics
    /// If the length is no multiple of N or the scratch is shorter than [`Fft::scratch`].
    pub fn in_place(&self, data: &mut [Iq], scratch: &mut [Iq]) {
        self.plan.process_with_scratch(data, scratch);
    }
    /// Transforms `input` into `output`, both of length N; the input is kept.
    ///
    /// # Panics
    /// If lengths differ or the scratch is shorter than [`Fft::scratch_out_of_place`].
    pub fn out_of_place(&self, input: &[Iq], output: &mut [Iq], scratch: &mut [Iq]) {
        self.plan.process_immutable_with_scratch(input, output, scratch);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forward_of_a_tone_is_one_bin_and_comes_back() {
        let n = 48;
        let tone: Vec<Iq> = (0..n)
            .map(|i| Iq::from_polar(1.0, std::f32::consts::TAU * 5.0 * i as f32 / n as f32))
            .collect();
        let (fft, back) = (Fft::forward(n), Fft::inverse(n));
        let mut x = vec![Iq::default(); n];
        fft.out_of_place(&tone, &mut x, &mut fft.scratch_out_of_place());
        for (k, x) in x.iter().enumerate() {
            let want = if k == 5 { n as f32 } else { 0.0 };
            assert!((x.norm() - want).abs() < 1e-3, "bin {k}: {x}");
        }
        back.in_place(&mut x, &mut back.scratch());
        for (a, b) in x.iter().zip(&tone) {
            assert!((a / n as f32 - b).norm() < 1e-5);
        }
    }
}
