//! FM broadcasting: stereo multiplex with pilot (ITU-R BS.450, pilot-tone system) and RDS on
//! 57 kHz at 1187.5 bit/s (IEC 62106): 75 kHz peak deviation, 50 µs pre-emphasis.

use super::Wave;
use super::bits::rds_block;
use super::simple::{Modulator, SoundAtRate};
use units::Iq;

/// Sample rate of the multiplex.
pub const BROADCAST_RATE_HZ: f64 = 624_000.0;
/// Peak deviation (NUM-028).
const DEVIATION_HZ: f64 = 75_000.0;
const PILOT_HZ: f64 = 19_000.0;
const PRE_EMPHASIS_S: f64 = 50e-6;
/// Sound is sent loud and limited, as broadcasters do (common practice, no source).
const LOUD: f32 = 0.9;
/// Shares of the deviation: sound, pilot (8 to 10 %), RDS (1.0 to 7.5 kHz; 2 kHz is usual).
const SOUND: f64 = 0.85;
const PILOT: f64 = 0.09;
const RDS: f64 = 2.0 / 75.0;
/// Offset words of blocks A, B, C, D (FRM-023…027).
const OFFSETS: [u16; 4] = [0x0fc, 0x198, 0x168, 0x1b4];

/// The station's signal.
pub struct Broadcast {
    sound: SoundAtRate,
    before: Iq,
    stereo: bool,
    rds: Option<Rds>,
    pilot_turns: f64,
    modulator: Modulator,
}

impl Broadcast {
    /// `sound` has two channels.
    pub fn new(sound: SoundAtRate, stereo: bool, rds: Option<Rds>) -> Broadcast {
        let (before, pilot_turns) = (Iq::default(), 0.0);
        Broadcast { sound, before, stereo, rds, pilot_turns, modulator: Modulator::default() }
    }
}

impl Wave for Broadcast {
    fn fill(&mut self, out: &mut [Iq]) {
        let sound = self.sound.next(out.len());
        let emphasis = (PRE_EMPHASIS_S * BROADCAST_RATE_HZ) as f32;
        for (z, x) in out.iter_mut().zip(sound) {
            let y = *x * LOUD + (*x - self.before) * (LOUD * emphasis);
            self.before = *x;
            let (left, right) =
                (f64::from(y.re.clamp(-1.0, 1.0)), f64::from(y.im.clamp(-1.0, 1.0)));
            let angle = std::f64::consts::TAU * self.pilot_turns;
            let (s, c) = angle.sin_cos();
            let mut mpx = SOUND * 0.5 * (left + right);
            if self.stereo {
                // sin 2a, in phase with the pilot's second harmonic.
                mpx += SOUND * 0.5 * (left - right) * (2.0 * s * c) + PILOT * s;
            }
            if let Some(rds) = &mut self.rds {
                // sin 3a.
                mpx += RDS * rds.push() * (3.0 * s - 4.0 * s * s * s);
            }
            self.pilot_turns = (self.pilot_turns + PILOT_HZ / BROADCAST_RATE_HZ).fract();
            *z = self.modulator.push(DEVIATION_HZ / BROADCAST_RATE_HZ * mpx);
        }
    }
}

/// Baseband of RDS: groups 0A with the station's name, differential coding, biphase symbols
/// shaped by cos(π f T/4) up to 2/T (IEC 62106 clause 1.6 and 1.7).
pub struct Rds {
    bits: Vec<bool>,
    next: usize,
    last: bool,
    /// Signs of the symbols around the present one, latest first.
    around: [f64; RDS_SPAN],
    /// Position in the present bit, 0 to 1.
    at: f64,
    shape: Vec<f64>,
}

/// Symbols that overlap.
const RDS_SPAN: usize = 5;
/// Table steps per symbol.
const RDS_STEPS: usize = 512;
/// Bits per second: the pilot's third harmonic over 48.
pub const RDS_RATE: f64 = 57_000.0 / 48.0;

impl Rds {
    /// Program identification, name (cut or filled to 8 characters).
    pub fn new(pi: u16, name: &str) -> Rds {
        let mut text: Vec<u8> = name.bytes().chain(std::iter::repeat(b' ')).take(8).collect();
        text.iter_mut().filter(|c| !c.is_ascii()).for_each(|c| *c = b'?');
        let bits = (0..4u16)
            .flat_map(|k| {
                // Group 0A, no traffic programme, program type 1; alternative frequencies: none.
                let pair = [text[2 * k as usize], text[2 * k as usize + 1]];
                let blocks = [pi, (1 << 5) | k, 0xe0cd, u16::from_be_bytes(pair)];
                blocks
                    .into_iter()
                    .zip(OFFSETS)
                    .flat_map(|(b, o)| rds_block(b, o))
                    .collect::<Vec<_>>()
            })
            .collect();
        // Biphase symbol: a shaped impulse, and its negative half a bit later.
        let impulse = |t: f64| {
            let (a, f) = (std::f64::consts::FRAC_PI_4, 2.0);
            let part = |w: f64| if w.abs() < 1e-9 { f } else { (w * f).sin() / w };
            part(a + std::f64::consts::TAU * t) + part(a - std::f64::consts::TAU * t)
        };
        let half = RDS_SPAN as f64 / 2.0;
        let mut shape: Vec<f64> = (0..RDS_SPAN * RDS_STEPS)
            .map(|k| {
                let t = k as f64 / RDS_STEPS as f64 - half;
                impulse(t + 0.25) - impulse(t - 0.25)
            })
            .collect();
        let peak = shape.iter().fold(0f64, |m, x| m.max(x.abs()));
        shape.iter_mut().for_each(|x| *x /= peak);
        Rds { bits, next: 0, last: false, around: [0.0; RDS_SPAN], at: 1.0, shape }
    }
    /// The next sample, about ±1.
    pub fn push(&mut self) -> f64 {
        if self.at >= 1.0 {
            self.at -= 1.0;
            self.last ^= self.bits[self.next];
            self.next = (self.next + 1) % self.bits.len();
            self.around.rotate_right(1);
            self.around[0] = if self.last { 1.0 } else { -1.0 };
        }
        let step = (self.at * RDS_STEPS as f64) as usize;
        let sum = (0..RDS_SPAN).map(|j| self.around[j] * self.shape[j * RDS_STEPS + step]).sum();
        self.at += RDS_RATE / BROADCAST_RATE_HZ;
        sum
    }
}
