//! Components of one resolution that one emission made.

use crate::cells::Cells;
use crate::components::Component;
use crate::config::Level;
use crate::modulus::{Modulus, modulus};
use crate::turns::take_turns;
use crate::twin::{alike, mirrored};
use std::ops::Range;
use units::Iq;

/// What the tests of a pair need to see.
pub(crate) struct Scene<'a> {
    pub cells: &'a Cells,
    pub floor: &'a [f32],
    /// The samples that the cells are of.
    pub block: &'a [Iq],
    /// Cells and floor of this resolution and of those finer in time.
    pub finer: &'a [(&'a Cells, &'a [f32])],
    /// Rows that may lie between parts of one burst.
    pub gap_rows: usize,
}

/// Rows looked at in one test at most.
const ROWS: usize = 256;
/// Between two parts of one emission the excess falls by less than this, as a ratio (6 dB).
const VALLEY: f64 = 0.25;
/// Between two emissions close beside each other it falls by more than this (10 dB).
const DEEP: f64 = 0.1;
/// A valley shows only between parts that stand this far over the floor (6 dB): where the floor
/// itself was taken from an emission, what is left of it has valleys of its own.
const CLEAR: f64 = 4.0;
/// Rows of the second shortest sum of the marks: what is marked by a sum begins and ends at one.
const SUMMED: usize = 16;
/// Tones and sidebands of one burst begin and end together within this part of it (one over it), and
/// within the pauses that it may have.
const EDGE: usize = 16;
/// Longest distance between parts of one emission: tones of it, in widths of the wider; what begins
/// and ends together, in widths of the narrower.
const TOGETHER: usize = 10;

/// Puts components together until nothing more belongs together. Ends with the largest first.
pub(crate) fn gather(all: Vec<Component>, scene: &Scene<'_>) -> Vec<Component> {
    gather_by(all, &|large, small| belongs(large, small, scene))
}

/// Gives each of `parts` to the first of `all` that it is a part of, if there is one.
pub(crate) fn adopt(
    mut all: Vec<Component>,
    parts: Vec<Component>,
    scene: &Scene<'_>,
) -> Vec<Component> {
    for part in parts {
        let holds = |c: &&mut Component| {
            let inside = 5 * c.shared_rows(&part) >= 4 * part.rows();
            c.cells >= part.cells && inside && !c.walled_off(&part) && is_part(c, &part, scene)
        };
        let home = all.iter_mut().find(holds);
        if let Some(c) = home {
            *c = c.with(&part);
        }
    }
    all
}

/// A component on its way through [`gather`].
struct Part {
    component: Component,
    /// Whether it became what it is in the pass before: two that are not fresh have been held
    /// against each other already.
    fresh: bool,
    /// The same of this pass.
    grown: bool,
}

fn gather_by(
    all: Vec<Component>,
    belongs: &dyn Fn(&Component, &Component) -> bool,
) -> Vec<Component> {
    let part = |component| Part { component, fresh: true, grown: false };
    let mut all: Vec<Part> = all.into_iter().map(part).collect();
    loop {
        all.sort_by(|a, b| {
            let (a, b) = (&a.component, &b.component);
            b.cells.cmp(&a.cells).then(a.bin0.cmp(&b.bin0)).then(a.row0.cmp(&b.row0))
        });
        let mut kept: Vec<Part> = Vec::with_capacity(all.len());
        for p in all {
            let home = kept
                .iter_mut()
                .find(|k| (k.fresh || k.grown || p.fresh) && belongs(&k.component, &p.component));
            match home {
                Some(k) => {
                    k.component = k.component.with(&p.component);
                    k.grown = true;
                }
                None => kept.push(p),
            }
        }
        all = kept;
        if all.iter().all(|p| !p.grown) {
            return all.into_iter().map(|p| p.component).collect();
        }
        for p in &mut all {
            (p.fresh, p.grown) = (p.grown, false);
        }
    }
}

/// Whether a component with fewer cells belongs to a larger one.
fn belongs(large: &Component, small: &Component, scene: &Scene<'_>) -> bool {
    let shared = large.shared_rows(small);
    if shared == 0 {
        return false;
    }
    let apart = large.apart_bins(small);
    let width = large.bins().max(small.bins());
    let inside = 5 * shared >= 4 * small.rows();
    let walled = large.walled_off(small);
    if apart == 0 && !walled {
        return inside;
    }
    if apart <= TOGETHER * large.bins().min(small.bins()) && together(large, small, scene) {
        // Tones and sidebands of one burst begin and end together.
        return true;
    }
    inside
        && !walled
        && (is_part(large, small, scene)
            || (apart <= TOGETHER * width && one_modulation(large, small, scene)))
}

/// Whether a component beside a larger one, within its time, is a part of its spectrum.
fn is_part(large: &Component, small: &Component, scene: &Scene<'_>) -> bool {
    let apart = large.apart_bins(small);
    let width = large.bins().max(small.bins());
    let (low, high) = large.core;
    let from_core = low.max(small.bin0).saturating_sub(high.min(small.bin1));
    let piece = small.rows() * 2 < large.rows() && small.bins() <= high - low;
    if piece
        && from_core <= ((high - low) / 2).max(2)
        && weaker(small, large, scene)
        && (apart <= 1 || has_twin(large, small, scene))
    {
        // A piece of a sideband that comes and goes; no other's, which would lie on one side alone.
        return true;
    }
    apart <= 1
        || (apart <= width / 16 && !valley(large, small, scene))
        || (apart <= 2 * width && no_valley(large, small, scene))
}

/// Whether a large component has as much at the mirror image of a small one as that holds; where the
/// receiver's band ends before it, nothing speaks against it.
fn has_twin(large: &Component, small: &Component, scene: &Scene<'_>) -> bool {
    let rows = (large.row0.max(small.row0), large.row1.min(small.row1));
    let (low, high) = large.core;
    let core = excess(low..high, rows, scene);
    let mirror = mirrored(&small.band(), (low, &core), scene.floor.len());
    let energy = |bins: Range<usize>| excess(bins, rows, scene).iter().sum::<f64>();
    mirror.is_empty() || alike(energy(mirror), energy(small.band()))
}

/// Whether two components begin and end together, and not just with the block.
fn together(a: &Component, b: &Component, scene: &Scene<'_>) -> bool {
    // Chance brings short bursts together more closely than a pause within one lasts.
    let slack = (a.rows().min(b.rows()) / EDGE).min(scene.gap_rows).max(2);
    let whole = |c: &Component| c.row0 == 0 && c.row1 == scene.cells.rows;
    let like = |x: (usize, usize), y: (usize, usize), slack: usize| {
        x.0.abs_diff(y.0) <= slack && x.1.abs_diff(y.1) <= slack
    };
    if whole(a) || whole(b) || !like((a.row0, a.row1), (b.row0, b.row1), slack) {
        return false;
    }
    // What only a sum of rows showed begins and ends where the sum does.
    let exact = |c: &Component| !(c.row0.is_multiple_of(SUMMED) && c.row1.is_multiple_of(SUMMED));
    let own = (scene.cells, scene.floor);
    let finest = apart_in_time(a, b, scene).unwrap_or(own);
    let edges = |view: (&Cells, &[f32])| Some((edges(a, scene, view)?, edges(b, scene, view)?));
    if let Some((x, y)) = edges(finest) {
        let hops = |rows: usize| rows * scene.cells.level.hop / finest.0.level.hop;
        return like(x, y, (hops(a.rows().min(b.rows())) / EDGE).min(hops(slack)).max(2));
    }
    match exact(a) && exact(b) {
        true => true,
        false => edges(own).is_some_and(|(x, y)| like(x, y, slack)),
    }
}

/// The resolution finest in time that tells the bands of two components apart.
fn apart_in_time<'a>(
    a: &Component,
    b: &Component,
    scene: &Scene<'a>,
) -> Option<(&'a Cells, &'a [f32])> {
    let own = scene.cells.level;
    let apart = |view: &&(&Cells, &[f32])| {
        let (x, y) = (bins_at(&a.band(), own, view.0.level), bins_at(&b.band(), own, view.0.level));
        x.start.max(y.start) as i64 - x.end.min(y.end) as i64 >= 2
    };
    scene.finer.iter().rev().find(apart).copied()
}

/// Bins of another resolution that hold those of `own`.
pub(crate) fn bins_at(bins: &Range<usize>, own: Level, level: Level) -> Range<usize> {
    let low = level.bin_at(own.offset_hz(bins.start as f64)).round();
    let high = level.bin_at(own.offset_hz((bins.end - 1) as f64)).round();
    low.max(0.0) as usize..(high as usize + 1).min(level.n)
}

/// First row and one past the last of `cells` in which a component's band stands out by a quarter of
/// its mean while on; `None` where single rows are too noisy to tell.
fn edges(
    c: &Component,
    scene: &Scene<'_>,
    (cells, floor): (&Cells, &[f32]),
) -> Option<(usize, usize)> {
    let (own, level) = (scene.cells.level, cells.level);
    let bins = bins_at(&c.band(), own, level);
    let noise = sum(&floor[bins.clone()]);
    let power = |r: usize| sum(&cells.row(r)[bins.clone()]) - noise * f64::from(cells.gain[r]);
    let margin = SUMMED / 4;
    let from = c.row0.saturating_sub(margin) * own.hop / level.hop;
    let to = (((c.row1 - 1 + margin) * own.hop + own.n) / level.hop).min(cells.rows);
    let powers: Vec<f64> = (from..to).map(power).collect();
    let mean = powers.iter().sum::<f64>() / powers.len() as f64;
    let (sum, n) =
        powers.iter().filter(|p| **p > mean).fold((0.0, 0.0), |(s, n), p| (s + p, n + 1.0));
    let on = sum / n;
    if on.is_nan() || 0.25 * on < 4.0 * noise / (bins.len() as f64 / 1.5).max(1.0).sqrt() {
        return None;
    }
    let first = powers.iter().position(|p| *p > 0.25 * on)?;
    let last = powers.iter().rposition(|p| *p > 0.25 * on)?;
    Some((from + first, from + last + 1))
}

/// Whether two components are tones of one emission.
fn one_modulation(a: &Component, b: &Component, scene: &Scene<'_>) -> bool {
    let rows = (a.row0.max(b.row0), a.row1.min(b.row1));
    if ((rows.1 - rows.0) as f64) < 0.8 * a.rows().max(b.rows()) as f64 {
        return false;
    }
    let bins = |c: &Component| c.bin0..c.bin1;
    if take_turns((bins(a), bins(b)), rows, scene) {
        return true;
    }
    modulus(&bins(a), &bins(b), rows, scene) == Modulus::Constant
}

/// Mean excess over the floor of each of `bins` over `rows`.
pub(crate) fn excess(bins: Range<usize>, rows: (usize, usize), scene: &Scene<'_>) -> Vec<f64> {
    let step = (rows.1 - rows.0).div_ceil(ROWS).max(1);
    let mut sum = vec![0.0; bins.len()];
    let mut n = 0.0;
    for r in (rows.0..rows.1).step_by(step) {
        let gain = scene.cells.gain[r];
        let row = &scene.cells.row(r)[bins.clone()];
        for ((s, p), f) in sum.iter_mut().zip(row).zip(&scene.floor[bins.clone()]) {
            *s += f64::from(*p - *f * gain);
        }
        n += 1.0;
    }
    sum.iter_mut().for_each(|s| *s /= n);
    sum
}

/// Whether the excess between two components is clearly less than a tenth of theirs.
fn valley(a: &Component, b: &Component, scene: &Scene<'_>) -> bool {
    let (low, high) = if a.bin0 < b.bin0 { (a, b) } else { (b, a) };
    let rows = (a.row0.max(b.row0), a.row1.min(b.row1));
    let gap = low.bin1..high.bin0;
    let mean = |bins: Range<usize>| {
        let n = bins.len() as f64;
        excess(bins, rows, scene).iter().sum::<f64>() / n
    };
    let noise = scene.floor[gap.clone()].iter().map(|f| f64::from(*f)).sum::<f64>();
    let noise = noise / gap.len() as f64;
    let sd = noise / ((rows.1 - rows.0).min(ROWS) as f64 * gap.len() as f64 / 1.5).sqrt();
    let weaker = mean(a.bin0..a.bin1).min(mean(b.bin0..b.bin1));
    weaker > CLEAR * noise && mean(gap) + 3.0 * sd < DEEP * weaker
}

/// Whether the excess between two components is much like theirs all the way.
fn no_valley(a: &Component, b: &Component, scene: &Scene<'_>) -> bool {
    let (low, high) = if a.bin0 < b.bin0 { (a, b) } else { (b, a) };
    let rows = (a.row0.max(b.row0), a.row1.min(b.row1));
    let all = excess(low.bin0..high.bin1, rows, scene);
    let of = |bins: Range<usize>| &all[bins.start - low.bin0..bins.end - low.bin0];
    let mean = |c: &Component| of(c.bin0..c.bin1).iter().sum::<f64>() / c.bins() as f64;
    let least = VALLEY * mean(a).min(mean(b));
    // Three bins smoothed, half a row's worth of noise each: two low ones in a row are a valley.
    let mut below = 0;
    for w in of(low.bin1 - 1..high.bin0 + 1).windows(3) {
        below = if w.iter().sum::<f64>() < 3.0 * least { below + 1 } else { 0 };
        if below > 1 {
            return false;
        }
    }
    true
}

/// Whether a component is much weaker than another, bin for bin.
fn weaker(small: &Component, large: &Component, scene: &Scene<'_>) -> bool {
    let peak = |c: &Component| {
        let rows = (small.row0.max(large.row0), small.row1.min(large.row1));
        excess(c.bin0..c.bin1, rows, scene).into_iter().fold(0.0, f64::max)
    };
    peak(small) < VALLEY * peak(large)
}

/// Sum in four lanes, which the processor adds side by side.
pub(crate) fn sum(x: &[f32]) -> f64 {
    let mut lanes = [0.0f64; 4];
    for four in x.chunks(4) {
        lanes.iter_mut().zip(four).for_each(|(s, x)| *s += f64::from(*x));
    }
    (lanes[0] + lanes[1]) + (lanes[2] + lanes[3])
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    /// A strong component of 30 bins, and a weaker one of two, 11 bins above it for half the time:
    /// with as much on the other side it is a sideband, else another's.
    #[test]
    fn a_piece_far_off_needs_its_twin() {
        let (n, rows) = (1024, 200);
        let level = Level { n, hop: n / 2, rate_hz: 1e6 };
        let block = vec![Iq::default(); n];
        let floor = vec![1.0f32; n];
        for twin in [false, true] {
            let mut power = vec![1.0f32; n * rows];
            for (r, row) in power.chunks_mut(n).enumerate() {
                row[400..430].fill(1000.0);
                if (50..100).contains(&r) {
                    row[441..443].fill(100.0);
                    row[387..389].fill(if twin { 100.0 } else { 1.0 });
                }
            }
            let cells = Cells { level, rows, power, gain: vec![1.0; rows] };
            let finer = [(&cells, floor.as_slice())];
            let scene =
                Scene { cells: &cells, floor: &floor, block: &block, finer: &finer, gap_rows: 4 };
            let part = |rows: Range<usize>, bins: Range<usize>| Component {
                row0: rows.start,
                row1: rows.end,
                bin0: bins.start,
                bin1: bins.end,
                cells: rows.len() * bins.len(),
                core: (bins.start, bins.end),
                walls: (0, usize::MAX),
            };
            let (large, small) = (part(0..rows, 400..430), part(50..100, 441..443));
            assert_eq!(is_part(&large, &small, &scene), twin);
        }
    }

    /// The same without remembering what was held against each other.
    fn plainly(
        mut all: Vec<Component>,
        by: &dyn Fn(&Component, &Component) -> bool,
    ) -> Vec<Component> {
        loop {
            all.sort_by_key(|c| (std::cmp::Reverse(c.cells), c.bin0, c.row0));
            let before = all.len();
            let mut kept: Vec<Component> = Vec::new();
            for c in all {
                match kept.iter_mut().find(|k| by(k, &c)) {
                    Some(k) => *k = k.with(&c),
                    None => kept.push(c),
                }
            }
            if kept.len() == before {
                return kept;
            }
            all = kept;
        }
    }

    #[test]
    fn what_was_refused_once_stays_refused() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(11);
        let mut merges = 0;
        for _ in 0..200 {
            let all: Vec<Component> = (0..60)
                .map(|_| {
                    let (row0, bin0) = (rng.random_range(0..200), rng.random_range(0..300));
                    let (rows, bins) = (rng.random_range(1..30), rng.random_range(1..9));
                    let core = (bin0, bin0 + bins);
                    let cells = rng.random_range(1..=rows * bins);
                    Component {
                        row0,
                        row1: row0 + rows,
                        bin0,
                        bin1: bin0 + bins,
                        cells,
                        core,
                        walls: (0, usize::MAX),
                    }
                })
                .collect();
            // Like the real test: not symmetric, and what has grown may refuse or take anew.
            let by = |large: &Component, small: &Component| {
                large.shared_rows(small) * 2 > small.rows()
                    && large.apart_bins(small) <= large.bins() / 2
                    && !(large.cells + small.row0).is_multiple_of(3)
            };
            let plain = plainly(all.clone(), &by);
            merges += all.len() - plain.len();
            assert_eq!(gather_by(all, &by), plain);
        }
        assert!(merges > 500, "{merges}");
    }
}
