//! Carriers and noise, and the two oldest ways to carry sound: AM and FM.

use super::Wave;
use crate::audio::AudioStream;
use crate::draw;
use crate::resample::{Bank, Resampler};
use rand_chacha::ChaCha8Rng;
use units::Iq;

/// A bare carrier at its own centre.
pub struct Carrier;

impl Wave for Carrier {
    fn fill(&mut self, out: &mut [Iq]) {
        out.fill(Iq::new(1.0, 0.0));
    }
}

/// Gaussian noise, flat over nine tenths of its width, −6 dB at the edges.
pub struct FlatNoise {
    bank: Bank,
    resampler: Resampler,
    rng: ChaCha8Rng,
}

/// Sample rate of [`FlatNoise`] over its width.
pub const NOISE_OVERSAMPLING: f64 = 2.5;

impl FlatNoise {
    /// Noise of the given width.
    pub fn new(width_hz: f64, key: u64) -> FlatNoise {
        let bank = Bank::new(width_hz, NOISE_OVERSAMPLING * width_hz, 0.45);
        let resampler = Resampler::new(&bank, 100.0);
        FlatNoise { bank, resampler, rng: draw::rng(key, &[]) }
    }
}

impl Wave for FlatNoise {
    fn fill(&mut self, out: &mut [Iq]) {
        let rng = &mut self.rng;
        out.fill(Iq::default());
        self.resampler.add(&self.bank, out, &mut |fresh| {
            for z in fresh {
                let (re, im) = (draw::normal(rng), draw::normal(rng));
                *z = Iq::new(re as f32, im as f32) * std::f32::consts::FRAC_1_SQRT_2;
            }
        });
    }
}

/// Sound at 16 kHz brought to a transmitter's sample rate; two channels ride in one complex.
pub struct SoundAtRate {
    bank: Bank,
    resampler: Resampler,
    left: AudioStream,
    right: Option<AudioStream>,
    scratch: [Vec<f32>; 2],
    complex: Vec<Iq>,
}

impl SoundAtRate {
    /// One channel, or two.
    pub fn new(left: AudioStream, right: Option<AudioStream>, rate_hz: f64) -> SoundAtRate {
        let bank = Bank::new(crate::voice::RATE_HZ, rate_hz, 0.45);
        let resampler = Resampler::new(&bank, 0.0);
        let scratch = [Vec::new(), Vec::new()];
        SoundAtRate { bank, resampler, left, right, scratch, complex: Vec::new() }
    }
    /// The next `n` samples: left in `re`, right (else 0) in `im`.
    pub fn next(&mut self, n: usize) -> &[Iq] {
        let (left, right, scratch) = (&mut self.left, &mut self.right, &mut self.scratch);
        self.complex.clear();
        self.complex.resize(n, Iq::default());
        self.resampler.add(&self.bank, &mut self.complex, &mut |fresh| {
            let [a, b] = &mut *scratch;
            a.resize(fresh.len(), 0.0);
            left.fill(a);
            b.resize(fresh.len(), 0.0);
            if let Some(right) = right {
                right.fill(b);
            }
            fresh.iter_mut().zip(a.iter().zip(b.iter())).for_each(|(z, (l, r))| {
                *z = Iq::new(*l, *r);
            });
        });
        &self.complex
    }
}

/// AM with carrier of amplitude 1.
pub struct Am {
    sound: SoundAtRate,
    depth: f32,
}

impl Am {
    /// Peak modulation `depth`.
    pub fn new(sound: SoundAtRate, depth: f64) -> Am {
        Am { sound, depth: depth as f32 }
    }
}

impl Wave for Am {
    fn fill(&mut self, out: &mut [Iq]) {
        let sound = self.sound.next(out.len());
        out.iter_mut().zip(sound).for_each(|(z, s)| *z = Iq::new(1.0 + self.depth * s.re, 0.0));
    }
}

/// A frequency modulator: constant envelope, phase kept in turns.
#[derive(Debug, Clone, Default)]
pub struct Modulator {
    turns: f64,
}

impl Modulator {
    /// Advances by a frequency in turns a sample and gives the sample.
    #[inline]
    pub fn push(&mut self, turns: f64) -> Iq {
        self.turns += turns;
        self.turns -= self.turns.floor();
        let (s, c) = (std::f32::consts::TAU * (self.turns as f32 - 0.5)).sin_cos();
        Iq::new(-c, -s)
    }
}

/// FM by one channel of sound.
pub struct Fm {
    sound: SoundAtRate,
    deviation_turns: f64,
    modulator: Modulator,
}

impl Fm {
    /// Peak deviation at the sound's full scale.
    pub fn new(sound: SoundAtRate, deviation_hz: f64, rate_hz: f64) -> Fm {
        Fm { sound, deviation_turns: deviation_hz / rate_hz, modulator: Modulator::default() }
    }
}

impl Wave for Fm {
    fn fill(&mut self, out: &mut [Iq]) {
        let sound = self.sound.next(out.len());
        for (z, s) in out.iter_mut().zip(sound) {
            *z = self.modulator.push(self.deviation_turns * f64::from(s.re));
        }
    }
}
