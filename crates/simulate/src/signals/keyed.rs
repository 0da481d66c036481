//! Digital keying of a carrier: amplitude (OOK by pulse width), frequency (FSK, Gaussian FSK,
//! GMSK) and phase (PSK with root-raised-cosine or rectangular pulses).

use super::Wave;
use super::simple::Modulator;
use crate::draw;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::collections::VecDeque;
use units::Iq;

/// erf(x) by its Maclaurin series to |x| = 3, ±1 beyond (error under 3e-5).
fn erf(x: f64) -> f64 {
    if x.abs() > 3.0 {
        return x.signum();
    }
    let (mut term, mut sum) = (x, x);
    for n in 1..60 {
        term *= -x * x / f64::from(n);
        sum += term / f64::from(2 * n + 1);
    }
    sum * 2.0 / std::f64::consts::PI.sqrt()
}

/// Symbol source of a frequency modulator: levels within ±1, `None` when the packet is over.
pub type Levels = Box<dyn FnMut() -> Option<f32> + Send>;

/// Continuous-phase frequency-shift keying; the frequency pulse is a rectangle, or one smoothed
/// by a Gaussian filter of given bandwidth-time product (Murota and Hirade 1981), cut to 4
/// symbols.
pub struct Cpfsk {
    levels: Levels,
    /// Frequency pulse: `span` rows of `per_symbol`.
    pulse: Vec<f32>,
    per_symbol: usize,
    span: usize,
    recent: VecDeque<f32>,
    at: usize,
    turns: f64,
    modulator: Modulator,
}

impl Cpfsk {
    /// `per_symbol` samples a symbol; `deviation` in turns a sample at level 1.
    pub fn new(levels: Levels, per_symbol: usize, deviation: f64, bt: Option<f64>) -> Cpfsk {
        let span = if bt.is_some() { 4 } else { 1 };
        let n = span * per_symbol;
        let mut pulse: Vec<f64> = vec![1.0; n];
        if let Some(bt) = bt {
            let alpha = std::f64::consts::PI * bt * (2.0 / std::f64::consts::LN_2).sqrt();
            for (k, p) in pulse.iter_mut().enumerate() {
                let t = (k as f64 + 0.5) / per_symbol as f64 - span as f64 / 2.0;
                *p = 0.5 * (erf(alpha * (t + 0.5)) - erf(alpha * (t - 0.5)));
            }
            // Any run of equal symbols reaches the full deviation.
            let area = pulse.iter().sum::<f64>() / per_symbol as f64;
            pulse.iter_mut().for_each(|p| *p /= area);
        }
        let mut wave = Cpfsk {
            levels,
            pulse: pulse.iter().map(|p| *p as f32).collect(),
            per_symbol,
            span,
            recent: VecDeque::from(vec![0.0; span]),
            at: per_symbol,
            turns: deviation,
            modulator: Modulator::default(),
        };
        // The pulse of symbol 0 is centred on the middle of symbol time 0.
        let mut lead = vec![Iq::default(); (span - 1) * per_symbol / 2];
        wave.fill(&mut lead);
        wave
    }
}

impl Wave for Cpfsk {
    fn fill(&mut self, out: &mut [Iq]) {
        for z in out {
            if self.at == self.per_symbol {
                self.at = 0;
                self.recent.pop_back();
                self.recent.push_front((self.levels)().unwrap_or(0.0));
            }
            let mut f = 0.0;
            for (j, level) in self.recent.iter().enumerate().take(self.span) {
                f += level * self.pulse[j * self.per_symbol + self.at];
            }
            self.at += 1;
            *z = self.modulator.push(self.turns * f64::from(f));
        }
    }
}

/// Random levels: ±1, or ±1, ±1/3.
pub fn random_levels(count: u32, key: u64) -> Levels {
    let mut rng = draw::rng(key, &[]);
    Box::new(move || {
        Some(match count {
            4 => [-1.0, -1.0 / 3.0, 1.0 / 3.0, 1.0][rng.random_range(0..4)],
            _ => f32::from(i8::from(draw::bit(&mut rng)) * 2 - 1),
        })
    })
}

/// Levels from a packet's bits: 1 is +1.
pub fn packet_levels(bits: Vec<bool>) -> Levels {
    let mut bits = bits.into_iter();
    Box::new(move || bits.next().map(|b| if b { 1.0 } else { -1.0 }))
}

/// Phase-shift keying of random symbols, mean power 1.
pub struct Psk {
    rng: ChaCha8Rng,
    points: u32,
    pulse: Vec<f32>,
    per_symbol: usize,
    recent: VecDeque<Iq>,
    at: usize,
}

/// Impulse response of a root-raised-cosine filter at `t` symbols (Proakis; textbook).
fn root_raised_cosine(t: f64, rolloff: f64) -> f64 {
    use std::f64::consts::{FRAC_PI_4, PI};
    let four = 4.0 * rolloff * t;
    if t.abs() < 1e-9 {
        1.0 - rolloff + 4.0 * rolloff / PI
    } else if (four.abs() - 1.0).abs() < 1e-9 {
        let (s, c) = (FRAC_PI_4 / rolloff).sin_cos();
        rolloff / 2f64.sqrt() * ((1.0 + 2.0 / PI) * s + (1.0 - 2.0 / PI) * c)
    } else {
        let x = PI * t;
        ((x * (1.0 - rolloff)).sin() + four * (x * (1.0 + rolloff)).cos())
            / (x * (1.0 - four * four))
    }
}

impl Psk {
    /// `points` 2 or 4; the filter is cut to 24 symbols.
    pub fn new(points: u32, per_symbol: usize, rolloff: Option<f64>, key: u64) -> Psk {
        let span = if rolloff.is_some() { 24 } else { 1 };
        let n = span * per_symbol;
        let mut pulse: Vec<f64> = (0..n)
            .map(|k| {
                let t = (k as f64 + 0.5) / per_symbol as f64 - span as f64 / 2.0;
                rolloff.map_or(1.0, |r| root_raised_cosine(t, r))
            })
            .collect();
        let energy = pulse.iter().map(|p| p * p).sum::<f64>() / per_symbol as f64;
        pulse.iter_mut().for_each(|p| *p /= energy.sqrt());
        let mut wave = Psk {
            rng: draw::rng(key, &[]),
            points,
            pulse: pulse.iter().map(|p| *p as f32).collect(),
            per_symbol,
            recent: VecDeque::from(vec![Iq::default(); span]),
            at: per_symbol,
        };
        let mut lead = vec![Iq::default(); n];
        wave.fill(&mut lead);
        wave
    }
}

impl Wave for Psk {
    fn fill(&mut self, out: &mut [Iq]) {
        for z in out {
            if self.at == self.per_symbol {
                self.at = 0;
                self.recent.pop_back();
                let sign = |b: bool| if b { 1.0f32 } else { -1.0 };
                let i = sign(draw::bit(&mut self.rng));
                self.recent.push_front(if self.points == 4 {
                    let q = sign(draw::bit(&mut self.rng));
                    Iq::new(i, q) * std::f32::consts::FRAC_1_SQRT_2
                } else {
                    Iq::new(i, 0.0)
                });
            }
            let mut y = Iq::default();
            for (j, a) in self.recent.iter().enumerate() {
                y += a * self.pulse[j * self.per_symbol + self.at];
            }
            self.at += 1;
            *z = y;
        }
    }
}

/// Words of pulse-width bits: 0 is on for a third of the bit, 1 for two thirds; the same word
/// again and again with a pause between. Edges take a tenth of a third.
pub struct OokWords {
    bits: Vec<bool>,
    bit_s: f64,
    word_s: f64,
    rate_hz: f64,
    next: u64,
}

/// Samples per bit of [`OokWords`].
pub const OOK_OVERSAMPLING: f64 = 96.0;

impl OokWords {
    /// The word follows from `key`; sample 0 lies `skip_s` after the start of a word.
    pub fn new(key: u64, word_bits: u32, bit_rate: f64, pause_s: f64, skip_s: f64) -> OokWords {
        let mut rng = draw::rng(key, &[]);
        let bits: Vec<bool> = (0..word_bits).map(|_| draw::bit(&mut rng)).collect();
        let rate_hz = OOK_OVERSAMPLING * bit_rate;
        let word_s = f64::from(word_bits) / bit_rate + pause_s;
        OokWords { bits, bit_s: 1.0 / bit_rate, word_s, rate_hz, next: (skip_s * rate_hz) as u64 }
    }
}

impl Wave for OokWords {
    fn fill(&mut self, out: &mut [Iq]) {
        for z in out {
            let t = (self.next as f64 / self.rate_hz).rem_euclid(self.word_s);
            self.next += 1;
            let index = (t / self.bit_s) as usize;
            let amplitude = self.bits.get(index).map_or(0.0, |one| {
                let third = self.bit_s / 3.0;
                let on_s = if *one { 2.0 * third } else { third };
                let x = t - index as f64 * self.bit_s;
                let edge = (x.min(on_s - x) / (0.1 * third)).clamp(0.0, 1.0);
                0.5 - 0.5 * (std::f64::consts::PI * edge).cos()
            });
            *z = Iq::new(amplitude as f32, 0.0);
        }
    }
}
