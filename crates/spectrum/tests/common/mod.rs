//! Samples in memory, and noise with a known seed.

#![allow(dead_code)]

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use units::{Iq, ReadError, Samples, Segment};

/// A recording held in memory.
pub struct Memory {
    pub iq: Vec<Iq>,
    pub segments: Vec<Segment>,
}

impl Memory {
    pub fn one(iq: Vec<Iq>) -> Memory {
        let samples = iq.len() as u64;
        let segment = Segment { first_sample: 0, samples, centre_hz: None, start: None };
        Memory { iq, segments: vec![segment] }
    }
}

impl Samples for Memory {
    fn sample_rate_hz(&self) -> f64 {
        1e6
    }
    fn segments(&self) -> &[Segment] {
        &self.segments
    }
    fn rail_limits(&self) -> Option<(f32, f32)> {
        None
    }
    fn read(&self, first: u64, out: &mut [Iq]) -> Result<(), ReadError> {
        let first = first as usize;
        match self.iq.get(first..first + out.len()) {
            Some(from) => out.copy_from_slice(from),
            None => {
                return Err(ReadError { what: format!("{first}: past the end"), source: None });
            }
        }
        Ok(())
    }
}

pub fn rng(seed: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(seed)
}

/// Circular Gaussian noise of mean |x|² = `power`.
pub fn noise(samples: usize, power: f64, rng: &mut ChaCha8Rng) -> Vec<Iq> {
    let scale = (power / 2.0).sqrt() as f32;
    let mut draw = || {
        let x: f32 = StandardNormal.sample(rng);
        x * scale
    };
    (0..samples).map(|_| Iq::new(draw(), draw())).collect()
}

/// A tone of `amplitude` at `turns` per sample.
pub fn tone(samples: usize, amplitude: f64, turns: f64) -> Vec<Iq> {
    let at = |i: usize| {
        let phase = std::f64::consts::TAU * (turns * i as f64).fract();
        Iq::new((amplitude * phase.cos()) as f32, (amplitude * phase.sin()) as f32)
    };
    (0..samples).map(at).collect()
}

pub fn db(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}
