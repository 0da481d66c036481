//! How far over the ideal energy detector a burst of unknown place, length and width must stand to
//! be found.

use super::air::{Air, random};
use detect::{Burst, Detection, Options};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

/// Samples a second of the grid's recordings.
pub const RATE_HZ: f64 = 2.4e6;
/// Lengths, seconds, by widths, hertz.
pub const LENGTHS_S: [f64; 5] = [0.2e-3, 2e-3, 20e-3, 0.2, 1.0];
pub const WIDTHS_HZ: [f64; 5] = [5e3, 20e3, 80e3, 300e3, 1e6];
/// Bursts in one recording at most: each has its own stretch of time.
const TOGETHER: usize = 8;
/// Distances from the ideal that are tried, dB.
const STEPS_DB: std::ops::RangeInclusive<i32> = -2..=30;

/// One length and width.
#[derive(Debug, Clone, Copy)]
pub struct Cell {
    pub length_s: f64,
    pub width_hz: f64,
}

/// What was measured of one.
#[derive(Debug, Clone)]
pub struct Measured {
    pub cell: Cell,
    /// SNR in its band that the ideal detector needs, dB.
    pub ideal_db: f64,
    /// Distance from it, dB, and how often it was found there.
    pub curve: Vec<(f64, f64)>,
    /// Distance at which nine of ten are found.
    pub short_db: Option<f64>,
    /// Bursts that were never sent, in all recordings.
    pub stray: usize,
    /// Mean number of bursts that one came in, where it was found.
    pub pieces: f64,
}

impl Cell {
    fn samples(&self) -> usize {
        (self.length_s * RATE_HZ) as usize
    }
    /// Bursts in one recording, and its samples.
    fn layout(&self) -> (usize, usize) {
        let slot = self.slot();
        let count = ((1.5 * RATE_HZ) as usize / slot).clamp(1, TOGETHER);
        (count, (count * slot).max((1.2 * RATE_HZ) as usize))
    }
    fn slot(&self) -> usize {
        self.samples() + (0.1 * RATE_HZ) as usize
    }

    /// SNR, dB, at which a detector that knows noise, length and width, but not the place, finds
    /// nine of ten: a test a place, and together `false_rows` in the recording (Urkowitz 1967).
    pub fn ideal_db(&self, false_rows: f64) -> f64 {
        let tw = self.length_s * self.width_hz;
        let places = self.layout().1 as f64 / tw;
        units::db_from_ratio(dsp::required_snr(tw, false_rows / places, 0.9))
    }

    /// Found, sent, pieces of those found, and bursts never sent, at one SNR.
    fn trial(
        &self,
        seed: u64,
        snr_db: f64,
        options: &Options,
    ) -> anyhow::Result<(usize, usize, usize, usize)> {
        let mut rng = random(seed);
        let (count, samples) = self.layout();
        let mut air = Air::quiet(&mut rng, RATE_HZ, samples);
        let sent: Vec<Sent> =
            (0..count).map(|k| self.send(&mut air, &mut rng, k, snr_db)).collect();
        let (detection, bursts) = air.detected(options)?;
        let kept: Vec<&Burst> = bursts.iter().filter(|b| is_row(&detection, b)).collect();
        let of = |s: &Sent| kept.iter().filter(|b| s.is(b)).count();
        let pieces: Vec<usize> = sent.iter().map(of).collect();
        let stray = kept.iter().filter(|b| !sent.iter().any(|s| s.is(b))).count();
        Ok((pieces.iter().filter(|p| **p > 0).count(), count, pieces.iter().sum(), stray))
    }

    fn send(&self, air: &mut Air, rng: &mut ChaCha8Rng, slot: usize, snr_db: f64) -> Sent {
        let length = self.samples();
        let first = slot * self.slot() + rng.random_range(0..self.slot() - length);
        let reach = 0.46 * RATE_HZ - 0.5 * self.width_hz;
        // The receiver's own constant sits in the middle.
        let near = 0.5 * self.width_hz + 2e3;
        let centre_hz = loop {
            let hz: f64 = rng.random_range(-reach..reach);
            if hz.abs() > near || near > reach {
                break hz;
            }
        };
        air.add(rng, first..first + length, centre_hz, self.width_hz, 10f64.powf(0.1 * snr_db));
        let start_s = first as f64 / RATE_HZ;
        Sent { start_s, stop_s: start_s + self.length_s, centre_hz, width_hz: self.width_hz }
    }

    /// Tries distances from the ideal until nearly all are found.
    ///
    /// # Errors
    /// If the detector refuses.
    pub fn measure(&self, bursts: u64, options: &Options) -> anyhow::Result<Measured> {
        let ideal_db = self.ideal_db(options.false_rows);
        let mut measured = Measured {
            cell: *self,
            ideal_db,
            curve: Vec::new(),
            short_db: None,
            stray: 0,
            pieces: 0.0,
        };
        let runs = bursts.div_ceil(self.layout().0 as u64);
        for step in STEPS_DB {
            let over_db = f64::from(step);
            let all = (0..runs)
                .into_par_iter()
                .map(|s| self.trial(7000 + s, ideal_db + over_db, options))
                .try_reduce(
                    || (0, 0, 0, 0),
                    |a, b| Ok((a.0 + b.0, a.1 + b.1, a.2 + b.2, a.3 + b.3)),
                )?;
            let part = all.0 as f64 / all.1 as f64;
            if let (None, Some((before_db, before)), true) =
                (measured.short_db, measured.curve.last().copied(), part >= 0.9)
            {
                let into = (0.9 - before) / (part - before);
                measured.short_db = Some(before_db + into * (over_db - before_db));
            }
            measured.curve.push((over_db, part));
            measured.stray += all.3;
            measured.pieces = all.2 as f64 / all.0.max(1) as f64;
            if part >= 0.97 {
                break;
            }
        }
        Ok(measured)
    }
}

/// One burst as it was sent.
struct Sent {
    start_s: f64,
    stop_s: f64,
    centre_hz: f64,
    width_hz: f64,
}

impl Sent {
    /// Whether a burst lies where this was sent: in its time, and with its centre in its band or
    /// the other way about.
    fn is(&self, b: &Burst) -> bool {
        let together = b.start_s.max(self.start_s) < b.stop_s.min(self.stop_s);
        let apart_hz = (b.centre_hz - self.centre_hz).abs();
        together && apart_hz <= 0.5 * b.bandwidth_hz.max(self.width_hz).max(500.0)
    }
}

fn is_row(detection: &Detection, b: &Burst) -> bool {
    detection.rows.get(b.group as usize).is_some_and(Option::is_some)
}
