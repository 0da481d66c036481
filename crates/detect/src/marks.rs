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

/// A sum counts as steady where this many of its quarters stand over the floor by
/// [`QUARTER`] of what the whole must. A burst in one quarter does not paint the rest.
const STEADY_QUARTERS: usize = 3;
/// See [`STEADY_QUARTERS`].
const QUARTER: f32 = 0.25;

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
    let exact = if rows == 1 {
        // One frame is an exponential.
        -ln_p
    } else if rows <= 16 {
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
            .zip(cells.gain.par_chunks(PART))
            .map(|((on, power), gain)| part(on, power, gain, floor, sums, whole))
            .collect();
        if whole && cells.rows > 1 {
            let mut total = vec![0.0f64; n];
            for t in &totals {
                total.iter_mut().zip(t).for_each(|(a, b)| *a += b);
            }
            let over = thresholds.over(cells.rows);
            let limit = over * cells.rows as f64;
            // Steady: most parts stand out too, by half of what the whole must.
            let steady = |k: usize| {
                let count = |(t, rows): (&Vec<f64>, usize)| {
                    usize::from(t[k] > (0.5 + 0.5 * over) * rows as f64 * f64::from(floor[k]))
                };
                let rows = (0..totals.len()).map(|i| PART.min(cells.rows - i * PART));
                4 * totals.iter().zip(rows).map(count).sum::<usize>() >= 3 * totals.len()
            };
            let hit: Vec<usize> =
                (0..n).filter(|k| total[*k] > limit * f64::from(floor[*k]) && steady(*k)).collect();
            if !hit.is_empty() {
                on.par_chunks_mut(n).for_each(|row| hit.iter().for_each(|k| row[*k] = true));
            }
        }
        Marks { rows: cells.rows, bins: n, on }
    }
}

/// Marks up to [`PART`] rows, and sums what stayed unmarked over them (marked cells count as
/// floor, so that one strong row does not paint the whole stretch).
fn part(
    on: &mut [bool],
    power: &[f32],
    gain: &[f32],
    floor: &[f32],
    sums: &[f64],
    whole: bool,
) -> Vec<f64> {
    let n = floor.len();
    let rows = power.len() / n;
    let first = sums[0] as f32;
    let limit: Vec<f32> = floor.iter().map(|f| f * first).collect();
    for ((on, row), gain) in on.chunks_exact_mut(n).zip(power.chunks_exact(n)).zip(gain) {
        for ((on, p), t) in on.iter_mut().zip(row).zip(&limit) {
            *on = *p > *t * gain;
        }
    }
    let quiet: Vec<f32> = gain.iter().map(|g| 1.0 / g).collect();
    let mut sum = vec![0.0f32; n];
    for (s, factor) in sums.iter().enumerate().skip(1) {
        let length = 1usize << (2 * s);
        for from in (0..rows).step_by(length).filter(|from| from + length <= rows) {
            sum.fill(0.0);
            for r in from..from + length {
                add(&mut sum, &power[r * n..(r + 1) * n], &on[r * n..(r + 1) * n], floor, quiet[r]);
            }
            let quarters = length / 4;
            // Each quarter of a steady sum stands out by a good part of what the whole does.
            let least = (1.0 + QUARTER * (*factor as f32 - 1.0)) * quarters as f32;
            let whole = *factor as f32 * length as f32;
            for k in 0..n {
                if sum[k] <= whole * floor[k] {
                    continue;
                }
                let value =
                    |r: usize| if on[r * n + k] { floor[k] } else { power[r * n + k] * quiet[r] };
                let quarter =
                    |q: usize| (0..quarters).map(|i| value(from + q * quarters + i)).sum::<f32>();
                let steady = (0..4).filter(|q| quarter(*q) > least * floor[k]).count();
                if steady >= STEADY_QUARTERS {
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
        add(&mut sum, &power[r * n..(r + 1) * n], &on[r * n..(r + 1) * n], floor, quiet[r]);
    }
    sum.iter().map(|s| f64::from(*s)).collect()
}

/// Adds a row brought to the floor's gain, its marked cells as floor.
fn add(sum: &mut [f32], power: &[f32], on: &[bool], floor: &[f32], quiet: f32) {
    for (((s, p), on), f) in sum.iter_mut().zip(power).zip(on).zip(floor) {
        *s += if *on { *f } else { *p * quiet };
    }
}
