//! Recordings in memory with signals that are known exactly, made without the project's own
//! generator.
#![allow(dead_code, reason = "each test uses a part of it")]

pub mod dsss;

use detect::{Burst, Detection, Hooks, Options};
use num_complex::Complex64;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use std::f64::consts::TAU;
use units::{Iq, ReadError, Samples, Segment};

/// One segment of samples.
pub struct Memory {
    rate_hz: f64,
    segments: Vec<Segment>,
    iq: Vec<Iq>,
}

impl Samples for Memory {
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

impl Memory {
    /// Segments of `lengths` samples, each that many seconds after the one before it ended, all at
    /// `centre_hz`.
    pub fn new(iq: &[Complex64], rate_hz: f64, centre_hz: f64, lengths: &[(f64, u64)]) -> Self {
        let iq: Vec<Iq> = iq.iter().map(|x| Iq::new(x.re as f32, x.im as f32)).collect();
        let mut segments = Vec::new();
        let (mut at, mut samples) = (units::Utc(1_700_000_000_000_000_000), 0);
        for (after_s, length) in lengths {
            at = at.plus_seconds(*after_s);
            segments.push(Segment {
                first_sample: samples,
                samples: *length,
                centre_hz: Some(centre_hz),
                start: Some(at),
            });
            at = at.plus_seconds(*length as f64 / rate_hz);
            samples += length;
        }
        assert_eq!(samples, iq.len() as u64, "the segments are the samples");
        Memory { rate_hz, segments, iq }
    }
    /// One segment.
    pub fn whole(iq: &[Complex64], rate_hz: f64, centre_hz: f64) -> Self {
        Memory::new(iq, rate_hz, centre_hz, &[(0.0, iq.len() as u64)])
    }
}

/// What is found in samples at `rate_hz`, and the bursts.
pub fn found(iq: &[Complex64], rate_hz: f64, options: &Options) -> (Detection, Vec<Burst>) {
    let iq: Vec<Iq> = iq.iter().map(|x| Iq::new(x.re as f32, x.im as f32)).collect();
    let samples = iq.len() as u64;
    let segments = vec![Segment { first_sample: 0, samples, centre_hz: None, start: None }];
    let mut bursts = Vec::new();
    let detection = detect::from_samples(
        &Memory { rate_hz, segments, iq },
        options,
        &mut Hooks {
            on_burst: &mut |b| bursts.push(b),
            on_progress: &mut |_| true,
            on_samples: None,
        },
    );
    (detection.expect("memory can be read"), bursts)
}

pub fn random(seed: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(seed)
}

/// White complex noise of `power` in all.
pub fn noise(rng: &mut ChaCha8Rng, samples: usize, power: f64) -> Vec<Complex64> {
    let sd = (0.5 * power).sqrt();
    let mut rail = || -> f64 { StandardNormal.sample(rng) };
    (0..samples).map(|_| Complex64::new(rail(), rail()) * sd).collect()
}

/// Adds a carrier of `power` over `span`; its phase at sample 0 is drawn.
pub fn add_carrier(
    iq: &mut [Complex64],
    rng: &mut ChaCha8Rng,
    turns_a_sample: f64,
    power: f64,
    span: std::ops::Range<usize>,
) {
    let phase = rng.random_range(0.0..1.0);
    for i in span {
        let turns = (phase + turns_a_sample * i as f64).fract();
        iq[i] += Complex64::from_polar(power.sqrt(), TAU * turns);
    }
}

/// Noise passed through `taps`.
pub fn filtered(input: &[Complex64], taps: &[f64]) -> Vec<Complex64> {
    input.windows(taps.len()).map(|w| w.iter().zip(taps).map(|(x, t)| x * t).sum()).collect()
}

/// Moves a signal up in frequency.
pub fn shift(iq: &mut [Complex64], turns_a_sample: f64) {
    for (i, x) in iq.iter_mut().enumerate() {
        *x *= Complex64::from_polar(1.0, TAU * (turns_a_sample * i as f64).fract());
    }
}

pub fn mean_power(iq: &[Complex64]) -> f64 {
    iq.iter().map(Complex64::norm_sqr).sum::<f64>() / iq.len() as f64
}

pub fn db(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}
