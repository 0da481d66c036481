//! What `bench` listens to: noise alone, and a busy band.

use anyhow::Context;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;
use std::f64::consts::TAU;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

/// What is in the air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Signal {
    /// Nothing but the receiver.
    Noise,
    /// 1,000 bursts a second from 40 senders.
    Busy,
}

impl Signal {
    /// Heading of its table.
    pub fn title(self) -> &'static str {
        match self {
            Signal::Noise => "Noise",
            Signal::Busy => "A busy band: 1,000 bursts a second",
        }
    }
}

/// Samples of one piece: pieces are made apart, each from a seed of its own.
const PIECE: usize = 1 << 20;
/// Noise per rail, steps of a 16-bit converter: −50 dBFS in all.
const NOISE_STEPS: f64 = 73.0;
const BURSTS_A_SECOND: f64 = 1000.0;
const SENDERS: u64 = 40;

/// Writes little-endian 16-bit complex samples.
pub fn write(file: &Path, signal: Signal, rate_hz: f64, samples: u64) -> anyhow::Result<()> {
    let mut out = BufWriter::with_capacity(1 << 20, File::create(file).context("recording")?);
    let pieces = samples.div_ceil(PIECE as u64);
    let together = 2 * rayon::current_num_threads() as u64;
    for first in (0..pieces).step_by(together as usize) {
        let made: Vec<Vec<u8>> = (first..(first + together).min(pieces))
            .into_par_iter()
            .map(|k| {
                let n = (samples - k * PIECE as u64).min(PIECE as u64) as usize;
                piece(signal, rate_hz, k, n)
            })
            .collect();
        for bytes in made {
            out.write_all(&bytes)?;
        }
    }
    out.flush()?;
    Ok(())
}

fn piece(signal: Signal, rate_hz: f64, number: u64, samples: usize) -> Vec<u8> {
    let mut rng = ChaCha8Rng::seed_from_u64(number);
    let mut rails: Vec<f32> = (0..2 * samples)
        .map(|_| {
            let x: f32 = StandardNormal.sample(&mut rng);
            x * NOISE_STEPS as f32
        })
        .collect();
    if signal == Signal::Busy {
        let bursts = (BURSTS_A_SECOND * samples as f64 / rate_hz).round() as u64;
        for _ in 0..bursts {
            add_burst(&mut rails, rate_hz, &mut rng);
        }
    }
    rails.iter().flat_map(|x| (x.round() as i16).to_le_bytes()).collect()
}

/// One burst of 2FSK, 10 kbit/s with ±5 kHz, 0.2 to 2 ms long, 15 to 40 dB over the noise in its
/// 25 kHz: its sender has a channel and a level of its own. Bursts keep within their piece.
fn add_burst(rails: &mut [f32], rate_hz: f64, rng: &mut ChaCha8Rng) {
    let sender = rng.random_range(0..SENDERS);
    let place = |k: u64| (sender * k % SENDERS) as f64 / SENDERS as f64;
    let centre_hz = (place(1) - 0.4875) * 0.9 * rate_hz;
    let snr_db = 15.0 + 25.0 * place(17);
    let noise = 2.0 * NOISE_STEPS * NOISE_STEPS * 25e3 / rate_hz;
    let amplitude = (noise * 10f64.powf(snr_db / 10.0)).sqrt();
    let length = (rng.random_range(0.2e-3..2e-3) * rate_hz) as usize;
    let most = rails.len() / 2;
    if length >= most {
        return;
    }
    let first = rng.random_range(0..most - length);
    let (mut turns, mut sign) = (rng.random_range(0.0..1.0f64), 1.0);
    let symbol = (rate_hz / 10e3) as usize;
    for i in 0..length {
        if i % symbol == 0 {
            sign = if rng.random_range(0..2) == 0 { 1.0 } else { -1.0 };
        }
        turns = (turns + (centre_hz + sign * 5e3) / rate_hz).fract();
        let (sin, cos) = (TAU * turns).sin_cos();
        rails[2 * (first + i)] += (amplitude * cos) as f32;
        rails[2 * (first + i) + 1] += (amplitude * sin) as f32;
    }
}
