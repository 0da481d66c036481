//! How weak a steady carrier is still found in a long recording, which is made while it is read.

use super::air::{NOISE, random};
use super::grid::RATE_HZ;
use detect::{Hooks, Options};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use std::f64::consts::TAU;
use units::{Iq, ReadError, Samples, Segment};

/// Carriers in one recording, far apart.
const CARRIERS: usize = 12;
/// Distances from the ideal, dB.
const STEPS_DB: [f64; 5] = [0.0, 1.0, 2.0, 3.0, 4.0];
/// Bins and length of the detector's finest frames at this rate.
const FRAME: f64 = 16_384.0;
/// Noise bandwidth of the Hann window, bins.
const ENBW_BINS: f64 = 1.5;
/// Samples made together.
const PIECE: usize = 1 << 16;

/// Noise with carriers, made anew wherever it is read.
struct Endless {
    segments: Vec<Segment>,
    carriers_hz: Vec<f64>,
    amplitude: f64,
    seed: u64,
}

impl Endless {
    fn piece(&self, number: u64, out: &mut Vec<Iq>) {
        let mut rng: ChaCha8Rng = random(self.seed.wrapping_mul(1 << 32) + number);
        let sd = (0.5 * NOISE).sqrt() as f32;
        out.clear();
        out.extend((0..PIECE).map(|_| {
            let mut rail = || -> f32 { StandardNormal.sample(&mut rng) };
            Iq::new(sd * rail(), sd * rail())
        }));
        let first = number as f64 * PIECE as f64;
        for hz in &self.carriers_hz {
            // Exact at the start of every piece, turned from sample to sample within it.
            let turns = hz / RATE_HZ;
            let mut at =
                num_complex::Complex64::from_polar(self.amplitude, TAU * (turns * first).fract());
            let step = num_complex::Complex64::from_polar(1.0, TAU * turns);
            for x in out.iter_mut() {
                *x += Iq::new(at.re as f32, at.im as f32);
                at *= step;
            }
        }
    }
}

impl Samples for Endless {
    fn sample_rate_hz(&self) -> f64 {
        RATE_HZ
    }
    fn segments(&self) -> &[Segment] {
        &self.segments
    }
    fn rail_limits(&self) -> Option<(f32, f32)> {
        None
    }
    fn read(&self, first: u64, out: &mut [Iq]) -> Result<(), ReadError> {
        let mut piece = Vec::with_capacity(PIECE);
        let mut done = 0;
        while done < out.len() {
            let at = first + done as u64;
            self.piece(at / PIECE as u64, &mut piece);
            let from = (at % PIECE as u64) as usize;
            let n = (PIECE - from).min(out.len() - done);
            out[done..done + n].copy_from_slice(&piece[from..from + n]);
            done += n;
        }
        Ok(())
    }
}

/// What was measured.
pub struct Measured {
    /// Noise bandwidth of a bin.
    pub resolution_hz: f64,
    /// C/N0, distance from the ideal, both dB, found, sent.
    pub curve: Vec<(f64, f64, usize, usize)>,
}

/// Carriers at a few strengths, in recordings of `length_s` seconds.
pub fn measure(length_s: f64, options: &Options) -> anyhow::Result<Measured> {
    let samples = (length_s * RATE_HZ) as u64;
    let resolution_hz = ENBW_BINS * RATE_HZ / FRAME;
    // Frames half overlapped are worth 18/19 of their number (Welch 1967), and there is one test a bin.
    let frames = 2.0 * samples as f64 / FRAME * 18.0 / 19.0;
    let ideal = dsp::required_snr(frames, options.false_rows / FRAME, 0.9);
    let ideal_db = units::db_from_ratio(ideal * resolution_hz);
    let mut curve = Vec::new();
    for (seed, over_db) in STEPS_DB.into_iter().enumerate() {
        let db = ideal_db + over_db;
        let mut rng = random(300 + seed as u64);
        let slot = 0.9 * RATE_HZ / CARRIERS as f64;
        let place = |k: usize, rng: &mut ChaCha8Rng| {
            -0.45 * RATE_HZ + slot * (k as f64 + rng.random_range(0.1..0.4))
        };
        let carriers_hz: Vec<f64> = (0..CARRIERS).map(|k| place(k, &mut rng)).collect();
        let air = Endless {
            segments: vec![Segment { first_sample: 0, samples, centre_hz: None, start: None }],
            amplitude: (units::ratio_from_db(db) * NOISE / RATE_HZ).sqrt(),
            carriers_hz,
            seed: 77 + seed as u64,
        };
        let mut hooks =
            Hooks { on_burst: &mut |_| {}, on_progress: &mut |_| true, on_samples: None };
        let detection = detect::from_samples(&air, options, &mut hooks)?;
        let is_there =
            |hz: &&f64| detection.found.iter().any(|f| (f.centre_hz - **hz).abs() < resolution_hz);
        let found = air.carriers_hz.iter().filter(is_there).count();
        curve.push((db, over_db, found, CARRIERS));
        println!("{over_db} dB: {found} of {CARRIERS}, {} rows", detection.found.len());
    }
    Ok(Measured { resolution_hz, curve })
}
