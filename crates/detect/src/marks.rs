//! Which cells hold more than noise: sums over 1, 4, 16 and 64 rows and over the whole block,
//! each against the exact tail of its own law, at a stated false-alarm probability.

use crate::cells::Cells;
use dsp::{ExponentialSum, frame_eigenvalues, gamma_isf_ln};
use rayon::prelude::*;

/// Numbers of rows that are summed, shortest first; each is four times the one before.
const SUMS: usize = 4;
/// Rows of a part worked on at once: the longest sum but the whole block's.
const PART: usize = 64;
/// Least excess over the floor that counts, whatever the length of the sum: what the floor's model
/// may be wrong by (1 dB), with a margin.
const LEAST: f64 = 1.4;

/// Thresholds of the sums, as multiples of the mean of one row.
#[derive(Debug, Clone)]
pub(crate) struct Thresholds {
    /// For 1, 4, 16, 64 rows.
    sums: [f64; SUMS],
    /// ln of the false-alarm probability of one test.
    pub ln_p: f64,
}

/// Threshold of the mean of `rows` rows over their expectation.
fn threshold(rows: usize, ln_p: f64) -> f64 {
    let exact = if rows <= PART {
        ExponentialSum::new(&frame_eigenvalues(rows)).isf_ln(ln_p) / rows as f64
    } else {
        // Half-overlapped Hann frames are worth 18/19 of their number (Welch 1967).
        let k = rows as f64 * 18.0 / 19.0;
        gamma_isf_ln(k, ln_p) / k
    };
    exact.max(LEAST)
}

impl Thresholds {
    /// For `tests` cells of the whole recording at this resolution, of which `false_rows` may fire
    /// on noise.
    pub fn new(false_rows: f64, tests: f64) -> Self {
        // Five kinds of sums share the budget; the longer ones have fewer cells, which is margin.
        let ln_p = (false_rows / (tests.max(1.0) * (SUMS + 1) as f64)).ln().min(-3.0);
        Thresholds { sums: std::array::from_fn(|s| threshold(1 << (2 * s), ln_p)), ln_p }
    }
    /// Threshold of one row, as a multiple of the floor.
    pub fn one(&self) -> f64 {
        self.sums[0]
    }
    /// Threshold of the mean over `rows` rows.
    pub fn over(&self, rows: usize) -> f64 {
        threshold(rows, self.ln_p)
    }
}

/// Marks of a block: rows × bins, true where a cell holds more than noise. `barred` cells, said
/// by row and bin, are taken as noise.
#[derive(Debug)]
pub(crate) struct Marks {
    pub rows: usize,
    pub bins: usize,
    pub on: Vec<bool>,
}

impl Marks {
    pub fn row(&self, r: usize) -> &[bool] {
        &self.on[r * self.bins..(r + 1) * self.bins]
    }

    /// Marks the cells of a block over `floor` (one power a bin). `longest` is how many of the
    /// sums are tried; `whole` whether the whole block's is.
    pub fn of(
        cells: &Cells,
        floor: &[f32],
        thresholds: &Thresholds,
        longest: usize,
        whole: bool,
    ) -> Marks {
        let n = cells.level.n;
        let mut on = vec![false; cells.rows * n];
        let sums = &thresholds.sums[..longest.min(SUMS)];
        let totals: Vec<Vec<f64>> = on
            .par_chunks_mut(PART * n)
            .zip(cells.power.par_chunks(PART * n))
            .map(|(on, power)| part(on, power, floor, sums, whole))
            .collect();
        if whole && cells.rows > 1 {
            let mut total = vec![0.0f64; n];
            for t in &totals {
                total.iter_mut().zip(t).for_each(|(a, b)| *a += b);
            }
            let limit = thresholds.over(cells.rows) * cells.rows as f64;
            let hit: Vec<usize> =
                (0..n).filter(|k| total[*k] > limit * f64::from(floor[*k])).collect();
            if !hit.is_empty() {
                on.par_chunks_mut(n).for_each(|row| hit.iter().for_each(|k| row[*k] = true));
            }
        }
        Marks { rows: cells.rows, bins: n, on }
    }
}

/// Marks up to [`PART`] rows, and sums what stayed unmarked over them (marked cells count as
/// floor, so that one strong row does not paint the whole stretch).
fn part(on: &mut [bool], power: &[f32], floor: &[f32], sums: &[f64], whole: bool) -> Vec<f64> {
    let n = floor.len();
    let rows = power.len() / n;
    let first = sums[0] as f32;
    let limit: Vec<f32> = floor.iter().map(|f| f * first).collect();
    for (on, row) in on.chunks_exact_mut(n).zip(power.chunks_exact(n)) {
        for ((on, p), t) in on.iter_mut().zip(row).zip(&limit) {
            *on = *p > *t;
        }
    }
    let mut sum = vec![0.0f32; n];
    for (s, factor) in sums.iter().enumerate().skip(1) {
        let length = 1usize << (2 * s);
        for from in (0..rows).step_by(length).filter(|from| from + length <= rows) {
            sum.fill(0.0);
            for r in from..from + length {
                add(&mut sum, &power[r * n..(r + 1) * n], &on[r * n..(r + 1) * n], floor);
            }
            let factor = *factor as f32 * length as f32;
            for (k, s) in sum.iter().enumerate() {
                if *s > factor * floor[k] {
                    (from..from + length).for_each(|r| on[r * n + k] = true);
                }
            }
        }
    }
    if !whole {
        return Vec::new();
    }
    sum.fill(0.0);
    for r in 0..rows {
        add(&mut sum, &power[r * n..(r + 1) * n], &on[r * n..(r + 1) * n], floor);
    }
    sum.iter().map(|s| f64::from(*s)).collect()
}

/// Adds a row, its marked cells as floor.
fn add(sum: &mut [f32], power: &[f32], on: &[bool], floor: &[f32]) {
    for (((s, p), on), f) in sum.iter_mut().zip(power).zip(on).zip(floor) {
        *s += if *on { *f } else { *p };
    }
}
