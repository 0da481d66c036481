//! Chirp spread spectrum: symbols are cyclic shifts of one rising chirp of 2^factor chips.

use super::Wave;
use super::simple::Modulator;
use crate::draw;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use units::Iq;

/// Samples per second over the swept width.
pub const CHIRP_OVERSAMPLING: f64 = 4.0;
/// Unshifted rising chirps before anything else, then symbols of the synchronisation word, then
/// falling chirps (Semtech AN1200.22).
const PREAMBLE: u64 = 8;
const SYNC: [u64; 2] = [24, 32];
const DOWN: f64 = 2.25;

/// One packet, symbols without end.
pub struct Chirp {
    chips: u64,
    /// Samples of a symbol.
    per_symbol: u64,
    at: u64,
    symbol: u64,
    shift: u64,
    rng: ChaCha8Rng,
    modulator: Modulator,
}

impl Chirp {
    /// From the start of the packet.
    pub fn new(spreading: u32, key: u64) -> Chirp {
        let chips = 1 << spreading;
        Chirp {
            chips,
            per_symbol: chips * CHIRP_OVERSAMPLING as u64,
            at: 0,
            symbol: 0,
            shift: 0,
            rng: draw::rng(key, &[]),
            modulator: Modulator::default(),
        }
    }
    /// Length of a symbol in samples, and whether it rises.
    fn symbol(&self) -> (u64, bool) {
        let down = PREAMBLE + SYNC.len() as u64;
        let whole = DOWN.floor() as u64;
        match self.symbol {
            k if k < down => (self.per_symbol, true),
            k if k < down + whole => (self.per_symbol, false),
            k if k == down + whole => ((self.per_symbol as f64 * DOWN.fract()) as u64, false),
            _ => (self.per_symbol, true),
        }
    }
}

impl Wave for Chirp {
    fn fill(&mut self, out: &mut [Iq]) {
        for z in out {
            let (length, rises) = self.symbol();
            // Frequency in widths, −½ to ½, falling back when it reaches the top.
            let x = self.at as f64 / self.per_symbol as f64 + self.shift as f64 / self.chips as f64;
            let frequency = (x.fract() - 0.5) * if rises { 1.0 } else { -1.0 };
            *z = self.modulator.push(frequency / CHIRP_OVERSAMPLING);
            self.at += 1;
            if self.at == length {
                self.at = 0;
                self.symbol += 1;
                self.shift = match self.symbol {
                    k if k < PREAMBLE => 0,
                    k if k < PREAMBLE + 2 => SYNC[(k - PREAMBLE) as usize] % self.chips,
                    k if k <= PREAMBLE + 2 + DOWN as u64 => 0,
                    _ => self.rng.random_range(0..self.chips),
                };
            }
        }
    }
}
