//! The last mean spectra of one length, and what stands out in some of them together.

use super::Stretch;
use super::part::{Part, cumulated};
use rayon::prelude::*;

/// Mean spectra kept of one length.
const ROWS: usize = 8;
/// Bins of a stretch at most.
const WIDEST: usize = 128;
/// Bins beside a stretch, to either side, for each of its own; a few at least.
const BESIDE: usize = 4;
const BESIDE_LEAST: usize = 24;

/// Mean spectra of one length, oldest first.
#[derive(Debug, Default)]
pub(super) struct Tier {
    rows: Vec<Part>,
    /// Waits for the one that it makes a longer one with.
    odd: Option<Part>,
}

impl Tier {
    /// Takes the next; hands out one of twice the length with every second.
    pub fn push(&mut self, part: Part) -> Option<Part> {
        self.rows.push(part.clone());
        match self.odd.take() {
            Some(first) => Some(first.with(&part)),
            None => {
                self.odd = Some(part);
                None
            }
        }
    }
    pub fn is_full(&self) -> bool {
        self.rows.len() >= ROWS
    }
    /// Lets the older half go.
    pub fn advance(&mut self) {
        self.rows.drain(..ROWS / 2);
    }

    /// What stands out over the bins beside it in some of the rows: in 4 of them or more, or `short`
    /// in any number. `believed` tells ln p of so many frames and bins, bins beside them and
    /// times that they stand over these, where it is so small that it counts.
    pub fn stretches(
        &self,
        short: bool,
        believed: impl Fn(f64, usize, usize, f64) -> Option<f64> + Sync,
    ) -> Vec<Stretch> {
        let count = self.rows.len();
        let spans: Vec<(usize, usize)> = (0..count)
            .flat_map(|a| (a + 1..=count).map(move |z| (a, z)))
            .filter(|(a, z)| short || z - a >= ROWS / 2)
            .collect();
        let one = |(a, z): &(usize, usize)| {
            let rows = &self.rows[*a..*z];
            let first = rows[0].clone();
            let whole = rows[1..].iter().fold(first, |sum, next| sum.with(next));
            row(&whole, &believed)
        };
        spans.par_iter().flat_map_iter(one).collect()
    }
}

/// Stretches of the bins of one mean spectrum that stand out over those beside them.
fn row(
    of: &Part,
    believed: &(impl Fn(f64, usize, usize, f64) -> Option<f64> + Sync),
) -> Vec<Stretch> {
    let n = of.mean.len();
    let sums = cumulated(&of.mean);
    let sum = |a: usize, z: usize| sums[z] - sums[a];
    let mut found: Vec<Stretch> = Vec::new();
    let widths = std::iter::successors(Some(2usize), |w| {
        Some(if w.is_power_of_two() { w / 2 * 3 } else { w / 3 * 4 })
    });
    for width in widths.take_while(|w| *w <= WIDEST.min(n / 16)) {
        let side = (BESIDE * width).max(BESIDE_LEAST);
        // A line's main lobe reaches two bins past those that hold most of it.
        let guard = width / 2 + 2;
        // No exact tail is asked for where a few standard deviations are not reached.
        let sd = (2.1 / (of.frames * width as f64)).sqrt();
        let hop = (width / 4).max(1);
        for bin0 in (guard + side..n.saturating_sub(width + guard + side)).step_by(hop) {
            let bin1 = bin0 + width;
            let mean = sum(bin0, bin1) / width as f64;
            let low = sum(bin0 - guard - side, bin0 - guard) / side as f64;
            let high = sum(bin1 + guard, bin1 + guard + side) / side as f64;
            let beside = 0.5 * (low + high);
            let excess = mean / beside - 1.0;
            // A slope is none, nor is the foot of something larger on one side.
            if excess < 4.0 * sd || mean <= low.max(high) {
                continue;
            }
            let Some(ln_p) = believed(of.frames, width, 2 * side, 1.0 + excess) else { continue };
            let (start, stop) = (of.start, of.stop);
            let over = |k: &usize| (f64::from(of.mean[*k]) / beside - 1.0).max(0.0);
            let about = bin0.saturating_sub(1)..(bin1 + 1).min(n);
            let weight: f64 = about.clone().map(|k| over(&k)).sum();
            let middle = about.map(|k| k as f64 * over(&k)).sum::<f64>() / weight.max(1e-30);
            found.push(Stretch {
                start,
                stop,
                bin0,
                bin1,
                middle,
                mean: 1.0 + excess,
                noise: 0.0,
                ln_p,
            });
        }
    }
    // The clearest of those that overlap.
    found.sort_by(|a, b| a.ln_p.total_cmp(&b.ln_p));
    let mut best: Vec<Stretch> = Vec::new();
    for s in found {
        if !best.iter().any(|b| b.bin0 < s.bin1 + 4 && s.bin0 < b.bin1 + 4) {
            best.push(s);
        }
    }
    best
}
