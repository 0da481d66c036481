//! Direct-sequence spread spectrum under the noise, by the fluctuations of correlation (Burel 2000;
//! Burel, Bouder, Berder 2001).
//!
//! Samples are whitened (`whiten`), cut into windows of three lengths and correlated with
//! themselves in the parts of the band (`ladder`, `fluctuation`). A code that is sent again and
//! again with changing data peaks at all multiples of its period (`period`), in the parts of the
//! band that hold it (`edges`). Symbols laid over one another show its wave (`refine`), and in that
//! its chips (`chips`).

mod baseline;
mod chips;
mod edges;
mod far;
mod fluctuation;
mod ladder;
mod period;
mod refine;
mod whiten;

use fluctuation::{Delays, Fluctuation};
use period::Period;
use rayon::prelude::*;
use units::{Band, Iq};
use whiten::Whitener;

/// Lengths of the transforms. Periods up to a sixteenth of the length are looked for.
const LENGTHS: [usize; 3] = [4096, 16384, 65536];
/// Most white samples that are kept for a closer look at what is found.
const KEPT: usize = 1 << 21;

/// Where no chips show, the symbols' common wave must have so many times the power of any other.
/// Multicarrier signals had up to 2.2 (measured), codes at the edge of being found 2.7 or more.
const ALONE: f64 = 3.0;

/// Periods that are looked at closely, those that stand out most.
const CANDIDATES: usize = 4;

/// A search for one spread signal in a stream of samples; memory does not grow with its length.
#[derive(Debug)]
pub struct Spread {
    rate_hz: f64,
    false_alarm: f64,
    whitener: Whitener,
    white: Vec<Iq>,
    looks: Vec<Fluctuation>,
    /// The first samples since the last gap, and the longest run before it.
    run: Vec<Iq>,
    longest: Vec<Iq>,
}

/// A spread signal. Frequencies are offsets from the stream's centre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpreadFound {
    /// Period of the code: one symbol of data.
    pub symbol_s: f64,
    /// Its standard uncertainty.
    pub u_symbol_s: f64,
    /// Chips a second, where they show.
    pub chip_rate_hz: Option<f64>,
    /// Its standard uncertainty.
    pub u_chip_rate_hz: Option<f64>,
    /// Chips of a symbol: the length of the code.
    pub chips: Option<u32>,
    /// Middle of the band that it fills.
    pub centre_hz: f64,
    /// Lower edge of the flat signal that fits best.
    pub low_hz: f64,
    /// Upper edge.
    pub high_hz: f64,
    /// Standard uncertainty of either edge.
    pub u_edge_hz: f64,
    /// Power over that of the noise between the edges, dB.
    pub snr_db: f64,
    /// Multiples of the period that peaked.
    pub multiples: usize,
    /// Probability that noise alone shows as much at any of the periods and parts that were tried.
    pub p: f64,
    /// Seconds that were looked at.
    pub looked_s: f64,
    /// Fraction of the windows that were left out since they held more than noise.
    pub left_out: f64,
}

impl Spread {
    /// A search at `rate_hz` that noise alone makes find something with a probability of at most
    /// `false_alarm`. `leave_out`: bands of known emissions, as offsets from the centre.
    ///
    /// # Panics
    /// If the rate is not above zero or the probability not between 0 and 1.
    pub fn new(rate_hz: f64, leave_out: &[Band], false_alarm: f64) -> Self {
        assert!(rate_hz > 0.0, "{rate_hz} samples a second are none");
        assert!(false_alarm > 0.0 && false_alarm < 1.0, "{false_alarm} is no probability");
        Spread {
            rate_hz,
            false_alarm,
            whitener: Whitener::new(rate_hz, leave_out),
            white: Vec::new(),
            looks: LENGTHS.into_iter().map(Fluctuation::new).collect(),
            run: Vec::new(),
            longest: Vec::new(),
        }
    }

    /// Takes the next samples.
    pub fn push(&mut self, block: &[Iq]) {
        self.whitener.push(block, &mut self.white);
        self.look();
    }

    /// Samples are missing before the next block.
    pub fn gap(&mut self) {
        self.whitener.gap(&mut self.white);
        self.look();
        self.looks.iter_mut().for_each(Fluctuation::gap);
        if self.run.len() > self.longest.len() {
            self.longest = std::mem::take(&mut self.run);
        }
        self.run.clear();
    }

    fn look(&mut self) {
        let (white, kept) = (&self.white, self.whitener.kept());
        self.looks.par_iter_mut().for_each(|look| look.push(white, kept));
        let room = KEPT - self.run.len();
        self.run.extend(self.white.drain(..).take(room));
    }

    /// The spread signal that stands out most.
    pub fn finish(mut self) -> Option<SpreadFound> {
        self.gap();
        let delays: Vec<_> = self.looks.iter().map(Fluctuation::delays).collect();
        let mut candidates: Vec<(Period, usize)> = Vec::new();
        let mut trials = 0.0;
        let mut shortest = 0.0;
        for (at, (length, delays)) in LENGTHS.into_iter().zip(&delays).enumerate() {
            let longest = length as f64 / 16.0;
            let (periods, tried) = period::periods(delays, shortest, longest);
            trials += tried;
            candidates.extend(periods.into_iter().map(|period| (period, at)));
            shortest = longest;
        }
        let ln_trials = f64::ln(trials);
        candidates.retain(|(period, _)| period.ln_p + ln_trials <= self.false_alarm.ln());
        candidates.sort_by(|a, b| a.0.ln_p.total_cmp(&b.0.ln_p));
        // The parts of the band show the same periods: each is looked at once.
        let mut looked_at: Vec<f64> = Vec::new();
        for (period, at) in candidates {
            let same = |samples: &f64| (samples / period.samples - 1.0).abs() < 0.01;
            if !looked_at.iter().any(same) && looked_at.len() < CANDIDATES {
                looked_at.push(period.samples);
                let found = self.confirmed(&period, at, &delays[at], period.ln_p + ln_trials);
                if found.is_some() {
                    return found;
                }
            }
        }
        None
    }

    /// A period as what it is, if its symbols have chips, or at least a wave of their own.
    fn confirmed(
        &self,
        period: &Period,
        at: usize,
        delays: &[Delays],
        ln_p: f64,
    ) -> Option<SpreadFound> {
        let edges = edges::edges(delays, period);
        let symbol = refine::symbol(&self.longest, period, &edges)?;
        let chips = chips::chips(&symbol, &edges);
        // The symbols of a multicarrier signal have prefixes, but no wave in common.
        if chips.is_none() && symbol.alone < ALONE {
            return None;
        }
        // A length is believed exactly once the chips that it holds show.
        let (samples, u_samples) = match chips {
            Some(_) => (symbol.samples, symbol.u_samples),
            None => (period.samples, period.u_samples),
        };
        let symbol_s = samples / self.rate_hz;
        let chip_rate_hz = chips.map(|count| f64::from(count) / symbol_s);
        let (taken, refused) = self.looks[at].windows();
        let hz = |fraction: f64| (fraction - 0.5) * self.rate_hz;
        Some(SpreadFound {
            symbol_s,
            u_symbol_s: u_samples / self.rate_hz,
            chip_rate_hz,
            u_chip_rate_hz: chip_rate_hz.map(|rate| rate * u_samples / samples),
            chips,
            centre_hz: hz(0.5 * (edges.low + edges.high)),
            low_hz: hz(edges.low),
            high_hz: hz(edges.high),
            u_edge_hz: edges.u * self.rate_hz,
            snr_db: units::db_from_ratio(edges.snr),
            multiples: period.multiples,
            p: ln_p.exp(),
            looked_s: taken as f64 * self.looks[at].window() as f64 / self.rate_hz,
            left_out: refused as f64 / (taken + refused) as f64,
        })
    }
}

#[cfg(test)]
mod tests;
