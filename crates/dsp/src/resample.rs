//! Mixing a band down to zero and reducing its rate, and changing the rate by any ratio, both by
//! one polyphase low-pass filter.

use crate::fir::{dot, lowpass};
use num_complex::Complex64;
use std::f64::consts::TAU;
use units::Iq;

/// Samples whose mixer is one product away from an exact one.
const TURNED: u64 = 256;

/// The mixer after `samples` samples.
fn turn(turn_per_sample: f64, samples: u64) -> Complex64 {
    let turns = (turn_per_sample * samples as f64).rem_euclid(1.0);
    Complex64::from_polar(1.0, TAU * turns)
}

/// Mixes by a fixed frequency, low-passes and keeps every `decimation`-th sample. Streaming.
#[derive(Debug, Clone)]
pub struct DownConverter {
    reversed: Vec<f32>,
    line: Vec<Iq>,
    decimation: usize,
    turn_per_sample: f64,
    /// Turns of the mixer after 0, 1, 2, … samples.
    turned: Vec<Complex64>,
    /// Input samples seen, for the mixer's phase.
    seen: u64,
    /// Samples of `line` to skip before the next output.
    skip: usize,
}

impl DownConverter {
    /// `offset` from the input's centre to the wanted centre and `width` to keep flat, both as
    /// fractions of the input rate; `decimation` ≥ 1 with width ≤ 0.8/decimation. Stop band 70 dB.
    pub fn new(offset: f64, width: f64, decimation: usize) -> Self {
        let decimation = decimation.max(1);
        let pass = (0.5 * width).clamp(1e-6, 0.49);
        let stop = (1.0 / decimation as f64 - pass).clamp(pass + 1e-4, 0.5);
        let taps = if decimation == 1 && width >= 0.9 {
            vec![1.0]
        } else {
            lowpass(pass, stop.max(pass + 0.002), 70.0)
        };
        let reversed: Vec<f32> = taps.iter().rev().map(|t| *t as f32).collect();
        // Start half a filter in, so that output 0 stands for input 0.
        let line = vec![Iq::default(); reversed.len() / 2];
        let turn_per_sample = -offset;
        let turned = (0..TURNED).map(|k| turn(turn_per_sample, k)).collect();
        DownConverter { reversed, line, decimation, turn_per_sample, turned, seen: 0, skip: 0 }
    }
    /// Largest decimation that keeps `width` (a fraction of the input rate) flat and free of
    /// aliases.
    pub fn decimation_for(width: f64) -> usize {
        ((0.8 / width.max(1e-9)).floor() as usize).max(1)
    }
    /// Mean power out of white noise of unit power in: the filter's noise bandwidth as a fraction of
    /// the input rate.
    pub fn noise_bandwidth(&self) -> f64 {
        self.reversed.iter().map(|t| f64::from(*t).powi(2)).sum()
    }
    /// Feeds a block and appends what comes out. Output sample i stands for input sample
    /// i·decimation.
    pub fn push(&mut self, block: &[Iq], out: &mut Vec<Iq>) {
        self.line.reserve(block.len());
        for part in block.chunks(TURNED as usize) {
            let first = turn(self.turn_per_sample, self.seen);
            self.line.extend(part.iter().zip(&self.turned).map(|(x, turned)| {
                let mixer = first * turned;
                x * Iq::new(mixer.re as f32, mixer.im as f32)
            }));
            self.seen += part.len() as u64;
        }
        self.drain(out);
    }
    /// Pushes out what is still in the filter.
    pub fn finish(&mut self, out: &mut Vec<Iq>) {
        self.line.extend(std::iter::repeat_n(Iq::default(), self.reversed.len() / 2));
        self.drain(out);
    }
    fn drain(&mut self, out: &mut Vec<Iq>) {
        let taps = self.reversed.len();
        while self.line.len() >= self.skip + taps {
            out.push(dot(&self.line[self.skip..self.skip + taps], &self.reversed));
            self.skip += self.decimation;
        }
        let gone = self.skip.min(self.line.len());
        self.line.drain(..gone);
        self.skip -= gone;
    }
}

/// Changes the rate by any ratio with a polyphase filter of 256 phases, linear between phases
/// (images about 90 dB down). Streaming; output sample i stands for input time i/ratio.
#[derive(Debug, Clone)]
pub struct Resampler {
    phases: Vec<Vec<f32>>,
    line: Vec<Iq>,
    step: f64,
    at: f64,
}

const PHASES: usize = 256;

impl Resampler {
    /// `ratio` = output rate over input rate, > 0. Flat to 0.8 of the lower rate's half.
    pub fn new(ratio: f64) -> Self {
        let keep = ratio.min(1.0);
        let taps = lowpass(0.4 * keep / PHASES as f64, 0.5 * keep / PHASES as f64 * 1.2, 80.0);
        let length = taps.len().div_ceil(PHASES);
        // Phase p holds every PHASES-th tap from p on, reversed, with gain one.
        let tap = |i: usize| taps.get(i).copied().unwrap_or(0.0) * PHASES as f64;
        let phase = |p: usize| (0..length).rev().map(|k| tap(k * PHASES + p) as f32).collect();
        let phases: Vec<Vec<f32>> = (0..=PHASES).map(phase).collect();
        // Centre tap at time zero.
        let delay = (taps.len() - 1) as f64 / 2.0 / PHASES as f64;
        let line = vec![Iq::default(); length - 1];
        Resampler { phases, line, step: 1.0 / ratio, at: delay }
    }
    /// Feeds a block and appends what comes out.
    pub fn push(&mut self, block: &[Iq], out: &mut Vec<Iq>) {
        self.line.extend_from_slice(block);
        let length = self.phases[0].len();
        // Output at input time `at` (of the newest sample under the filter's first tap).
        while (self.at.floor() as usize) + length <= self.line.len() {
            let whole = self.at.floor();
            let exact = (self.at - whole) * PHASES as f64;
            let (phase, blend) = (exact.floor() as usize, exact.fract() as f32);
            let seen = &self.line[whole as usize..whole as usize + length];
            let a = dot(seen, &self.phases[phase]);
            let b = dot(seen, &self.phases[phase + 1]);
            out.push(a * (1.0 - blend) + b * blend);
            self.at += self.step;
        }
        let gone = (self.at.floor() as usize).min(self.line.len());
        self.line.drain(..gone);
        self.at -= gone as f64;
    }
    /// Pushes out what is still in the filter.
    pub fn finish(&mut self, out: &mut Vec<Iq>) {
        let rest = vec![Iq::default(); self.phases[0].len()];
        self.push(&rest, out);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tone(f: f64, n: usize) -> Vec<Iq> {
        (0..n)
            .map(|i| {
                let (s, c) = (TAU * (f * i as f64).rem_euclid(1.0)).sin_cos();
                Iq::new(c as f32, s as f32)
            })
            .collect()
    }

    #[test]
    fn a_tone_comes_down_in_place_and_others_vanish() {
        let n = 40_000;
        let mut down = DownConverter::new(0.2, 0.01, 40);
        let mut out = Vec::new();
        for block in tone(0.201, n).chunks(999) {
            down.push(block, &mut out);
        }
        down.finish(&mut out);
        assert!((out.len() as i64 - 1000).abs() <= 1, "{}", out.len());
        for (i, y) in out.iter().enumerate().skip(20).take(900) {
            let want =
                Iq::from_polar(1.0, (TAU * (0.001 * 40.0 * i as f64).rem_euclid(1.0)) as f32);
            assert!((y - want).norm() < 5e-3, "{i}: {y} {want}");
        }
        let mut out = Vec::new();
        let mut down = DownConverter::new(0.2, 0.01, 40);
        down.push(&tone(0.24, n), &mut out);
        assert!(out[20..900].iter().all(|y| y.norm() < 1e-3));
    }

    #[test]
    fn resampling_keeps_frequency_phase_and_level() {
        for ratio in [0.37, 1.0, 1.9, 2.4] {
            let mut resampler = Resampler::new(ratio);
            let mut out = Vec::new();
            for block in tone(0.1, 5000).chunks(333) {
                resampler.push(block, &mut out);
            }
            let want = tone(0.1 / ratio, out.len());
            for i in 200..out.len() - 200 {
                assert!(
                    (out[i] - want[i]).norm() < 2e-3,
                    "ratio {ratio}, {i}: {} {}",
                    out[i],
                    want[i]
                );
            }
        }
    }
}
