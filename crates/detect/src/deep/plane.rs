//! Cells of long coherent blocks: power over the local floor, a byte each, for a part of the band.

use super::floor::medians;
use super::tuned::{Frame, Tuned};
use dsp::{Fft, Window};
use num_complex::Complex64;
use rayon::prelude::*;
use std::f64::consts::PI;
use units::{Iq, ReadError};

/// One step of a cell: mean noise is 16, and the clip at 255 stands 15 sd above it: noise reaches
/// that once in 8 million cells, and no one block counts for more.
pub(super) const UNIT: f32 = 16.0;
/// Bins whose median is the floor of the middle one: lines and what is narrow do not move it, and
/// slopes of the floor over as little as this are followed.
const WINDOW: usize = 256;
/// Mean over median of exponential powers, 1/ln 2.
const MEDIAN: f32 = std::f32::consts::LOG2_E;
/// Bytes that transforms may take side by side.
const BUFFERS: usize = 1 << 30;

/// Makes spectra of blocks.
pub(super) struct Spectra<'a> {
    tuned: &'a Tuned<'a>,
    /// Window over its sum, so that |X|² of a tone is its power, turning against a drift.
    window: Vec<Iq>,
    fft: Fft,
}

impl<'a> Spectra<'a> {
    /// Of `n` samples under a Hann window, for lines that drift so fast: such a line lies in the bin
    /// of its middle.
    pub fn hann(tuned: &'a Tuned<'a>, n: usize, drift_hz_per_s: f64) -> Self {
        let scale = 1.0 / (n as f64 * Window::Hann.coherent_gain());
        let turned = |(i, w): (usize, f64)| {
            let t = (i as f64 - 0.5 * n as f64) / tuned.rate_hz;
            let x = Complex64::from_polar(w * scale, -PI * drift_hz_per_s * t * t);
            Iq::new(x.re as f32, x.im as f32)
        };
        let window = Window::Hann.samples(n).into_iter().enumerate().map(turned).collect();
        Spectra { tuned, window, fft: Fft::forward(n) }
    }
    /// How many frames to work on side by side.
    pub fn together(&self) -> usize {
        (BUFFERS / (20 * self.fft.len())).clamp(1, rayon::current_num_threads().max(1))
    }
    /// The spectrum of one frame, by the transform's own order of bins.
    pub fn of(&self, frame: &Frame) -> Result<Vec<Iq>, ReadError> {
        let n = self.fft.len();
        let mut x = vec![Iq::default(); n];
        self.tuned.read(frame.first_sample, &mut x)?;
        for (x, w) in x.iter_mut().zip(&self.window) {
            *x *= *w;
        }
        self.fft.in_place(&mut x, &mut self.fft.scratch());
        Ok(x)
    }
    /// Cells of the bins from `first` on, `width` of them, counted from −rate/2.
    pub fn cells(&self, frame: &Frame, first: usize, width: usize) -> Result<Vec<u8>, ReadError> {
        let n = self.fft.len();
        let x = self.of(frame)?;
        let power: Vec<f32> =
            (first..first + width).map(|k| x[(k + n / 2) % n].norm_sqr()).collect();
        drop(x);
        let floor = medians(&power, WINDOW, WINDOW / 2);
        let cell = |(p, m): (&f32, &f32)| {
            let scale = UNIT / (MEDIAN * m).max(f32::MIN_POSITIVE);
            (p * scale + 0.5) as u8
        };
        Ok(power.iter().zip(&floor).map(cell).collect())
    }
}

/// Hands over what `make` gives of each frame, in order; frames are worked on side by side.
/// `step` hears of each batch and may fail.
pub(super) fn each_frame<T: Send, E: Send + From<ReadError>>(
    frames: &[Frame],
    together: usize,
    make: impl Fn(&Frame) -> Result<T, ReadError> + Sync,
    mut take: impl FnMut(usize, T),
    mut step: impl FnMut(f64) -> Result<(), E>,
) -> Result<(), E> {
    let mut done = 0;
    for batch in frames.chunks(together) {
        let made: Vec<Result<T, ReadError>> = batch.par_iter().map(&make).collect();
        for (i, made) in made.into_iter().enumerate() {
            take(done + i, made?);
        }
        done += batch.len();
        step(done as f64 / frames.len() as f64)?;
    }
    Ok(())
}
