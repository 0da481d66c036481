//! Fluctuations of correlation (Burel 2000): the correlation of each window with itself, delayed,
//! in each part of the band; its variance over the windows, delay by delay.
//!
//! In noise |R(τ)|² of a window is exponential with the mean σ⁴(N−τ)/N². Data that spread the same
//! code again and again make R at whole symbols a sum of random signs: its variance rises, its
//! mean stays zero. What repeats with its own phase (a prefix, a training sequence, a line, the
//! colour of the noise) moves the mean instead, which the variance leaves out.

use super::baseline::{over_level, running_median};
use super::ladder::{LEVELS, Part};
use dsp::Fft;
use num_complex::Complex64;
use units::Iq;

/// A window whose correlation is louder than noise's by this over all delays is no noise.
const NO_NOISE: f64 = 2.0;

/// Fewest windows that say anything.
const FEWEST: f64 = 8.0;
/// A part with less than this of an even share of the power has been taken out.
const EMPTY: f32 = 0.1;

/// One length of windows.
#[derive(Debug)]
pub(super) struct Fluctuation {
    /// Length of the transforms; a window has three quarters of it, delays a quarter.
    length: usize,
    forward: Fft,
    /// For each level.
    back: Vec<Fft>,
    parts: Vec<Sum>,
    /// Windows taken, and windows refused.
    windows: u64,
    refused: u64,
    waiting: Vec<Iq>,
}

/// What is summed of one part of the band, for each delay.
#[derive(Debug)]
struct Sum {
    part: Part,
    /// Windows in which it had something left in it, and its power in them over an even share.
    windows: f64,
    power: f64,
    square: Vec<f64>,
    mean: Vec<Complex64>,
}

/// What the delays of one part of the band show. A delay step is half a sample of the part's own
/// width: 2^level / 2 samples.
#[derive(Debug)]
pub(super) struct Delays {
    pub part: Part,
    /// Its power over an even share: less where some of it was taken out.
    pub share: f64,
    /// Variance over that of noise, for each step: one on average.
    pub over: Vec<f64>,
    /// Square of the mean over the same, beyond its neighbours'.
    pub steady: Vec<f64>,
    /// Samples of the part's own width in a window.
    pub samples: f64,
    /// Averages that `over` is worth.
    pub averages: f64,
    /// Samples in a step.
    pub step_samples: f64,
}

impl Fluctuation {
    /// `length`: a power of two; delays up to a quarter of it are looked at.
    pub fn new(length: usize) -> Self {
        let parts = (0..LEVELS).flat_map(Part::of_level).map(|part| {
            let delays = length >> (part.level + 1);
            let (square, mean) = (vec![0.0; delays], vec![Complex64::default(); delays]);
            Sum { part, windows: 0.0, power: 0.0, square, mean }
        });
        Fluctuation {
            length,
            forward: Fft::forward(length),
            back: (0..LEVELS).map(|l| Fft::inverse((2 * length) >> l)).collect(),
            parts: parts.collect(),
            windows: 0,
            refused: 0,
            waiting: Vec::new(),
        }
    }

    /// Samples of a window.
    pub fn window(&self) -> usize {
        self.length / 4 * 3
    }

    /// Takes white samples; `kept` is the fraction of the band that was not taken out of them.
    pub fn push(&mut self, white: &[Iq], kept: f64) {
        self.waiting.extend_from_slice(white);
        let waiting = std::mem::take(&mut self.waiting);
        let windows = waiting.chunks_exact(self.window());
        self.waiting = windows.remainder().to_vec();
        for window in windows {
            self.add(window, kept);
        }
    }

    /// Samples are missing: no window spans them.
    pub fn gap(&mut self) {
        self.waiting.clear();
    }

    fn add(&mut self, window: &[Iq], kept: f64) {
        let mut spectrum = window.to_vec();
        spectrum.resize(self.length, Iq::default());
        self.forward.in_place(&mut spectrum, &mut self.forward.scratch());
        spectrum.rotate_right(self.length / 2);
        let power: Vec<f32> = spectrum.iter().map(Iq::norm_sqr).collect();
        let total: f32 = power.iter().sum();
        for level in 0..LEVELS {
            let parts: Vec<Part> = Part::of_level(level).collect();
            for pair in parts.chunks(2) {
                let both = self.correlate(&power, pair);
                if level == 0 && self.loudness(&both, 0) > NO_NOISE / kept.max(1e-3) {
                    self.refused += 1;
                    return;
                }
                for (which, part) in pair.iter().enumerate() {
                    self.sum(&both, which, *part, total);
                }
            }
        }
        self.windows += 1;
    }

    /// Correlations of one or two parts at once: powers are real, so that one transform takes two.
    fn correlate(&self, power: &[f32], parts: &[Part]) -> Vec<Iq> {
        let (first, width) = parts[0].bins(self.length);
        let second = parts.get(1).map(|p| p.bins(self.length).0);
        let mut both: Vec<Iq> = (0..width)
            .map(|k| Iq::new(power[first + k], second.map_or(0.0, |s| power[s + k])))
            .collect();
        both.resize(2 * width, Iq::default());
        let back = &self.back[parts[0].level];
        back.in_place(&mut both, &mut back.scratch());
        both
    }

    fn sum(&mut self, both: &[Iq], which: usize, part: Part, total: f32) {
        let Some(sum) = self.parts.iter_mut().find(|s| s.part == part) else { return };
        let zero = at_once(both, which);
        let share = zero / total * (1u32 << part.level) as f32;
        if share.is_nan() || share < EMPTY {
            return;
        }
        sum.windows += 1.0;
        sum.power += f64::from(share);
        let sums = sum.square.iter_mut().zip(&mut sum.mean).skip(1);
        for (r, (square, mean)) in delayed(both, which).zip(sums) {
            let r = r / zero;
            *square += f64::from(r.norm_sqr());
            *mean += Complex64::new(f64::from(r.re), f64::from(r.im));
        }
    }

    /// |R|² over all delays but the shortest, over that of white noise.
    fn loudness(&self, both: &[Iq], which: usize) -> f64 {
        let delays = 16..self.length / 2;
        let zero = f64::from(at_once(both, which)).max(f64::MIN_POSITIVE);
        let n = self.window() as f64;
        let seen = delayed(both, which).zip(1..).skip(delays.start - 1).take(delays.len());
        let sum: f64 = seen.map(|(r, t)| f64::from(r.norm_sqr()) / (n - f64::from(t) / 2.0)).sum();
        sum * (n / zero).powi(2) / delays.len() as f64
    }

    /// Windows taken, and windows that were no noise.
    pub fn windows(&self) -> (u64, u64) {
        (self.windows, self.refused)
    }

    /// What each part of the band shows; nothing of too few windows.
    pub fn delays(&self) -> Vec<Delays> {
        let n = self.window() as f64;
        let shown = |sum: &Sum| {
            let m = sum.windows;
            let averages = m - 1.0;
            let step_samples = (1u32 << sum.part.level) as f64 / 2.0;
            let shrunk = |t: usize| n / (n - t as f64 * step_samples);
            let of = |f: &dyn Fn(usize) -> f64| -> Vec<f64> {
                (0..sum.square.len()).map(|t| f(t).max(0.0) * shrunk(t)).collect()
            };
            let steady = of(&|t| (sum.mean[t] / m).norm_sqr());
            let variance = of(&|t| (sum.square[t] - sum.mean[t].norm_sqr() / m) / averages);
            let level = running_median(&variance);
            let usual = running_median(&steady);
            let steady = (0..steady.len())
                .map(|t| if level[t] > 0.0 { (steady[t] - usual[t]) / level[t] } else { 0.0 });
            Delays {
                part: sum.part,
                share: sum.power / m,
                steady: steady.collect(),
                over: over_level(&variance, averages),
                samples: 0.5 * n / step_samples * sum.power / m,
                averages,
                step_samples,
            }
        };
        self.parts.iter().filter(|sum| sum.windows >= FEWEST).map(shown).collect()
    }
}

/// The transform of one of two real series out of that of a + jb: at zero, which is real, and from
/// one on.
fn at_once(both: &[Iq], which: usize) -> f32 {
    if which == 0 { both[0].re } else { both[0].im }
}

fn delayed(both: &[Iq], which: usize) -> impl Iterator<Item = Iq> {
    let (sign, turn) =
        if which == 0 { (1.0, Iq::new(0.5, 0.0)) } else { (-1.0, Iq::new(0.0, -0.5)) };
    both[1..].iter().zip(both.iter().rev()).map(move |(z, other)| (z + other.conj() * sign) * turn)
}
