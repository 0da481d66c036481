//! OFDM: subcarriers to samples, for any part of the spectrum. A receiver that hears a slice of a
//! wide carrier gets only the subcarriers of that slice, at a rate to match; symbol times stay.

use super::Wave;
use rustfft::{Fft, FftPlanner};
use std::sync::Arc;
use units::{Band, Iq};

/// One symbol: its cyclic prefix in seconds and its subcarriers, from the lowest of the carrier.
pub struct Symbol {
    /// Prefix.
    pub prefix_s: f64,
    /// Amplitude of each subcarrier, the carrier's lowest first.
    pub carriers: Vec<Iq>,
}

/// Makes one symbol after the other; `None`: silence from here on.
pub type Symbols = Box<dyn FnMut() -> Option<Symbol> + Send>;

/// Which subcarriers are heard, and at which rate they are made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slice {
    spacing_hz: f64,
    first: i64,
    last: i64,
    /// Subcarrier at the wave's zero frequency.
    middle: i64,
    fft: usize,
}

impl Slice {
    /// Of subcarriers `lowest`..=`highest` (0 is the carrier's centre), those inside `heard` with
    /// a margin of 8; `None` if there is none. At least `least_fft` points, twice as many as
    /// subcarriers.
    pub fn new(
        spacing_hz: f64,
        lowest: i64,
        highest: i64,
        heard: Band,
        least_fft: usize,
    ) -> Option<Slice> {
        let edge = |hz: f64| (hz / spacing_hz).clamp(-1e9, 1e9) as i64;
        let first = lowest.max(edge(heard.low_hz) - 8);
        let last = highest.min(edge(heard.high_hz) + 8);
        if first > last {
            return None;
        }
        let count = (last - first + 1) as usize;
        let fft = (2 * count).next_power_of_two().max(least_fft);
        Some(Slice { spacing_hz, first, last, middle: (first + last) / 2, fft })
    }
    /// Samples per second.
    pub fn rate_hz(&self) -> f64 {
        self.fft as f64 * self.spacing_hz
    }
    /// Where the wave's zero lies, from the carrier's centre.
    pub fn offset_hz(&self) -> f64 {
        self.middle as f64 * self.spacing_hz
    }
    /// Half of the width that carries something, side lobes of the outer subcarriers included.
    pub fn reach_hz(&self) -> f64 {
        (0.5 * (self.last - self.first + 1) as f64 * 1.15 + 4.0) * self.spacing_hz
    }
}

/// A running OFDM signal.
pub struct Ofdm {
    symbols: Symbols,
    slice: Slice,
    lowest: i64,
    gain: f32,
    fft: Arc<dyn Fft<f32>>,
    scratch: Vec<Iq>,
    /// The present symbol with its prefix, and how much of it was handed out.
    ready: Vec<Iq>,
    at: usize,
    /// Samples before the present symbol.
    before: u64,
}

impl Ofdm {
    /// `lowest` is the number of the first subcarrier of each symbol; `gain` scales amplitudes;
    /// the first `skip_s` seconds are left out.
    pub fn new(symbols: Symbols, slice: Slice, lowest: i64, gain: f64, skip_s: f64) -> Ofdm {
        let fft = FftPlanner::new().plan_fft_inverse(slice.fft);
        let scratch = vec![Iq::default(); fft.get_inplace_scratch_len()];
        let gain = gain as f32;
        let mut wave = Ofdm {
            symbols,
            slice,
            lowest,
            gain,
            fft,
            scratch,
            ready: Vec::new(),
            at: 0,
            before: 0,
        };
        let mut skip = (skip_s * slice.rate_hz()).round() as usize;
        while skip > 0 {
            wave.refill();
            wave.at = skip.min(wave.ready.len());
            skip -= wave.at;
        }
        wave
    }
    fn refill(&mut self) {
        self.at = 0;
        self.before += self.ready.len() as u64;
        self.ready.clear();
        let n = self.slice.fft;
        let Some(symbol) = (self.symbols)() else {
            self.ready.resize(n, Iq::default());
            return;
        };
        let prefix = (symbol.prefix_s * self.slice.rate_hz()).round() as usize;
        // The wave will be shifted by its middle subcarrier, which turns on from symbol to
        // symbol; the carrier itself starts each symbol at phase 0.
        let useful = (self.before + prefix as u64) as i64 % n as i64;
        let turns = -((self.slice.middle * useful) as f64 / n as f64).fract();
        let (s, c) = (std::f64::consts::TAU * turns).sin_cos();
        let gain = Iq::new(c as f32, s as f32) * self.gain;
        let mut bins = vec![Iq::default(); n];
        for k in self.slice.first..=self.slice.last {
            let amplitude = symbol.carriers.get((k - self.lowest) as usize);
            let bin = (k - self.slice.middle).rem_euclid(n as i64) as usize;
            bins[bin] = amplitude.copied().unwrap_or_default() * gain;
        }
        self.fft.process_with_scratch(&mut bins, &mut self.scratch);
        self.ready.extend(bins.iter().cycle().skip(n - prefix % n).take(prefix));
        self.ready.extend(&bins);
    }
}

impl Wave for Ofdm {
    fn fill(&mut self, out: &mut [Iq]) {
        let mut done = 0;
        while done < out.len() {
            if self.at == self.ready.len() {
                self.refill();
            }
            let n = (out.len() - done).min(self.ready.len() - self.at);
            out[done..done + n].copy_from_slice(&self.ready[self.at..self.at + n]);
            self.at += n;
            done += n;
        }
    }
}
