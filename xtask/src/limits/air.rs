//! Recordings in memory whose bursts are known exactly: minimum-shift keying in white noise, made
//! without the project's own generator.

use detect::{Burst, Detection, Hooks, Options};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use std::f64::consts::TAU;
use std::ops::Range;
use units::{Iq, ReadError, Samples, Segment};

/// Power of the noise in all, full scale 1.
pub const NOISE: f64 = 1e-4;
/// 99 % bandwidth of minimum-shift keying over its symbol rate (EST: 1.18, closed form).
const MSK: f64 = 1.18;

/// One segment of samples.
pub struct Air {
    rate_hz: f64,
    segments: Vec<Segment>,
    pub iq: Vec<Iq>,
}

impl Samples for Air {
    fn sample_rate_hz(&self) -> f64 {
        self.rate_hz
    }
    fn segments(&self) -> &[Segment] {
        &self.segments
    }
    fn rail_limits(&self) -> Option<(f32, f32)> {
        None
    }
    fn read(&self, first: u64, out: &mut [Iq]) -> Result<(), ReadError> {
        let first = first as usize;
        out.copy_from_slice(&self.iq[first..first + out.len()]);
        Ok(())
    }
}

pub fn random(seed: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(seed)
}

impl Air {
    /// White noise.
    pub fn quiet(rng: &mut ChaCha8Rng, rate_hz: f64, samples: usize) -> Air {
        let sd = (0.5 * NOISE).sqrt() as f32;
        let mut rail = || -> f32 { StandardNormal.sample(rng) };
        let iq = (0..samples).map(|_| Iq::new(sd * rail(), sd * rail())).collect();
        let samples = samples as u64;
        let segments = vec![Segment { first_sample: 0, samples, centre_hz: None, start: None }];
        Air { rate_hz, segments, iq }
    }

    /// Adds minimum-shift keying of random symbols whose 99 % band is `width_hz` about `centre_hz`,
    /// `snr` times the noise in that band.
    pub fn add(
        &mut self,
        rng: &mut ChaCha8Rng,
        span: Range<usize>,
        centre_hz: f64,
        width_hz: f64,
        snr: f64,
    ) {
        let amplitude = (NOISE * width_hz / self.rate_hz * snr).sqrt() as f32;
        let symbols_hz = width_hz / MSK;
        let step = symbols_hz / self.rate_hz;
        let (mut turns, mut sign) = (rng.random_range(0.0..1.0f64), 1.0);
        let mut symbol = rng.random_range(0.0..1.0f64);
        for x in &mut self.iq[span] {
            symbol += step;
            if symbol >= 1.0 {
                symbol -= 1.0;
                sign = if rng.random_range(0..2) == 0 { 1.0 } else { -1.0 };
            }
            turns = (turns + (centre_hz + 0.25 * sign * symbols_hz) / self.rate_hz).fract();
            let (sin, cos) = (TAU * turns).sin_cos();
            *x += Iq::new(amplitude * cos as f32, amplitude * sin as f32);
        }
    }

    /// What the detector makes of it.
    pub fn detected(&self, options: &Options) -> anyhow::Result<(Detection, Vec<Burst>)> {
        let mut bursts = Vec::new();
        let detection = detect::from_samples(
            self,
            options,
            &mut Hooks {
                on_burst: &mut |b| bursts.push(b),
                on_progress: &mut |_| true,
                on_samples: None,
            },
        )?;
        Ok((detection, bursts))
    }
}
