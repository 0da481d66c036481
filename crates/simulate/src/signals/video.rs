//! FM of a composite picture signal: 625/50 and 525/60 with the synchronising signals of ITU-R
//! BT.470, a grey test picture, and an FM sound subcarrier.
//!
//! Levels run from 0 (sync tip) over blanking to 1 (white). Field sync: equalising, broad and
//! equalising pulses at half-line spacing, interlaced by half a line.

use super::simple::{Modulator, SoundAtRate};
use super::{Lines, Wave};
use std::sync::{Arc, OnceLock};
use units::Iq;

/// Samples per line.
const PER_LINE: usize = 2560;
/// Subcarrier's share of the deviation, and its own deviation (common practice, no source).
const SOUND_SHARE: f64 = 0.12;
/// Peak deviation of the sound subcarrier.
const SOUND_DEVIATION_HZ: f64 = 50e3;

/// Times of one system, microseconds (TV-001…016).
struct Timing {
    lines: usize,
    line_hz: f64,
    sync_us: f64,
    front_porch_us: f64,
    blanking_us: f64,
    equalising_us: f64,
    broad_us: f64,
    /// Half-lines of equalising, broad, equalising pulses.
    pulses: usize,
    /// Half-lines without picture at the start of a field, pulses included.
    blanked: usize,
    /// Sync tip to blanking over sync tip to white.
    sync_share: f64,
}

impl Lines {
    fn timing(self) -> Timing {
        match self {
            Lines::L625 => Timing {
                lines: 625,
                line_hz: 15_625.0,
                sync_us: 4.7,
                front_porch_us: 1.5,
                blanking_us: 12.0,
                equalising_us: 2.35,
                broad_us: 27.3,
                pulses: 5,
                blanked: 50,
                sync_share: 0.3,
            },
            Lines::L525 => Timing {
                lines: 525,
                line_hz: 4.5e6 / 286.0,
                sync_us: 4.7,
                front_porch_us: 1.5,
                blanking_us: 10.9,
                equalising_us: 2.3,
                broad_us: 27.1,
                pulses: 6,
                blanked: 42,
                sync_share: 40.0 / 140.0,
            },
        }
    }
    /// Samples per second of its wave.
    pub fn rate_hz(self) -> f64 {
        PER_LINE as f64 * self.timing().line_hz
    }
    /// One frame of two fields, levels 0 to 1, made once.
    pub fn frame(self) -> Arc<[f32]> {
        static FRAMES: [OnceLock<Arc<[f32]>>; 2] = [OnceLock::new(), OnceLock::new()];
        let slot = match self {
            Lines::L625 => &FRAMES[0],
            Lines::L525 => &FRAMES[1],
        };
        slot.get_or_init(|| compose(&self.timing()).into()).clone()
    }
}

/// Brightness of the test picture, 0 to 1, at x and y of 0 to 1: grey steps, a diagonal, a disc.
fn picture(x: f64, y: f64) -> f64 {
    if y < 0.4 {
        return (x * 8.0).floor() / 7.0;
    }
    let (dx, dy) = ((x - 0.5) * 4.0 / 3.0, y - 0.7);
    if dx * dx + dy * dy < 0.04 {
        return if dx * dy > 0.0 { 1.0 } else { 0.1 };
    }
    0.5 + 0.4 * (std::f64::consts::TAU * 6.0 * (x + y)).sin()
}

fn compose(t: &Timing) -> Vec<f32> {
    let us = 1e6 / t.line_hz / PER_LINE as f64;
    let at = |microseconds: f64| (microseconds / us).round() as usize;
    let half = PER_LINE / 2;
    let halves = 2 * t.lines;
    let blank = t.sync_share as f32;
    let mut frame = vec![blank; halves * half];
    for field in 0..2 {
        // The second field begins in the middle of a line.
        let first = field * t.lines;
        for h in 0..t.lines {
            let start = (first + h) * half;
            let pulse = match h {
                h if h < t.pulses => Some(t.equalising_us),
                h if h < 2 * t.pulses => Some(t.broad_us),
                h if h < 3 * t.pulses => Some(t.equalising_us),
                // Whole lines begin at even half-lines of the frame.
                _ if (first + h).is_multiple_of(2) => Some(t.sync_us),
                _ => None,
            };
            if let Some(us) = pulse {
                frame[start..start + at(us)].fill(0.0);
            }
        }
    }
    for line in 0..t.lines {
        let start = line * PER_LINE;
        let (a, z) = (at(t.blanking_us - t.front_porch_us), PER_LINE - at(t.front_porch_us));
        for (k, v) in frame[start..start + PER_LINE].iter_mut().enumerate() {
            let h = 2 * line + usize::from(k >= half);
            let (field, in_field) = (h / t.lines, h % t.lines);
            if (a..z).contains(&k) && in_field >= t.blanked {
                let rows = (t.lines - t.blanked) as f64;
                let y =
                    (in_field - t.blanked) as f64 / rows + field as f64 / (2.0 * t.lines as f64);
                let x = (k - a) as f64 / (z - a) as f64;
                *v = blank + (1.0 - blank) * picture(x, y.min(1.0)) as f32;
            }
        }
    }
    smooth(&mut frame, (5e6 * us * 1e-6).recip());
    frame
}

/// Edges of a 5 MHz channel: two running means of half its period each.
fn smooth(frame: &mut [f32], samples: f64) {
    let n = (samples / 2.0).round().max(1.0) as usize;
    for _ in 0..2 {
        let copy = frame.to_vec();
        let len = copy.len();
        let mut sum: f64 = (0..n).map(|k| f64::from(copy[(len + k - n / 2) % len])).sum();
        for (k, v) in frame.iter_mut().enumerate() {
            *v = (sum / n as f64) as f32;
            let leaves = f64::from(copy[(len + k - n / 2) % len]);
            sum += f64::from(copy[(k + n - n / 2) % len]) - leaves;
        }
    }
}

/// The running transmitter.
pub struct VideoFm {
    frame: Arc<[f32]>,
    at: usize,
    deviation: f64,
    sound: Option<(SoundAtRate, f64, Modulator)>,
    rate_hz: f64,
    modulator: Modulator,
}

impl VideoFm {
    /// `start` samples into a frame; `deviation_hz` each way; sound and its subcarrier.
    pub fn new(
        system: Lines,
        deviation_hz: f64,
        start: u64,
        sound: Option<(SoundAtRate, f64)>,
    ) -> VideoFm {
        let (frame, rate_hz) = (system.frame(), system.rate_hz());
        let at = (start % frame.len() as u64) as usize;
        let sound = sound.map(|(s, hz)| (s, hz, Modulator::default()));
        let modulator = Modulator::default();
        VideoFm { frame, at, deviation: deviation_hz / rate_hz, sound, rate_hz, modulator }
    }
}

impl Wave for VideoFm {
    fn fill(&mut self, out: &mut [Iq]) {
        for z in out.iter_mut() {
            // Mid-range carries no deviation; white goes up.
            *z = Iq::new(2.0 * self.frame[self.at] - 1.0, 0.0);
            self.at = (self.at + 1) % self.frame.len();
        }
        if let Some((sound, hz, subcarrier)) = &mut self.sound {
            let sound = sound.next(out.len());
            for (z, s) in out.iter_mut().zip(sound) {
                let turns = (*hz + SOUND_DEVIATION_HZ * f64::from(s.re)) / self.rate_hz;
                z.re += SOUND_SHARE as f32 * subcarrier.push(turns).re;
            }
        }
        for z in out {
            *z = self.modulator.push(self.deviation * f64::from(z.re));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sync_has_the_standards_times_and_levels() {
        for (system, rate, blanking, share) in [
            (Lines::L625, 15_625.0, 12.0, 0.3),
            (Lines::L525, 15_734.265_734_3, 10.9, 0.285_714_29),
        ] {
            let frame = system.frame();
            // TV-002, TV-019: samples per line over the sample rate is the line period.
            assert!((system.rate_hz() / PER_LINE as f64 - rate).abs() < 1e-6);
            let lines = frame.len() / PER_LINE;
            // TV-003, TV-021: two fields a frame.
            let field_hz = 2.0 * rate / lines as f64;
            let expected = if system == Lines::L625 { 50.0 } else { 59.940_059_940_1 };
            assert!((field_hz - expected).abs() < 1e-6);
            // A picture line in the middle of the first field: sync 4.7 µs at half height
            // (TV-004, TV-011), blanking (TV-005, TV-012).
            let line = &frame[100 * PER_LINE..101 * PER_LINE];
            let us = 1e6 / system.rate_hz();
            let low = line.iter().filter(|v| **v < 0.5 * share as f32).count() as f64 * us;
            assert!((low - 4.7).abs() < 0.1, "{low}");
            let front = 1.5;
            // White or black: grey step 1 is black, so measure to the first step over blanking.
            let first = line.iter().position(|v| *v > share as f32 + 0.03).expect("picture");
            let step = (1e6 / rate - blanking) / 8.0;
            let active = first as f64 * us - step;
            assert!((active - (blanking - front)).abs() < 0.3, "{active}");
            // TV-017, TV-018: sync tip 0, blanking at its share.
            let porch = line[(6.0 / us) as usize];
            assert!((porch - share as f32).abs() < 1e-3 && line[20] < 1e-3);
            // TV-008, TV-014: broad pulses.
            let pulses = if system == Lines::L625 { 5 } else { 6 };
            let half = PER_LINE / 2;
            let broad = &frame[pulses * half..(pulses + 1) * half];
            let low = broad.iter().filter(|v| **v < 0.5 * share as f32).count() as f64 * us;
            let expected = if system == Lines::L625 { 27.3 } else { 27.1 };
            assert!((low - expected).abs() < 0.2, "{low}");
        }
    }
}
