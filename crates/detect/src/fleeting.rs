//! Whether a component is made of bursts far shorter than a frame of its resolution: the next finer
//! one in time shows them apart, and what else is on between them.

use crate::alone::middle_of_row;
use crate::areas::View;
use crate::cells::Cells;
use crate::components::Component;
use crate::narrow::is_narrow;
use rayon::prelude::*;
use std::ops::Range;

/// A component is fleeting where the finer resolution sees it on for less than this part of the
/// time that its own sees it: three rows of a frame for a burst of a sixth of one.
const SHORT: f64 = 0.2;
/// Part of its energy that the finer resolution must show in single cells, to be trusted with it.
const SHOWN: f64 = 0.7;
/// Frames of its own resolution that its bursts last at most, where nothing is on between them: one
/// such burst alone shows in less rows than an emission must to be taken.
const BRIEF: f64 = 0.8;
/// Cells read at most.
const CELLS: usize = 1 << 18;

/// What a component is made of, as the next finer resolution in time sees it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Bursts {
    /// Something that lasts.
    Long,
    /// Bursts shorter than a frame, and nothing between them.
    Brief,
    /// Bursts so short and rare that a part of something longer shows otherwise.
    Fleeting,
}

/// What components of `view` are made of. Pauses up to `gap_samples` are within a burst, unless a
/// hop of `view` shows them. `last`: `finer` is the end of the ladder.
pub(crate) fn bursts(
    all: &[Component],
    view: &View<'_>,
    finer: &View<'_>,
    gap_samples: usize,
    last: bool,
) -> Vec<Bursts> {
    let gap_samples = gap_samples.min(view.cells.level.hop);
    let one = |(c, shown): (&Component, &Stretch)| match one(c, view, finer, shown) {
        Bursts::Brief if last && is_narrow(c, view, finer) => Bursts::Long,
        kind => kind,
    };
    let some = |all: &[Component]| -> Vec<Bursts> {
        let mut shown: Vec<Stretch> =
            all.iter().map(|c| Stretch::at(c, view.cells, finer.cells)).collect();
        // Rows that are still in the cache serve all.
        for until in (0..finer.cells.rows + ROWS).step_by(ROWS) {
            shown.iter_mut().for_each(|s| s.look(finer, until, gap_samples));
        }
        all.iter().zip(&shown).map(one).collect()
    };
    all.par_chunks(TOGETHER).map(some).collect::<Vec<_>>().concat()
}

/// Components looked at together, and rows.
const TOGETHER: usize = 64;
/// See [`TOGETHER`].
const ROWS: usize = 64;

fn one(c: &Component, view: &View<'_>, finer: &View<'_>, shown: &Stretch) -> Bursts {
    if shown.bursts.is_empty() {
        return Bursts::Long;
    }
    let own = || {
        let mut own = Stretch::new(c.row0..c.row1, c.band());
        own.look(view, c.row1, 0);
        own.on_s(view)
    };
    if shown.part() > SHOWN && shown.on_s(finer) < SHORT * own() {
        return Bursts::Fleeting;
    }
    let brief = shown.burst_samples() < BRIEF * view.cells.level.n as f64;
    if brief && nothing_between(c, view, shown) { Bursts::Brief } else { Bursts::Long }
}

/// Whether a component does not stand out in those of its rows that hold no burst; where all hold
/// one, whether the bursts are all there is.
fn nothing_between(c: &Component, view: &View<'_>, shown: &Stretch) -> bool {
    let (cells, level) = (view.cells, view.cells.level);
    let quiet = |r: &usize| {
        let (start, stop) = middle_of_row(r * level.hop, level.n);
        let next = shown.bursts.partition_point(|b| b.1 as f64 <= start);
        shown.bursts.get(next).is_none_or(|b| b.0 as f64 >= stop)
    };
    let (mut over, mut rows) = (vec![0.0f32; c.bins()], 0);
    for r in (c.row0..c.row1).filter(quiet) {
        let (row, gain) = (&cells.row(r)[c.band()], cells.gain[r]);
        for ((o, p), f) in over.iter_mut().zip(row).zip(&view.floor[c.band()]) {
            *o += p / (f * gain);
        }
        rows += 1;
    }
    if rows == 0 {
        return shown.part() > SHOWN;
    }
    let most = over.into_iter().fold(0.0, f32::max);
    f64::from(most) <= view.thresholds.over(rows) * rows as f64
}

/// Lanes that the processor works on side by side.
const LANES: usize = 8;

/// What the cells of one row hold over the floor.
struct Over {
    /// All of them together.
    all: f32,
    /// Those over the threshold, and their number.
    shown: f32,
    cells: f32,
}

impl Over {
    fn of(row: &[f32], floor: &[f32], gain: f32, threshold: f32) -> Over {
        let (mut all, mut shown, mut cells) = ([0.0f32; LANES], [0.0f32; LANES], [0.0f32; LANES]);
        for (row, floor) in row.chunks(LANES).zip(floor.chunks(LANES)) {
            for (k, (p, f)) in row.iter().zip(floor).enumerate() {
                let noise = f * gain;
                let excess = p - noise;
                let over = *p > threshold * noise;
                all[k] += excess;
                shown[k] += if over { excess } else { 0.0 };
                cells[k] += if over { 1.0 } else { 0.0 };
            }
        }
        Over { all: all.iter().sum(), shown: shown.iter().sum(), cells: cells.iter().sum() }
    }
}

/// What single cells of a stretch of time and frequency show.
struct Stretch {
    /// Rows yet to be looked at, and bins.
    rows: Range<usize>,
    bins: Range<usize>,
    /// Every so many rows are looked at.
    step: usize,
    /// Excess over the floor of all cells, and of those over the threshold.
    all: f64,
    shown: f64,
    /// Those over the threshold.
    cells: usize,
    /// First and one past the last sample of each burst: rows in which any bin is, pauses closed.
    bursts: Vec<(usize, usize)>,
    /// The same of the last burst of each bin, and over all before it the sums of their lengths and
    /// of the squares.
    latest: Vec<(usize, usize)>,
    lengths: (f64, f64),
}

impl Stretch {
    fn new(rows: Range<usize>, bins: Range<usize>) -> Stretch {
        let step = (rows.len() * bins.len()).div_ceil(CELLS).max(1);
        let latest = vec![(0, 0); bins.len()];
        let (bursts, lengths) = (Vec::new(), (0.0, 0.0));
        Stretch { rows, bins, step, all: 0.0, shown: 0.0, cells: 0, bursts, latest, lengths }
    }

    /// The stretch of another resolution that a component of `own` covers.
    fn at(c: &Component, own: &Cells, finer: &Cells) -> Stretch {
        let (own, level) = (own.level, finer.level);
        let bin = |k: usize| level.bin_at(own.offset_hz(k as f64)).round().max(0.0) as usize;
        let low = bin(c.bin0).min(level.n - 1);
        let high = (bin(c.bin1 - 1) + 1).clamp(low + 1, level.n);
        let last = (((c.row1 - 1) * own.hop + own.n) / level.hop).min(finer.rows);
        Stretch::new((c.row0 * own.hop / level.hop).min(last)..last, low..high)
    }

    /// Looks at its rows up to `until`.
    fn look(&mut self, view: &View<'_>, until: usize, gap: usize) {
        let (one, level) = (view.thresholds.one() as f32, view.cells.level);
        let floor = &view.floor[self.bins.clone()];
        while self.rows.start < self.rows.end.min(until) {
            let r = self.rows.start;
            self.rows.start += self.step;
            let (row, gain) = (&view.cells.row(r)[self.bins.clone()], view.cells.gain[r]);
            let over = Over::of(row, floor, gain, one);
            self.all += f64::from(over.all);
            if over.cells == 0.0 {
                continue;
            }
            self.shown += f64::from(over.shown);
            self.cells += over.cells as usize;
            let (start, stop) =
                (level.row_start(r), level.row_start(r + self.step - 1) + level.hop);
            match self.bursts.last_mut() {
                Some(last) if start <= last.1 + gap => last.1 = stop,
                _ => self.bursts.push((start, stop)),
            }
            for ((p, f), last) in row.iter().zip(floor).zip(&mut self.latest) {
                if *p > one * (f * gain) {
                    if start > last.1 + gap {
                        add(&mut self.lengths, *last);
                        last.0 = start;
                    }
                    last.1 = stop;
                }
            }
        }
    }

    /// Part of the excess that cells over the threshold hold.
    fn part(&self) -> f64 {
        self.shown / self.all.max(f64::MIN_POSITIVE)
    }

    /// Seconds that a bin is over the threshold, on average.
    fn on_s(&self, view: &View<'_>) -> f64 {
        let samples = (self.cells * self.step * view.cells.level.hop) as f64;
        samples / self.bins.len() as f64 / view.cells.level.rate_hz
    }

    /// Mean length over their time of the bursts of its bins: a long one counts as what it is among
    /// many short. None is endless.
    fn burst_samples(&self) -> f64 {
        let mut sums = self.lengths;
        self.latest.iter().for_each(|last| add(&mut sums, *last));
        if sums.0 > 0.0 { sums.1 / sums.0 } else { f64::INFINITY }
    }
}

/// Adds a length and its square.
fn add(sums: &mut (f64, f64), (start, stop): (usize, usize)) {
    let length = (stop - start) as f64;
    *sums = (sums.0 + length, sums.1 + length * length);
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::cells::Maker;
    use crate::config::Level;
    use crate::marks::Thresholds;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, StandardNormal};
    use units::Iq;

    pub const OWN: usize = 4096;
    pub const FINER: usize = 256;
    /// Bin of the tones.
    pub const BIN: usize = 2600;
    const SAMPLES: usize = 1 << 19;

    /// Noise of power 1 a sample with a tone in the middle of [`BIN`] of that amplitude.
    pub fn block(amplitude: impl Fn(usize) -> f64) -> Vec<Iq> {
        let mut random = ChaCha8Rng::seed_from_u64(12);
        let mut normal = || -> f64 { StandardNormal.sample(&mut random) };
        let turn = (BIN as f64 - (OWN / 2) as f64) / OWN as f64;
        let one = |k: usize| {
            let (sin, cos) = (std::f64::consts::TAU * (turn * k as f64 % 1.0)).sin_cos();
            let (re, im) = (0.5f64.sqrt() * normal(), 0.5f64.sqrt() * normal());
            Iq::new((re + amplitude(k) * cos) as f32, (im + amplitude(k) * sin) as f32)
        };
        (0..SAMPLES).map(one).collect()
    }

    /// What `look` says with views of a block at both resolutions.
    pub fn seen<T>(block: &[Iq], look: impl Fn(&View<'_>, &View<'_>) -> T) -> T {
        let cells = |n: usize| {
            let level = Level { n, hop: n / 2, rate_hz: 1e6 };
            Maker::new(level).cells(block, Vec::new())
        };
        let thresholds = Thresholds::new(0.01, 1e6);
        let (own, finer) = (cells(OWN), cells(FINER));
        // The Hann window's noise bandwidth is 1.5 bins, and a row sums to that times the power.
        let floor = |n: usize| vec![1.5 / n as f32; n];
        let floors = (floor(OWN), floor(FINER));
        let view = |cells, floor| View { cells, floor, thresholds: &thresholds };
        look(&view(&own, &floors.0), &view(&finer, &floors.1))
    }

    /// All rows and a few bins about the tone.
    pub fn component(rows: Range<usize>) -> Component {
        let (bin0, bin1) = (BIN - 3, BIN + 4);
        let cells = rows.len() * (bin1 - bin0);
        let (core, walls) = ((bin0, bin1), (0, usize::MAX));
        Component { row0: rows.start, row1: rows.end, bin0, bin1, cells, core, walls }
    }

    fn kind(amplitude: impl Fn(usize) -> f64) -> Bursts {
        let block = block(amplitude);
        seen(&block, |view, finer| {
            bursts(&[component(0..view.cells.rows)], view, finer, 5000, false)[0]
        })
    }

    /// Half a frame long, ten frames apart, 20 dB over the noise of a sample.
    fn brief(k: usize) -> f64 {
        if k % (10 * OWN) < OWN / 2 { 10.0 } else { 0.0 }
    }

    #[test]
    fn short_bursts_are_told_from_what_lasts() {
        assert_eq!(kind(brief), Bursts::Brief, "short bursts alone");
        // 10 dB over the noise of a bin that the Hann window lets through: no single cell shows it.
        let steady = (10.0 * 1.5 / OWN as f64).sqrt();
        assert_eq!(kind(|k| brief(k) + steady), Bursts::Long, "a weak carrier under them");
        let long = |k: usize| if (90_000..110_000).contains(&k) { 10.0 } else { brief(k) };
        assert_eq!(kind(long), Bursts::Long, "one of five frames among them");
        // A telegram: elements of an eighth of a frame, as long apart, for twenty frames.
        let keyed = |k: usize| if k < 20 * OWN && k % 1024 < 512 { 10.0 } else { 0.0 };
        assert_eq!(kind(keyed), Bursts::Long, "the elements of one telegram");
        // A sixteenth of a frame: shown in three rows of the one, and in as many of the other.
        let click = |k: usize| if k % (10 * OWN) < OWN / 16 { 30.0 } else { 0.0 };
        assert_eq!(kind(click), Bursts::Fleeting, "clicks");
    }
}
