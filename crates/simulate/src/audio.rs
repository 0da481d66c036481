//! Sound as the transmitters take it: band-limited, compressed, at 16 kHz, from any moment.

use crate::draw;
use crate::signals::Sound;
use crate::voice::{RATE_HZ, Speaker};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Sound handed to the simulation from outside, one channel.
#[derive(Debug, Clone, PartialEq)]
pub struct GivenSound {
    /// Samples per second.
    pub rate_hz: f64,
    /// Samples within ±1; repeated from the start when they end.
    pub samples: Arc<[f32]>,
}

/// Who talks where, and what was given.
#[derive(Debug, Clone, Default)]
pub struct Stage {
    seed: u64,
    talks: BTreeMap<String, Vec<(f64, f64)>>,
    given: BTreeMap<String, GivenSound>,
}

impl Stage {
    /// `talks` per room in scene seconds, in order.
    pub fn new(
        seed: u64,
        talks: BTreeMap<String, Vec<(f64, f64)>>,
        given: BTreeMap<String, GivenSound>,
    ) -> Stage {
        Stage { seed, talks, given }
    }
    /// Who speaks in a room. A room without talks is silent.
    pub fn room(&self, room: &str) -> Speaker {
        let spans = self.talks.get(room).cloned().unwrap_or_default();
        Speaker::new(draw::key(self.seed, &[0x700, draw::name(room)]), Some(spans))
    }
    /// The sound named, as a stream from scene second `from_s`; `key` tells programmes apart.
    pub fn open(&self, sound: &Sound, key: u64, from_s: f64, top_hz: f64) -> AudioStream {
        let source = match sound {
            Sound::Silence => Source::Silence,
            Sound::Programme => Source::Speech(Speaker::new(draw::key(self.seed, &[key]), None)),
            Sound::Room(room) => Source::Speech(self.room(room)),
            Sound::ToneHz(hz) => Source::Tone(*hz),
            Sound::Given(name) => {
                self.given.get(name).map_or(Source::Silence, |g| Source::Given(g.clone()))
            }
        };
        // The filters settle within 50 ms.
        let first = (from_s * RATE_HZ).round() as i64;
        let mut stream = AudioStream {
            pass: matches!(source, Source::Tone(_)),
            source,
            next: first - 800,
            high: Biquad::high_pass(300.0),
            low: [
                Biquad::low_pass(top_hz.min(7000.0), 0.541),
                Biquad::low_pass(top_hz.min(7000.0), 1.307),
            ],
        };
        let mut settle = [0f32; 800];
        stream.fill(&mut settle);
        stream
    }
}

#[derive(Debug, Clone)]
enum Source {
    Silence,
    Speech(Speaker),
    Tone(f64),
    Given(GivenSound),
}

/// Sound at 16 kHz, within ±1: 300 Hz to the top frequency, lightly compressed (a tone as it is).
#[derive(Debug, Clone)]
pub struct AudioStream {
    source: Source,
    pass: bool,
    next: i64,
    high: Biquad,
    low: [Biquad; 2],
}

impl AudioStream {
    /// The next samples.
    pub fn fill(&mut self, out: &mut [f32]) {
        match &mut self.source {
            Source::Silence => out.fill(0.0),
            Source::Speech(s) => s.render(self.next, out),
            Source::Tone(hz) => {
                for (k, x) in out.iter_mut().enumerate() {
                    let turns = (*hz * (self.next + k as i64) as f64 / RATE_HZ).rem_euclid(1.0);
                    *x = (std::f64::consts::TAU * turns).sin() as f32;
                }
            }
            Source::Given(g) if g.samples.len() > 1 => {
                for (k, x) in out.iter_mut().enumerate() {
                    let at = ((self.next + k as i64) as f64 * g.rate_hz / RATE_HZ)
                        .rem_euclid(g.samples.len() as f64);
                    let i = (at.floor() as usize).min(g.samples.len() - 1);
                    let after = g.samples[(i + 1) % g.samples.len()];
                    *x = g.samples[i] + (after - g.samples[i]) * at.fract() as f32;
                }
            }
            Source::Given(_) => out.fill(0.0),
        }
        self.next += out.len() as i64;
        if self.pass {
            return;
        }
        for x in out.iter_mut() {
            let mut y = self.high.push(f64::from(*x));
            y = self.low.iter_mut().fold(y, |y, f| f.push(y));
            *x = (2.2 * y).tanh() as f32;
        }
    }
}

/// Second-order section at 16 kHz (bilinear transform of the analogue prototype; textbook).
#[derive(Debug, Clone, Default)]
struct Biquad {
    b: [f64; 3],
    a: [f64; 2],
    s: [f64; 2],
}

impl Biquad {
    fn low_pass(hz: f64, q: f64) -> Biquad {
        Biquad::design(hz, q, |w| [(1.0 - w) / 2.0, 1.0 - w, (1.0 - w) / 2.0])
    }
    fn high_pass(hz: f64) -> Biquad {
        Biquad::design(hz, 0.707, |w| [(1.0 + w) / 2.0, -1.0 - w, (1.0 + w) / 2.0])
    }
    fn design(hz: f64, q: f64, numerator: impl Fn(f64) -> [f64; 3]) -> Biquad {
        let w = std::f64::consts::TAU * hz / RATE_HZ;
        let alpha = w.sin() / (2.0 * q);
        let a0 = 1.0 + alpha;
        Biquad {
            b: numerator(w.cos()).map(|b| b / a0),
            a: [-2.0 * w.cos() / a0, (1.0 - alpha) / a0],
            s: [0.0; 2],
        }
    }
    fn push(&mut self, x: f64) -> f64 {
        let y = self.b[0] * x + self.s[0];
        self.s = [self.b[1] * x - self.a[0] * y + self.s[1], self.b[2] * x - self.a[1] * y];
        y
    }
}
