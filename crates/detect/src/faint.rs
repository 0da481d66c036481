//! Emissions too weak for any one cell, or bin, to show: boxes of many cells that together hold more
//! than noise.
//!
//! At every resolution the mean over boxes of 1, 2, 4 … rows by 1, 2, 4 … bins, half overlapped, is
//! held against the exact tail of its own law, in what no emission found before explains. What stands
//! out a little is grown to the box that stands out most, and believed if noise would make one such
//! in the whole recording seldom enough, whatever its place, length and width.

mod grow;
mod rest;
mod scan;

pub(crate) use scan::Sieve;

use crate::areas::{Area, View, touches};
use crate::components::Component;
use crate::slow::Left;
use grow::grown;
use rayon::prelude::*;
use rest::Rest;

/// A box of cells of one resolution, and how well it stands out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Boxed {
    row0: usize,
    row1: usize,
    bin0: usize,
    bin1: usize,
    /// Mean over the noise.
    mean: f64,
}

impl Boxed {
    fn rows(&self) -> usize {
        self.row1 - self.row0
    }
    fn bins(&self) -> usize {
        self.bin1 - self.bin0
    }
    /// How far it stands out of noise: about the square of standard deviations.
    fn score(&self) -> f64 {
        (self.mean - 1.0).powi(2) * (self.rows() * self.bins()) as f64
    }
}

/// Boxes of one resolution that are grown; the best are.
const MOST: usize = 512;

/// Areas of what is faint, beside those taken already, and what these leave at the finest resolution
/// in frequency. `sieves` are of the resolutions.
pub(crate) fn faint(views: &[View<'_>], taken: &[Area], sieves: &[Sieve]) -> (Vec<Area>, Left) {
    let mut all: Vec<(f64, Area)> = Vec::new();
    let mut left = Left::default();
    for (l, (view, sieve)) in views.iter().zip(sieves).enumerate() {
        let (rest, parts) = Rest::of(view, views, taken);
        if l == 0 {
            left = parts.left(view);
        }
        let mut seen = sieve.boxes(&rest);
        seen.sort_by(|a, b| b.score().total_cmp(&a.score()));
        seen.truncate(MOST);
        let believed = seen.par_iter().filter_map(|b| {
            let b = grown(*b, &rest);
            let ln_p = sieve.ln_p(&b, &rest);
            (ln_p < sieve.least(&b) && rest.stands_out(&b)).then(|| (ln_p, area(l, &b)))
        });
        all.extend(believed.collect::<Vec<_>>());
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut found: Vec<Area> = Vec::new();
    for (_, area) in all {
        let again = found.iter().any(|f| touches(f, &area, views));
        if !again && !taken.iter().any(|t| beside(t, &area, views)) {
            found.push(area);
        }
    }
    (found, left)
}

fn area(level: usize, b: &Boxed) -> Area {
    let (row0, row1, bin0, bin1) = (b.row0, b.row1, b.bin0, b.bin1);
    let cells = b.rows() * b.bins();
    let component =
        Component { row0, row1, bin0, bin1, cells, core: (bin0, bin1), walls: (0, usize::MAX) };
    Area { level, component }
}

/// Whether a faint area lies beside one that is clear, at the same time: its skirt more likely than
/// an emission of its own.
fn beside(clear: &Area, faint: &Area, views: &[View<'_>]) -> bool {
    let span = |x: &Area| {
        let level = views[x.level].cells.level;
        let c = &x.component;
        let low = level.offset_hz(c.bin0 as f64 - 0.5);
        let time = ((c.row0 * level.hop) as f64, ((c.row1 - 1) * level.hop + level.n) as f64);
        (time, low, level.offset_hz(c.bin1 as f64 - 0.5))
    };
    let (a, b) = (span(clear), span(faint));
    let apart_hz = (a.1 - b.2).max(b.1 - a.2);
    let wider_hz = (a.2 - a.1).max(b.2 - b.1);
    a.0.0 < b.0.1 && b.0.0 < a.0.1 && apart_hz <= wider_hz
}
