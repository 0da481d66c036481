//! LTE (3GPP TS 36.211): a mast's carrier with primary synchronisation, all resource blocks in
//! use; or a terminal's single-carrier subframes with reference symbols.

use super::ofdm::{Ofdm, Slice, Symbol, Symbols};
use super::{Direction, Order, Transmission};
use crate::draw;
use rand::RngExt;
use rustfft::FftPlanner;
use units::Iq;

/// Subcarrier spacing (NUM-005).
const SPACING_HZ: f64 = 15_000.0;
const SLOT_S: f64 = 0.5e-3;
const SUBFRAME_S: f64 = 1e-3;
/// Prefix of the first symbol of a slot and of the other six: 160 and 144 of 30.72 MHz.
const PREFIX_S: [f64; 2] = [160.0 / 30.72e6, 144.0 / 30.72e6];
/// Prefixes are whole samples from this length of transform on.
const LEAST_FFT: usize = 128;
/// Root of the primary synchronisation sequence of group 0 (NUM-007).
const ROOT: f64 = 25.0;
/// Share of its subframes that a terminal is given while it has something to send.
const GIVEN: f64 = 0.6;

/// Zadoff–Chu value `n` of a sequence of odd length.
fn zadoff_chu(root: f64, n: usize, length: usize) -> Iq {
    let n = n as f64;
    let turns = (root * n * (n + 1.0) / (2.0 * length as f64)).fract();
    let (s, c) = (-std::f64::consts::TAU * turns).sin_cos();
    Iq::new(c as f32, s as f32)
}

fn qpsk(rng: &mut rand_chacha::ChaCha8Rng) -> Iq {
    let mut sign = || if rng.random() { 1.0f32 } else { -1.0 };
    Iq::new(sign(), sign()) * std::f32::consts::FRAC_1_SQRT_2
}

/// A mast's symbols from slot `slot` on: subcarriers −6·blocks to 6·blocks, none at the centre.
fn down(key: u64, blocks: usize, mut slot: u64) -> Symbols {
    let half = 6 * blocks;
    let mut symbol = 0;
    let mut rng = draw::rng(key, &[0x17e, slot]);
    Box::new(move || {
        let mut carriers: Vec<Iq> = (0..=2 * half).map(|_| qpsk(&mut rng)).collect();
        carriers[half] = Iq::default();
        // Last symbol of slots 0 and 10 of a frame: 62 subcarriers, five empty on each side.
        if symbol == 6 && slot.is_multiple_of(10) {
            for k in 0..=72usize {
                carriers[half - 36 + k] = match k {
                    5..=35 => zadoff_chu(ROOT, k - 5, 63),
                    37..=67 => zadoff_chu(ROOT, k - 5, 63),
                    _ => Iq::default(),
                };
            }
        }
        let prefix_s = PREFIX_S[usize::from(symbol > 0)];
        symbol = (symbol + 1) % 7;
        slot += u64::from(symbol == 0);
        Some(Symbol { prefix_s, carriers })
    })
}

/// A terminal's symbols: data spread by a Fourier transform, the middle of each slot reference.
fn up(key: u64, blocks: usize) -> Symbols {
    let width = 12 * blocks;
    let fft = FftPlanner::new().plan_fft_forward(width);
    let mut rng = draw::rng(key, &[0x17f]);
    let mut symbol = 0;
    // A Zadoff–Chu sequence of the largest odd length that fits, continued cyclically.
    let length = width - 1;
    Box::new(move || {
        let mut carriers: Vec<Iq>;
        if symbol == 3 {
            carriers = (0..width).map(|n| zadoff_chu(1.0, n % length, length)).collect();
        } else {
            carriers = (0..width).map(|_| qpsk(&mut rng)).collect();
            fft.process(&mut carriers);
            let scale = 1.0 / (width as f32).sqrt();
            carriers.iter_mut().for_each(|c| *c *= scale);
        }
        let prefix_s = PREFIX_S[usize::from(symbol > 0)];
        symbol = (symbol + 1) % 7;
        Some(Symbol { prefix_s, carriers })
    })
}

/// The wave of a transmission; `None` where nothing of it is heard.
pub fn open(order: &Order<'_>, blocks: u32, direction: Direction) -> Option<(Slice, Ofdm, f64)> {
    let half = 6 * i64::from(blocks);
    let key = draw::key(order.emitter, &[order.transmission.id, order.from_s.to_bits()]);
    let gain = 1.0 / (2.0 * half as f64).sqrt();
    match direction {
        Direction::Down => {
            let slice = Slice::new(SPACING_HZ, -half, half, order.heard, LEAST_FFT)?;
            let slot = (order.from_s / SLOT_S).floor().max(0.0);
            let symbols = down(key, blocks as usize, slot as u64);
            let wave = Ofdm::new(symbols, slice, -half, gain, order.from_s - slot * SLOT_S);
            Some((slice, wave, 0.0))
        }
        Direction::Up => {
            let slice = Slice::new(SPACING_HZ, -half, half - 1, order.heard, LEAST_FFT)?;
            let symbols = up(draw::key(order.emitter, &[order.transmission.id]), blocks as usize);
            let skip_s = order.from_s - order.transmission.start_s;
            // Subcarriers lie half a spacing beside the carrier's centre.
            Some((slice, Ofdm::new(symbols, slice, -half, gain, skip_s), SPACING_HZ / 2.0))
        }
    }
}

/// Runs of subframes that a terminal is given inside an on-time.
pub fn subframes(on: (f64, f64), id: u64, window: (f64, f64), emitter: u64) -> Vec<Transmission> {
    let from = ((on.0.max(window.0) / SUBFRAME_S).floor() - 1.0).max(0.0) as u64;
    let until = (on.1.min(window.1) / SUBFRAME_S).ceil().max(0.0) as u64;
    (from..until)
        .filter(|k| draw::between(&mut draw::rng(emitter, &[0x5f, *k]), 0.0, 1.0) < GIVEN)
        .map(|k| {
            let start_s = k as f64 * SUBFRAME_S;
            let id = (id << 40) ^ k;
            Transmission { start_s, stop_s: start_s + SUBFRAME_S, offset_hz: 0.0, id }
        })
        .filter(|t| t.start_s >= on.0 && t.stop_s > window.0 && t.start_s < window.1)
        .collect()
}
