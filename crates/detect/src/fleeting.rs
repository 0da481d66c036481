//! Whether a component is made of bursts far shorter than a frame of its resolution: the next finer
//! one in time shows them apart, and what else is on between them.

use crate::alone::middle_of_row;
use crate::areas::View;
use crate::components::Component;

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

/// What a component of `view` is made of. Pauses up to `gap_samples` are within a burst.
pub(crate) fn bursts(
    c: &Component,
    view: &View<'_>,
    finer: &View<'_>,
    gap_samples: usize,
) -> Bursts {
    let (own, level) = (view.cells.level, finer.cells.level);
    let bin = |k: usize| level.bin_at(own.offset_hz(k as f64)).round().max(0.0) as usize;
    let low = bin(c.bin0).min(level.n - 1);
    let high = (bin(c.bin1 - 1) + 1).clamp(low + 1, level.n);
    let first = c.row0 * own.hop / level.hop;
    let last = (((c.row1 - 1) * own.hop + own.n) / level.hop).min(finer.cells.rows);
    if last <= first {
        return Bursts::Long;
    }
    let shown = Stretch::of(finer, (first, last), (low, high), gap_samples);
    let own_on_s = || Stretch::of(view, (c.row0, c.row1), (c.bin0, c.bin1), 0).on_s;
    if shown.part > SHOWN && shown.on_s < SHORT * own_on_s() {
        return Bursts::Fleeting;
    }
    let brief = shown.burst_samples() < BRIEF * own.n as f64;
    if brief && nothing_between(c, view, &shown) { Bursts::Brief } else { Bursts::Long }
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
        return shown.part > SHOWN;
    }
    let most = over.into_iter().fold(0.0, f32::max);
    f64::from(most) <= view.thresholds.over(rows) * rows as f64
}

/// What single cells of a stretch of time and frequency show.
struct Stretch {
    /// Part of the excess over the floor that cells over the threshold hold.
    part: f64,
    /// Seconds that a bin is over the threshold, on average.
    on_s: f64,
    /// First and one past the last sample of each burst: rows in which any bin is, pauses closed.
    bursts: Vec<(usize, usize)>,
}

impl Stretch {
    fn of(view: &View<'_>, rows: (usize, usize), bins: (usize, usize), gap: usize) -> Stretch {
        let step = ((rows.1 - rows.0) * (bins.1 - bins.0)).div_ceil(CELLS).max(1);
        let one = view.thresholds.one() as f32;
        let level = view.cells.level;
        let (mut shown, mut all, mut cells) = (0.0, 0.0, 0usize);
        let mut bursts: Vec<(usize, usize)> = Vec::new();
        for r in (rows.0..rows.1).step_by(step) {
            let gain = view.cells.gain[r];
            let row = &view.cells.row(r)[bins.0..bins.1];
            let before = cells;
            for (p, f) in row.iter().zip(&view.floor[bins.0..bins.1]) {
                let excess = f64::from(*p - *f * gain);
                all += excess;
                if *p > one * *f * gain {
                    shown += excess;
                    cells += 1;
                }
            }
            if cells > before {
                let (start, stop) = (level.row_start(r), level.row_start(r + step - 1) + level.hop);
                match bursts.last_mut() {
                    Some(last) if start <= last.1 + gap => last.1 = stop,
                    _ => bursts.push((start, stop)),
                }
            }
        }
        let samples = (cells * step * level.hop) as f64 / (bins.1 - bins.0) as f64;
        Stretch { part: shown / all.max(f64::MIN_POSITIVE), on_s: samples / level.rate_hz, bursts }
    }

    /// Mean length of its bursts over their time: a long one counts as what it is among many short.
    /// None is endless.
    fn burst_samples(&self) -> f64 {
        let lengths = || self.bursts.iter().map(|b| (b.1 - b.0) as f64);
        let all: f64 = lengths().sum();
        if all > 0.0 { lengths().map(|l| l * l).sum::<f64>() / all } else { f64::INFINITY }
    }
}
