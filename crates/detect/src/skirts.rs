//! Skirts of strong emissions: keying, phase noise and the window spread a little of their power
//! far to either side. What does not stand out from that skirt is no emission of its own.
//!
//! A skirt is measured, not modelled: over octaves of distance from the strong core, the low
//! quantile of the mean spectrum while it is on, never rising outwards. Separate emissions fill a
//! small part of an octave and stand out; a gap before a neighbour brings the skirt down.

use crate::cells::Cells;
use crate::components::{Component, components};
use crate::marks::Marks;

/// Peak over the floor from which skirts are looked for: the threshold of one cell and the depth
/// of a keyed signal's near skirt (common practice, no source).
const STRONG: f32 = 300.0;
/// A core is what lies less than this under its peak (20 dB).
const CORE: f64 = 0.01;
/// Part of an octave that a skirt fills at least.
const FILLED: f64 = 0.7;
/// Rounds: each takes the strongest of every component.
const ROUNDS: usize = 6;
/// Rows averaged at most.
const ROWS: usize = 256;

/// Takes the skirts out of `marks` and gives the components of what is left.
pub(crate) fn without(
    marks: &mut Marks,
    cells: &Cells,
    floor: &[f32],
    once: f32,
    gap_rows: usize,
) -> Vec<Component> {
    let mut done: Vec<(usize, usize, usize)> = Vec::new();
    for round in 0..=ROUNDS {
        let found = components(marks, gap_rows, 1);
        if round == ROUNDS {
            return found;
        }
        let mut changed = false;
        for c in &found {
            let Some((peak, ratio)) = peak(c, cells, floor, marks) else { continue };
            let known =
                done.iter().any(|d| d.0.abs_diff(peak) <= 2 && d.1 < c.row1 && c.row0 < d.2);
            if ratio < STRONG || known {
                continue;
            }
            done.push((peak, c.row0, c.row1));
            changed |= cut(c, peak, marks, cells, floor, once);
        }
        if !changed {
            return found;
        }
    }
    Vec::new()
}

/// Bin of the strongest marked cell of a component, and how far it stands over the floor.
fn peak(c: &Component, cells: &Cells, floor: &[f32], marks: &Marks) -> Option<(usize, f32)> {
    let step = c.rows().div_ceil(ROWS).max(1);
    let mut best: Option<(usize, f32)> = None;
    for r in (c.row0..c.row1).step_by(step) {
        let (row, on) = (cells.row(r), marks.row(r));
        for k in c.bin0..c.bin1 {
            if on[k] && best.is_none_or(|b| row[k] / floor[k] > b.1) {
                best = Some((k, row[k] / floor[k]));
            }
        }
    }
    best
}

/// Unmarks the skirt of the core about bin `peak`. Says whether anything changed.
fn cut(
    c: &Component,
    peak: usize,
    marks: &mut Marks,
    cells: &Cells,
    floor: &[f32],
    once: f32,
) -> bool {
    let n = cells.level.n;
    let on = on_rows(c, peak, cells);
    let step = on.len().div_ceil(ROWS).max(1);
    let mut mean = vec![0.0f64; n];
    let mut count = 0.0;
    for r in on.iter().step_by(step) {
        mean.iter_mut().zip(cells.row(*r)).for_each(|(m, p)| *m += f64::from(*p));
        count += 1.0;
    }
    mean.iter_mut().for_each(|m| *m /= count);
    let three = |k: usize| (mean[k.saturating_sub(1)] + mean[k] + mean[(k + 1).min(n - 1)]) / 3.0;
    let least = CORE * three(peak);
    let low = (0..peak).rev().find(|k| three(*k) < least).map_or(0, |k| k + 1);
    let high = (peak + 1..n).find(|k| three(*k) < least).unwrap_or(n);
    let mut limit: Vec<f32> = vec![0.0; n];
    let unit = ((high - low) / 4).max(4);
    let below: Vec<f64> = mean[..low].iter().rev().copied().collect();
    for (i, s) in skirt(&below, unit, least).into_iter().enumerate() {
        limit[low - 1 - i] = s as f32;
    }
    for (i, s) in skirt(&mean[high..], unit, least).into_iter().enumerate() {
        limit[high + i] = s as f32;
    }
    // A skirt that does not rise over the floor by half is the floor.
    let raised = |k: usize| limit[k] > 1.5 * floor[k];
    let raised: Vec<usize> = (0..n).filter(|k| raised(*k)).collect();
    let mut rows = on.clone();
    rows.extend(on.iter().flat_map(|r| [r.saturating_sub(1), (r + 1).min(cells.rows - 1)]));
    rows.sort_unstable();
    rows.dedup();
    let mut changed = false;
    for r in rows {
        for k in &raised {
            let cell = &mut marks.on[r * n + k];
            if *cell && cells.row(r)[*k] < once * limit[*k] {
                *cell = false;
                changed = true;
            }
        }
    }
    changed
}

/// The skirt over bins of rising distance from the core: octaves from `unit` bins on, each at the
/// quantile that a skirt fills, none above the one before.
fn skirt(mean: &[f64], unit: usize, most: f64) -> Vec<f64> {
    let mut out = Vec::with_capacity(mean.len());
    let (mut level, mut size) = (most, unit);
    while out.len() < mean.len() {
        let end = (out.len() + size).min(mean.len());
        let mut values = mean[out.len()..end].to_vec();
        let at = ((1.0 - FILLED) * values.len() as f64) as usize;
        let (_, value, _) = values.select_nth_unstable_by(at, f64::total_cmp);
        level = level.min(*value);
        size = end;
        out.resize(end, level);
    }
    out
}

/// Rows of a component in which the line at `peak` is on: a tenth of its strongest row.
fn on_rows(c: &Component, peak: usize, cells: &Cells) -> Vec<usize> {
    let n = cells.level.n;
    let power =
        |r: usize| -> f32 { cells.row(r)[peak.saturating_sub(2)..(peak + 3).min(n)].iter().sum() };
    let most = (c.row0..c.row1).map(power).fold(0.0, f32::max);
    (c.row0..c.row1).filter(|r| power(*r) > 0.1 * most).collect()
}
