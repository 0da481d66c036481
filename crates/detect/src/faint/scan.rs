//! Means of boxes of 1, 2, 4 … rows by 1, 2, 4 … bins, half overlapped, that stand out a little.

use super::Boxed;
use super::rest::Rest;
use crate::config::Level;
use dsp::BoxTail;
use multiversion::multiversion;
use rayon::prelude::*;

/// Boxes of each shape that noise alone may bring to be looked at more closely, in one block.
const LOOKED_AT: f64 = 16.0;
/// Part of the boxes of a shape that this may be, at most.
const AT_MOST: f64 = 0.01;
/// Boxes of different length and width that are as good as independent at every place, and the
/// freedom of growing them: counted on noise once (score-limits counts again).
const SHAPES: f64 = 4000.0;

/// Which boxes are looked at, at one resolution.
#[derive(Debug, Clone)]
pub(crate) struct Sieve {
    /// `means[a][b]`: mean from which a box of 2^a rows by 2^b bins is looked at.
    means: Vec<Vec<f32>>,
    /// ln of the probability that one cell of the recording is believed by chance.
    ln_cell: f64,
}

impl Sieve {
    /// For blocks of `rows` rows; `slower` is the next resolution with longer frames, `tests` the cells
    /// of the recording, of which `false_rows` may be believed on noise.
    pub fn new(
        level: Level,
        slower: Option<Level>,
        rows: usize,
        false_rows: f64,
        tests: f64,
    ) -> Self {
        // What lasts longer than two rows of the next slower resolution is its.
        let longest = slower.map_or(rows / 2, |s| 2 * s.hop / level.hop).clamp(1, rows.max(1));
        let widest = level.n / 2;
        let cells = (rows * level.n) as f64;
        let shape = |a: u32, b: u32| {
            let (r, n) = (1usize << a, 1usize << b);
            let boxes = 4.0 * cells / (r * n) as f64;
            let p = (LOOKED_AT / boxes).min(AT_MOST);
            BoxTail::new(r, n).threshold(p.ln()) as f32
        };
        let means =
            (0..=longest.ilog2()).map(|a| (0..=widest.ilog2()).map(|b| shape(a, b)).collect());
        Sieve { means: means.collect(), ln_cell: (false_rows / (SHAPES * tests)).ln() }
    }

    /// ln of the probability of such a box, or one that stands out more, by noise alone.
    pub fn ln_p(&self, b: &Boxed, rest: &Rest) -> f64 {
        BoxTail::new(b.rows(), b.bins()).ln_sf(rest.surely(b))
    }
    /// Under which it is believed: there are the fewer boxes of a size the larger it is.
    pub fn least(&self, b: &Boxed) -> f64 {
        self.ln_cell + ((b.rows() * b.bins()) as f64).ln()
    }

    /// The boxes that stand out a little.
    pub fn boxes(&self, rest: &Rest) -> Vec<Boxed> {
        let n = rest.bins;
        let mut found = Vec::new();
        // Sums over 2^(a−1) rows, and of two of them that follow one another.
        let mut halves: Vec<f32> = Vec::new();
        for (a, means) in self.means.iter().enumerate() {
            let length = 1usize << a;
            let below: &[f32] = if a <= 1 { &rest.power } else { &halves };
            let count = below.len() / n;
            if count < 2 {
                break;
            }
            let hop = if a == 0 { 1 } else { length / 2 };
            let sums = if a == 0 { count } else { count - 1 };
            let limits: Vec<f32> =
                means.iter().enumerate().map(|(b, m)| m * (length << b) as f32).collect();
            let look = |i: usize| {
                let mut seen = Vec::new();
                let first = &below[i * n..(i + 1) * n];
                if a == 0 {
                    row(first, &limits, &mut seen);
                } else {
                    let second = &below[(i + 1) * n..(i + 2) * n];
                    let sum: Vec<f32> = first.iter().zip(second).map(|(x, y)| x + y).collect();
                    row(&sum, &limits, &mut seen);
                }
                seen.into_iter()
                    .map(move |(bin0, bins, sum)| Boxed {
                        row0: i * hop,
                        row1: i * hop + length,
                        bin0,
                        bin1: bin0 + bins,
                        mean: f64::from(sum) / (length * bins) as f64,
                    })
                    .collect::<Vec<_>>()
            };
            found.extend(
                (0..sums).into_par_iter().map(look).collect::<Vec<_>>().into_iter().flatten(),
            );
            if a > 0 {
                let pairs = below.par_chunks_exact(2 * n).flat_map_iter(|two| {
                    let (x, y) = two.split_at(n);
                    x.iter().zip(y).map(|(x, y)| x + y)
                });
                halves = pairs.collect();
            }
        }
        found
    }
}

/// Boxes of one row of sums over their limit, with first bin, bins and sum; `limits` are for 1, 2, 4 …
/// bins.
fn row(sums: &[f32], limits: &[f32], seen: &mut Vec<(usize, usize, f32)>) {
    let mut hit = |hop: usize, width: usize, values: &[f32], limit: f32| {
        if !any_over(values, limit) {
            return;
        }
        let over = values.iter().enumerate().filter(|(_, v)| **v > limit);
        seen.extend(over.map(|(i, v)| (i * hop, width, *v)));
    };
    hit(1, 1, sums, limits[0]);
    let mut halves = sums.to_vec();
    let mut two = vec![0.0; sums.len()];
    for (b, limit) in limits.iter().enumerate().skip(1) {
        let width = 1usize << b;
        let count = halves.len() - 1;
        add_next(&halves, &mut two[..count]);
        hit(width / 2, width, &two[..count], *limit);
        // Every other of them is what the next width is made of.
        let pairs = halves.len() / 2;
        for i in 0..pairs {
            halves[i] = two[2 * i];
        }
        halves.truncate(pairs);
        if halves.len() < 2 {
            break;
        }
    }
}

#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx512f", "aarch64+neon"))]
fn any_over(values: &[f32], limit: f32) -> bool {
    values.iter().fold(false, |any, v| any | (*v > limit))
}

#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx512f", "aarch64+neon"))]
fn add_next(values: &[f32], sums: &mut [f32]) {
    for (s, (x, y)) in sums.iter_mut().zip(values.iter().zip(&values[1..])) {
        *s = x + y;
    }
}
