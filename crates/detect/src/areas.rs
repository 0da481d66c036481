//! Which stretches of time and frequency of a block belong to one emission, over the ladder.
//!
//! The finest resolution speaks first: what lasts several of its rows is best seen there. What it
//! took is barred from the next, where shorter things are seen, down to the shortest bursts. What
//! lasted too short to be taken anywhere is taken where it was seen.

use crate::cells::Cells;
use crate::components::{Component, components};
use crate::config::Level;
use crate::deblend::split;
use crate::faint::{Sieve, faint};
use crate::fleeting::{Bursts, bursts};
use crate::join::{Scene, adopt, gather};
use crate::marks::{Marks, Thresholds};
use crate::narrow::is_narrow;
use crate::slow::Left;
use rayon::prelude::*;
use std::ops::Range;
use units::Iq;

/// A component and the resolution that it was seen at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Area {
    /// Index in the ladder, 0 the finest in frequency.
    pub level: usize,
    /// Rows and bins of that level.
    pub component: Component,
}

/// Rows that an emission must last to be taken at a resolution with a shorter one beside it: a
/// burst shorter than one frame shows in up to three. The shortest frames have bins too wide for
/// channels: what is narrower than one is not left to them.
const ROWS: usize = 4;
/// Kinds of sums tried past the finest resolution: over 1, 4 and 16 rows.
const COARSE_SUMS: usize = 3;
/// Components looked at in one block at most; the largest are kept.
const MOST: usize = 4096;

/// What one resolution gives.
pub(crate) struct View<'a> {
    pub cells: &'a Cells,
    pub floor: &'a [f32],
    pub thresholds: &'a Thresholds,
}

/// The areas of a block, finest resolution first, and what they leave. `sieves` are there where what
/// is faint is looked for.
pub(crate) fn areas(
    views: &[View<'_>],
    block: &[Iq],
    gap_samples: usize,
    sieves: Option<&[Sieve]>,
) -> (Vec<Area>, Option<Left>) {
    let mut taken: Vec<Area> = Vec::new();
    let mut short: Vec<Area> = Vec::new();
    let plain: Vec<(&Cells, &[f32])> = views.iter().map(|v| (v.cells, v.floor)).collect();
    for (l, view) in views.iter().enumerate() {
        let level = view.cells.level;
        let last = l + 1 == views.len();
        let sums = if l == 0 { 4 } else { COARSE_SUMS };
        let mut marks = Marks::of(view.cells, view.floor, view.thresholds, sums, l == 0);
        let barred = taken.par_iter().map(|area| explained(area, views, view));
        barred.collect::<Vec<_>>().into_iter().for_each(|b| bar(&mut marks, &b, view));
        let gap_rows = (gap_samples / level.hop).max(1);
        let found = components(&marks, gap_rows, 1);
        let (cells, floor, finer) = (view.cells, view.floor, &plain[l..]);
        let scene = Scene { cells, floor, block, finer, gap_rows };
        let (found, brief) = sorted(split(&found, &scene), views, l, gap_samples);
        let mut found = adopt(gather(found, &scene), brief, &scene);
        // Half-overlapped frames show whatever lasts a frame at least twice.
        found.retain(|c| !last || c.rows() >= 2);
        let clear: Vec<bool> = found.par_iter().map(|c| stands_out(c, view)).collect();
        for (component, _) in found.into_iter().zip(clear).filter(|(_, clear)| *clear) {
            let area = Area { level: l, component };
            let narrow = || l + 2 == views.len() && is_narrow(&component, view, &views[l + 1]);
            if last || component.rows() >= ROWS || component.rows() > 1 && narrow() {
                taken.push(area);
            } else {
                short.push(area);
            }
        }
    }
    // Seen at one resolution only, too short to be taken there and by no other.
    for area in short.iter().rev() {
        if !taken.iter().any(|t| touches(t, area, views)) {
            taken.push(*area);
        }
    }
    let (faint, left) = sieves.map(|s| faint(views, &taken, s)).unzip();
    taken.extend(faint.into_iter().flatten());
    (taken, left)
}

/// Components that this resolution is to look at, and those made of brief bursts, which another
/// should unless they are a part of one of the first; without those that no doubt another should.
fn sorted(
    all: Vec<Component>,
    views: &[View<'_>],
    l: usize,
    gap_samples: usize,
) -> (Vec<Component>, Vec<Component>) {
    let kinds = match views.get(l + 1) {
        Some(finer) => bursts(&all, &views[l], finer, gap_samples, l + 2 == views.len()),
        None => vec![Bursts::Long; all.len()],
    };
    let of = |kind: Bursts| {
        let all = all.iter().zip(&kinds).filter(|(_, k)| **k == kind);
        let mut all: Vec<Component> = all.map(|(c, _)| *c).collect();
        all.sort_by_key(|c| std::cmp::Reverse(c.cells));
        all.truncate(MOST);
        all
    };
    (of(Bursts::Long), of(Bursts::Brief))
}

/// A skirt this far under the threshold passes it where noise adds to it (6 dB).
const LIFTS: f64 = 4.0;

/// Part of the noise that a skirt may be where boxes of many cells are looked at.
const DEEP: f64 = 0.01;

/// Cells of a view that an area taken before explains. Bins go round the band: so does a
/// transform's leakage.
pub(crate) struct Explained {
    pub rows: Range<usize>,
    /// Its largest cell over the floor.
    pub peak: f32,
    /// Whatever is marked here.
    near: [Range<usize>; 2],
    /// What only sums of rows mark here.
    far: [Range<usize>; 2],
    /// What only sums over rows and bins show here.
    pub deep: [Range<usize>; 2],
}

/// Its time, a frame of its own resolution either side; its band, with the skirts of the window as
/// far as they rise over the threshold of one row, and as far as they do over that of sums of rows.
pub(crate) fn explained(area: &Area, views: &[View<'_>], view: &View<'_>) -> Explained {
    let (own, level) = (views[area.level].cells.level, view.cells.level);
    let whole = views[area.level].cells.rows;
    let (rows, low, high) = footprint(area, (own, whole), level, view.cells.rows);
    let bins = low.max(0.0) as usize..(high.ceil() as usize + 1).min(level.n);
    let floor = &view.floor[bins.clone()];
    let over = |peak: f32, (p, f): (&f32, &f32)| peak.max(p / f.max(f32::MIN_POSITIVE));
    let row = |r: usize| view.cells.row(r)[bins.clone()].iter().zip(floor).fold(0.0, over);
    let peak = rows.clone().map(row).fold(0.0, f32::max);
    let bins = |threshold: f64| {
        let skirt = skirt_bins(f64::from(peak) / threshold);
        round_the_band((low - skirt).floor() as i64, (high + skirt).ceil() as i64 + 1, level.n)
    };
    let summed = view.thresholds.over(1 << (2 * (COARSE_SUMS - 1)));
    let near = bins(view.thresholds.one() / LIFTS);
    Explained { rows, peak, near, far: bins(summed), deep: bins(DEEP) }
}

/// Bins `from..to` of `n`, what lies past one end at the other.
fn round_the_band(from: i64, to: i64, n: usize) -> [Range<usize>; 2] {
    let all = n as i64;
    match (from, to) {
        _ if to - from >= all => [0..n, 0..0],
        (from, _) if from < 0 => [0..to.max(0) as usize, (all + from.max(-all)) as usize..n],
        (_, to) if to > all => [from.min(all) as usize..n, 0..(to - all) as usize],
        _ => [from as usize..to as usize, 0..0],
    }
}

/// Takes what is explained out of the marks.
fn bar(marks: &mut Marks, barred: &Explained, view: &View<'_>) {
    for r in barred.rows.clone() {
        let on = &mut marks.on[r * marks.bins..(r + 1) * marks.bins];
        barred.near.iter().for_each(|bins| on[bins.clone()].fill(false));
        let one = view.thresholds.one() as f32 * view.cells.gain[r];
        for bins in &barred.far {
            let cells = view.cells.row(r)[bins.clone()].iter().zip(&view.floor[bins.clone()]);
            on[bins.clone()].iter_mut().zip(cells).for_each(|(on, (p, f))| *on &= *p > one * f);
        }
    }
}

/// Bins from a line to where the side lobes of the Hann window have fallen by `ratio`: −31 dB at
/// 2.4 bins, then 18 dB an octave (Harris 1978).
fn skirt_bins(ratio: f64) -> f64 {
    let over = units::db_from_ratio(ratio.max(1.0)) - 31.0;
    if over <= 0.0 { 2.0 } else { 2.4 * 2f64.powf(over / 18.0) }
}

/// Rows of `level` and (unrounded) first and last bin that an area covers.
fn footprint(
    area: &Area,
    (own, own_rows): (Level, usize),
    level: Level,
    rows: usize,
) -> (Range<usize>, f64, f64) {
    let c = &area.component;
    let start = (c.row0 * own.hop).saturating_sub(level.n);
    let stop = (c.row1 - 1) * own.hop + own.n;
    let r0 = (start / level.hop).min(rows);
    // Past the last whole frame of its own resolution nothing else could have seen it.
    let r1 = if c.row1 == own_rows { rows } else { (stop / level.hop + 1).min(rows) };
    let low = level.bin_at(own.offset_hz(c.bin0 as f64));
    let high = level.bin_at(own.offset_hz((c.bin1 - 1) as f64));
    (r0..r1, low, high)
}

/// Whether two areas of any resolutions overlap, a frame and two bins of the coarser either way.
pub(crate) fn touches(a: &Area, b: &Area, views: &[View<'_>]) -> bool {
    let span = |x: &Area| {
        let level = views[x.level].cells.level;
        let c = &x.component;
        let slack = 2.0 * level.bin_hz();
        let samples = (c.row0 * level.hop, (c.row1 - 1) * level.hop + level.n);
        let low = level.offset_hz(c.bin0 as f64) - slack;
        (samples, low, level.offset_hz((c.bin1 - 1) as f64) + slack)
    };
    let (a, b) = (span(a), span(b));
    a.0.0 < b.0.1 && b.0.0 < a.0.1 && a.1 < b.2 && b.1 < a.2
}

/// Components wider than this, in bins, are their own surroundings and are not tested.
const NARROW: usize = 48;

/// Whether a narrow component stands out from what surrounds it in frequency while it is on, as
/// clearly as from the floor: where the noise itself rises for a moment, or a strong emission's
/// skirt lies, it does not. The median of the surroundings leaves room for neighbours in half.
fn stands_out(c: &Component, view: &View<'_>) -> bool {
    let n = view.cells.level.n;
    if c.bins() > NARROW || n < 2 * NARROW {
        return true;
    }
    let reach = 2 * c.bins().max(12);
    let (low, high) = (c.bin0.saturating_sub(reach + 2), (c.bin1 + reach + 2).min(n));
    let step = c.rows().div_ceil(256).max(1);
    let mut mean = vec![0.0f64; high - low];
    let mut rows = 0u32;
    for r in (c.row0..c.row1).step_by(step) {
        let row = &view.cells.row(r)[low..high];
        for ((m, p), f) in mean.iter_mut().zip(row).zip(&view.floor[low..high]) {
            *m += f64::from(*p / *f);
        }
        rows += 1;
    }
    let inside = |k: usize| k + low + 2 >= c.bin0 && k + low < c.bin1 + 2;
    let (own, mut around): (Vec<_>, Vec<_>) = (0..mean.len()).partition(|k| inside(*k));
    if around.is_empty() {
        return true;
    }
    let at = around.len() / 2;
    around.select_nth_unstable_by(at, |a, b| mean[*a].total_cmp(&mean[*b]));
    let peak = own.iter().map(|k| mean[*k]).fold(0.0, f64::max);
    // Never under the floor itself.
    let surroundings = mean[around[at]].max(f64::from(rows));
    peak > view.thresholds.over(rows as usize) * surroundings
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn leakage_goes_round_the_band() {
        assert_eq!(round_the_band(3, 9, 64), [3..9, 0..0]);
        assert_eq!(round_the_band(-5, 9, 64), [0..9, 59..64]);
        assert_eq!(round_the_band(50, 70, 64), [50..64, 0..6]);
        assert_eq!(round_the_band(-5, 60, 64), [0..64, 0..0]);
    }
}
