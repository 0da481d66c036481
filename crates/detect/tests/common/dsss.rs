//! Direct-sequence signals made chip by chip at any rate, and what may stand beside them.
#![allow(dead_code, reason = "each test uses a part of it")]

use super::{TAU, noise};
use num_complex::Complex64;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::f64::consts::PI;

/// A maximal-length sequence of ±1 from the recursion a[n] = a[n−tap] ⊕ a[n−stages].
pub fn code(stages: usize, tap: usize) -> Vec<f64> {
    let mut bits = vec![true; stages];
    for n in stages..(1 << stages) - 1 {
        bits.push(bits[n - tap] ^ bits[n - stages]);
    }
    bits.into_iter().map(|b| if b { 1.0 } else { -1.0 }).collect()
}

#[derive(Debug, Clone, Copy)]
pub enum Pulse {
    Rectangular,
    /// Root raised cosine of this roll-off.
    Cosine(f64),
}

/// Spread data, one code a symbol.
#[derive(Debug, Clone)]
pub struct Spread {
    pub code: Vec<f64>,
    pub chips_a_sample: f64,
    pub pulse: Pulse,
    /// Four phases instead of two.
    pub four: bool,
}

impl Spread {
    /// Samples of power one.
    pub fn make(&self, rng: &mut ChaCha8Rng, samples: usize) -> Vec<Complex64> {
        let span = 8;
        let length = self.code.len();
        let chips = (samples as f64 * self.chips_a_sample) as usize + 2 * span + 4;
        let data: Vec<Complex64> = (0..chips / length + 2)
            .map(|_| match self.four {
                true => Complex64::from_polar(1.0, PI / 2.0 * rng.random_range(0..4) as f64),
                false => Complex64::new(f64::from(rng.random_range(0..2) * 2 - 1), 0.0),
            })
            .collect();
        let late = rng.random_range(0.0..1.0);
        let chip = |i: usize| data[i / length] * self.code[i % length];
        let at = |n: usize| -> Complex64 {
            let t = late + span as f64 + n as f64 * self.chips_a_sample;
            match self.pulse {
                // The mean over the sample: part of this chip, part of the next.
                Pulse::Rectangular => {
                    let i = t as usize;
                    let next = ((t - i as f64 + self.chips_a_sample - 1.0) / self.chips_a_sample)
                        .clamp(0.0, 1.0);
                    chip(i) * (1.0 - next) + chip(i + 1) * next
                }
                Pulse::Cosine(rolloff) => {
                    let middle = t as usize;
                    (middle - span..=middle + span)
                        .map(|i| chip(i) * root_raised_cosine(t - i as f64, rolloff))
                        .sum()
                }
            }
        };
        (0..samples).map(at).collect()
    }
}

/// Root-raised-cosine pulse of unit energy a chip, `t` in chips.
fn root_raised_cosine(t: f64, b: f64) -> f64 {
    if t.abs() < 1e-9 {
        return 1.0 - b + 4.0 * b / PI;
    }
    let pole = 1.0 - (4.0 * b * t).powi(2);
    if pole.abs() < 1e-6 {
        let a = PI / (4.0 * b);
        return b / 2f64.sqrt() * ((1.0 + 2.0 / PI) * a.sin() + (1.0 - 2.0 / PI) * a.cos());
    }
    ((PI * t * (1.0 - b)).sin() + 4.0 * b * t * (PI * t * (1.0 + b)).cos()) / (PI * t * pole)
}

/// A carrier that random speech-like tones move about by `deviation` turns a sample.
pub fn frequency_modulated(
    rng: &mut ChaCha8Rng,
    samples: usize,
    centre: f64,
    deviation: f64,
    tone: f64,
) -> Vec<Complex64> {
    let (a, b) = (rng.random_range(0.0..TAU), rng.random_range(0.0..TAU));
    let mut phase = rng.random_range(0.0..1.0);
    (0..samples)
        .map(|n| {
            let t = TAU * tone * n as f64;
            let moved = 0.6 * (t + a).sin() + 0.4 * (2.618 * t + b).sin();
            phase = (phase + centre + deviation * moved) % 1.0;
            Complex64::from_polar(1.0, TAU * phase)
        })
        .collect()
}

/// Symbols of `carriers` random four-phase carriers with a cyclic prefix; power one.
pub fn multicarrier(
    rng: &mut ChaCha8Rng,
    samples: usize,
    first: i64,
    carriers: i64,
    useful: usize,
    prefix: usize,
) -> Vec<Complex64> {
    let mut out = Vec::with_capacity(samples + useful + prefix);
    let turns: Vec<Complex64> =
        (0..useful).map(|i| Complex64::from_polar(1.0, TAU * i as f64 / useful as f64)).collect();
    while out.len() < samples {
        let data: Vec<Complex64> = (0..carriers)
            .map(|_| Complex64::from_polar(1.0, PI / 2.0 * rng.random_range(0..4) as f64))
            .collect();
        let body: Vec<Complex64> = (0..useful as i64)
            .map(|n| {
                let one = |(c, d): (i64, &Complex64)| {
                    d * turns[((first + c) * n).rem_euclid(useful as i64) as usize]
                };
                (0..carriers).zip(&data).map(one).sum::<Complex64>() / (carriers as f64).sqrt()
            })
            .collect();
        out.extend_from_slice(&body[useful - prefix..]);
        out.extend_from_slice(&body);
    }
    out.truncate(samples);
    out
}

/// Frames of random four-phase symbols, a sample each, that begin with the same `fixed` ones.
pub fn framed(rng: &mut ChaCha8Rng, samples: usize, frame: usize, fixed: usize) -> Vec<Complex64> {
    let draw = |rng: &mut ChaCha8Rng| {
        Complex64::from_polar(1.0, PI / 2.0 * f64::from(rng.random_range(0..4u8)))
    };
    let start: Vec<Complex64> = (0..fixed).map(|_| draw(rng)).collect();
    let at = |i: usize| start.get(i % frame).copied().unwrap_or_else(|| draw(rng));
    (0..samples).map(at).collect()
}

/// Noise whose level falls by `slope_db` from the low to the high end of the band, with a ripple.
pub fn coloured(rng: &mut ChaCha8Rng, samples: usize, slope_db: f64) -> Vec<Complex64> {
    // A two-tap filter about a quarter of the band gives slope, a third, late tap the ripple.
    let ratio = 10f64.powf(slope_db / 20.0);
    let a = (ratio - 1.0) / (ratio + 1.0);
    let white = noise(rng, samples + 16, 1.0);
    let mixed =
        |n: usize| white[n + 15] + Complex64::new(0.0, -a) * white[n + 14] + white[n] * 0.05;
    (0..samples).map(mixed).collect()
}

/// Adds `scale` times one signal to another.
pub fn add(iq: &mut [Complex64], signal: &[Complex64], scale: f64) {
    iq.iter_mut().zip(signal).for_each(|(x, s)| *x += s * scale);
}
