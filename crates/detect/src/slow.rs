//! Emissions that only show over many blocks: mean spectra of ever longer times, in which what is
//! steady stands out over the bins beside it.
//!
//! Each block hands over the means of its parts, of cells that nothing clear explains. Of every
//! length the last rows are kept, and two of them make one of twice the length, so that memory
//! grows with the logarithm of the time.

mod part;
mod tier;

pub(crate) use part::{Part, cumulated};

use crate::config::Level;
use crate::measure::Piece;
use dsp::{BoxTail, effective_cells};
use tier::Tier;

/// What no emission explains of a block.
#[derive(Debug, Default)]
pub(crate) struct Left {
    /// Means over parts of its time.
    pub parts: Vec<Part>,
    /// Noise of each bin, power.
    pub noise: Vec<f32>,
}

/// A box of bins over a stretch of time that stands out.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    /// Samples of the segment.
    start: u64,
    stop: u64,
    bin0: usize,
    bin1: usize,
    /// Middle of its excess, bins.
    middle: f64,
    /// Mean over that of the bins beside it.
    mean: f64,
    /// Noise of one of its bins, power.
    noise: f64,
    ln_p: f64,
}

/// Boxes of different length and width that are as good as independent at every place; counted on
/// noise, as for those of one block.
const SHAPES: f64 = 2000.0;
/// Stretches kept at most; the clearest are.
const MOST: usize = 4096;

/// Bins about the centre that hold what is left of the receiver's constant.
const CENTRE: usize = 8;
/// What lies where the mirror image of an emission so much stronger would (30 dB) may be that image:
/// receivers suppress it by 30 dB and more (common practice, no source).
const MIRRORED: f64 = 1e3;

/// What one segment shows in the long run.
#[derive(Debug)]
pub(crate) struct Slow {
    level: Level,
    ln_cell: f64,
    tiers: Vec<Tier>,
    found: Vec<Stretch>,
    /// Noise of each bin in the last block, power.
    noise: Vec<f32>,
    /// Power of the strongest emission known of each bin or beside it, as far as it is wide.
    known: Vec<f32>,
}

impl Slow {
    /// At the finest resolution in frequency; `tests` are the cells of the recording, of which
    /// `false_rows` may be believed on noise.
    pub fn new(level: Level, false_rows: f64, tests: f64) -> Self {
        let ln_cell = (false_rows / (SHAPES * tests)).ln();
        Slow {
            level,
            ln_cell,
            tiers: Vec::new(),
            found: Vec::new(),
            noise: Vec::new(),
            known: vec![0.0; level.n],
        }
    }

    /// Takes what is left of the next block, which began at sample `first`.
    pub fn push(&mut self, left: Left, first: u64) {
        self.noise = left.noise;
        for mut part in left.parts {
            part.start += first;
            part.stop += first;
            let mut next = Some(part);
            let mut t = 0;
            while let Some(part) = next {
                if t == self.tiers.len() {
                    self.tiers.push(Tier::default());
                }
                next = self.tiers[t].push(part);
                if self.tiers[t].is_full() {
                    self.look(t);
                    self.tiers[t].advance();
                }
                t += 1;
            }
        }
    }

    /// Takes note of emissions that were found by themselves.
    pub fn known(&mut self, pieces: &[Piece]) {
        let n = self.level.n;
        for p in pieces {
            let bin = |hz: f64| self.level.bin_at(hz).round().clamp(0.0, n as f64) as usize;
            let power = p.power as f32;
            let near = p.bandwidth_hz.max(8.0 * self.level.bin_hz());
            let (low, high) = (bin(p.low_hz - near), bin(p.high_hz + near));
            self.known[low..high].iter_mut().for_each(|k| *k = k.max(power));
        }
    }

    /// Whether a stretch may be the receiver's, at its centre or the mirror image of something far
    /// stronger, or the skirt of something that was found by itself.
    fn is_own(&self, s: &Stretch) -> bool {
        let n = self.level.n;
        let middle = n / 2;
        let centre = s.bin0 < middle + CENTRE && s.bin1 + CENTRE > middle;
        let mirror = |k: usize| (n - k).min(n - 1);
        let image = self.known[mirror(s.bin1 - 1)..=mirror(s.bin0)].iter().copied();
        let power = (s.mean - 1.0) * s.noise * (s.bin1 - s.bin0) as f64;
        let here = self.known[s.bin0..s.bin1].iter().copied().fold(0.0, f32::max);
        let image = image.fold(0.0, f32::max);
        centre || image > (power * MIRRORED) as f32 || here > power as f32
    }

    fn look(&mut self, t: usize) {
        let seen = self.tiers[t].stretches(t == 0, |frames, bins, beside, mean| {
            let least = self.ln_cell + (frames * bins as f64).ln();
            let ln_p = ln_p(frames.round().max(1.0) as usize, bins, beside, mean);
            (ln_p < least).then_some(ln_p)
        });
        for mut s in seen {
            let bins = &self.noise[s.bin0..s.bin1];
            s.noise = bins.iter().map(|n| f64::from(*n)).sum::<f64>() / bins.len() as f64;
            self.found.push(s);
        }
        if self.found.len() > MOST {
            self.thin();
        }
    }

    /// Of those that overlap the clearest stays.
    fn thin(&mut self) {
        let mut all = std::mem::take(&mut self.found);
        all.sort_by(|a, b| a.ln_p.total_cmp(&b.ln_p));
        for s in all {
            let near = |o: &Stretch| {
                o.start < s.stop && s.start < o.stop && o.bin0 < s.bin1 + 4 && s.bin0 < o.bin1 + 4
            };
            if self.found.len() < MOST / 2 && !self.found.iter().any(near) {
                self.found.push(s);
            }
        }
    }

    /// What stood out, as pieces of the segment.
    pub fn finish(mut self) -> Vec<Piece> {
        for t in 0..self.tiers.len() {
            self.look(t);
        }
        self.thin();
        let others = self.found.iter().filter(|s| !self.is_own(s));
        others.map(|s| s.piece(&self.level)).collect()
    }
}

/// ln of the probability that noise gives `bins` bins over `rows` rows that many times the mean of
/// the `beside` bins beside them, which is uncertain itself: the box's law over the gamma of theirs.
fn ln_p(rows: usize, bins: usize, beside: usize, mean: f64) -> f64 {
    let tail = BoxTail::new(rows, bins);
    let k = effective_cells(rows, beside);
    let sd = k.sqrt().recip();
    // The gamma of the mean of those beside, about its own mean of 1, by the trapezoid rule.
    let steps = 48;
    let at = |i: i32| (1.0 + 8.0 * sd * f64::from(i) / f64::from(steps)).max(0.0);
    let weight = |x: f64| k * (x.max(1e-300).ln() - x + 1.0);
    let (mut sum, mut all) = (0.0, 0.0);
    for i in -steps..=steps {
        let w = weight(at(i)).exp() / at(i).max(1e-3);
        sum += w * tail.ln_sf(mean * at(i)).exp();
        all += w;
    }
    (sum / all).max(f64::MIN_POSITIVE).ln()
}

impl Stretch {
    fn piece(&self, level: &Level) -> Piece {
        use crate::cells::ENBW_BINS;
        let bins = (self.bin1 - self.bin0) as f64;
        let resolution_hz = ENBW_BINS * level.bin_hz();
        let bare = bins <= 4.0;
        let bandwidth_hz = if bare { 2.0 } else { bins } * level.bin_hz();
        let centre_hz = if bare {
            level.offset_hz(self.middle)
        } else {
            level.offset_hz(0.5 * (self.bin0 + self.bin1 - 1) as f64)
        };
        let noise = self.noise * bandwidth_hz / resolution_hz;
        let power = (self.mean - 1.0) * self.noise * bins / ENBW_BINS;
        let length = (self.stop - self.start) as f64;
        let independent = (length / level.rate_hz * bandwidth_hz).max(1.0);
        let snr = power / noise.max(f64::MIN_POSITIVE);
        let u_power = (1.0 + 1.0 / snr) / independent.sqrt();
        let u_centre_hz = level.bin_hz() * if bare { 0.5 } else { 0.25 * bins };
        Piece {
            start: self.start as f64,
            stop: self.stop as f64,
            u_time: 0.1 * length,
            low_hz: centre_hz - 0.5 * bandwidth_hz,
            high_hz: centre_hz + 0.5 * bandwidth_hz,
            centre_hz,
            u_centre_hz,
            bandwidth_hz,
            u_bandwidth_hz: if bare { level.bin_hz() } else { 0.25 * bandwidth_hz },
            bare,
            resolution_hz,
            power,
            u_power: u_power.hypot(0.023),
            noise,
        }
    }
}
