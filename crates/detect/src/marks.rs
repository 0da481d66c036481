//! Which cells hold more than noise: sums over 1, 4, 16 and 64 rows and over the whole block,
//! each against the exact tail of its own law, at a stated false-alarm probability.

use crate::cells::Cells;
use dsp::{ExponentialSum, frame_eigenvalues, gamma_isf_ln};
use multiversion::multiversion;
use rayon::prelude::*;
use std::sync::OnceLock;

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
    /// For 0, 1, 2, … rows, each worked out when it is first asked for.
    over: Vec<OnceLock<f64>>,
}

/// Numbers of rows whose thresholds are kept: most components are looked at over no more.
const KEPT: usize = 1024;

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
        let sums = std::array::from_fn(|s| threshold(1 << (2 * s), ln_p));
        Thresholds { sums, ln_p, over: vec![OnceLock::new(); KEPT] }
    }
    /// Threshold of one row, as a multiple of the floor.
    pub fn one(&self) -> f64 {
        self.sums[0]
    }
    /// Threshold of the mean over `rows` rows.
    pub fn over(&self, rows: usize) -> f64 {
        let of = || threshold(rows, self.ln_p);
        self.over.get(rows).map_or_else(of, |kept| *kept.get_or_init(of))
    }
}

/// Marks of a block: rows × bins, true where a cell holds more than noise.
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

/// Bins worked on at once, so that all sums stay in the nearest cache.
const TILE: usize = 1024;
/// A row or sum of rows over one tile.
type Sum = [f32; TILE];

/// Marks up to [`PART`] rows, and sums what stayed unmarked over them (marked cells count as
/// floor, so that one strong row does not paint the whole stretch). Each sum is made of the four
/// shorter ones before it, so a cell is read once.
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
    let mut total = vec![0.0f64; if whole { n } else { 0 }];
    // Of each length the last four, single rows first, and the longest.
    let mut quarters: Vec<[Sum; 4]> = vec![[[0.0; TILE]; 4]; sums.len() - 1];
    let mut longest = [0.0; TILE];
    for start in (0..n).step_by(TILE) {
        let floor = &floor[start..(start + TILE).min(n)];
        let mut add = |sum: &Sum| {
            let total = total.iter_mut().skip(start).take(floor.len());
            total.zip(sum).for_each(|(t, s)| *t += f64::from(*s));
        };
        for r in 0..rows {
            let at = r * n + start..r * n + start + floor.len();
            let value = &mut quarters[0][r % 4];
            mark_row(&mut on[at.clone()], &power[at], floor, sums[0] as f32, gain[r], value);
            let mut count = r + 1;
            for (level, over) in sums.iter().enumerate().skip(1) {
                if !count.is_multiple_of(4) {
                    break;
                }
                count /= 4;
                let length = 1usize << (2 * level);
                let (below, above) = quarters.split_at_mut(level);
                let four = &below[level - 1];
                let sum = match above.first_mut() {
                    Some(next) => &mut next[(count - 1) % 4],
                    None => &mut longest,
                };
                let limit = *over as f32 * length as f32;
                if add_four(four, floor, limit, sum) {
                    // Each quarter of a steady sum stands out by a good part of what the whole does.
                    let least = (1.0 + QUARTER * (*over as f32 - 1.0)) * (length / 4) as f32;
                    for k in 0..floor.len() {
                        let high = four.iter().filter(|q| q[k] > least * floor[k]).count();
                        if sum[k] > limit * floor[k] && high >= STEADY_QUARTERS {
                            (r + 1 - length..=r).for_each(|r| on[r * n + start + k] = true);
                            sum[k] = length as f32 * floor[k];
                        }
                    }
                }
                if level + 1 == sums.len() {
                    add(sum);
                }
            }
        }
        // Rows at the end that fill no longer sum.
        for (level, four) in quarters.iter().enumerate() {
            let left = (rows >> (2 * level)) % 4;
            four.iter().take(left).for_each(&mut add);
        }
    }
    total
}

/// Marks one row over its limit; `value` becomes the row brought to the floor's gain, marked cells
/// as floor.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx512f", "aarch64+neon"))]
fn mark_row(on: &mut [bool], power: &[f32], floor: &[f32], over: f32, gain: f32, value: &mut Sum) {
    let (limit, quiet) = (over * gain, 1.0 / gain);
    for (((on, p), f), v) in on.iter_mut().zip(power).zip(floor).zip(value) {
        let marked = *p > *f * limit;
        *on = marked;
        *v = if marked { *f } else { *p * quiet };
    }
}

/// Adds four sums up; tells whether any bin is over `limit` times its floor.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx512f", "aarch64+neon"))]
fn add_four(four: &[Sum; 4], floor: &[f32], limit: f32, sum: &mut Sum) -> bool {
    let [a, b, c, d] = four;
    let mut any = false;
    for ((((s, a), b), (c, d)), f) in sum.iter_mut().zip(a).zip(b).zip(c.iter().zip(d)).zip(floor) {
        *s = (a + b) + (c + d);
        any |= *s > limit * f;
    }
    any
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    /// The same, slow but plain: every sum from its rows.
    fn plainly(on: &mut [bool], power: &[f32], gain: &[f32], floor: &[f32], sums: &[f64]) {
        let n = floor.len();
        let rows = power.len() / n;
        for i in 0..power.len() {
            on[i] = power[i] > floor[i % n] * (sums[0] as f32 * gain[i / n]);
        }
        for (s, over) in sums.iter().enumerate().skip(1) {
            let length = 1usize << (2 * s);
            for k in 0..n {
                for from in (0..rows).step_by(length).filter(|from| from + length <= rows) {
                    let value = |r: usize| match on[r * n + k] {
                        true => floor[k],
                        false => power[r * n + k] / gain[r],
                    };
                    let quarter =
                        |q: usize| (0..length / 4).map(|i| value(from + q * length / 4 + i)).sum();
                    let quarters: Vec<f32> = (0..4).map(quarter).collect();
                    let least = (1.0 + QUARTER * (*over as f32 - 1.0)) * (length / 4) as f32;
                    let high = quarters.iter().filter(|q| **q > least * floor[k]).count();
                    let sum: f32 = quarters.iter().sum();
                    if sum > *over as f32 * length as f32 * floor[k] && high >= STEADY_QUARTERS {
                        (from..from + length).for_each(|r| on[r * n + k] = true);
                    }
                }
            }
        }
    }

    #[test]
    fn one_pass_marks_what_every_sum_by_itself_marks() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(5);
        for (rows, n) in [(64, 32), (64, 2048), (23, 1100), (3, 16)] {
            let floor: Vec<f32> = (0..n).map(|_| rng.random_range(0.5..2.0)).collect();
            let gain: Vec<f32> = (0..rows).map(|r| if r < 8 { 3.0 } else { 1.0 }).collect();
            let mut power: Vec<f32> = (0..rows * n)
                .map(|i| -floor[i % n] * gain[i / n] * (1.0 - rng.random_range(0.0..1.0f32)).ln())
                .collect();
            for i in (0..rows * n).filter(|i| (i % n).is_multiple_of(7)) {
                power[i] *= 1.0 + (i / n) as f32 / 16.0;
            }
            let sums = [7.0, 3.0, 2.0, 1.5];
            for sums in [&sums[..], &sums[..3]] {
                let (mut one, mut plain) = (vec![false; rows * n], vec![false; rows * n]);
                let total = part(&mut one, &power, &gain, &floor, sums, true);
                plainly(&mut plain, &power, &gain, &floor, sums);
                assert_eq!(one, plain, "{rows} rows of {n}");
                for k in 0..n {
                    let value = |r: usize| match one[r * n + k] {
                        true => floor[k],
                        false => power[r * n + k] / gain[r],
                    };
                    let want: f32 = (0..rows).map(value).sum();
                    assert!((total[k] / f64::from(want) - 1.0).abs() < 1e-4, "bin {k}");
                }
                let marked = one.iter().filter(|on| **on).count();
                assert!(rows < 4 || (marked > 0 && marked < rows * n / 2), "{marked} marked");
            }
        }
    }
}
