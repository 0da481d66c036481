//! Boxes of `rows` by `bins` neighbouring cells of half-overlapped periodic Hann frames, white
//! noise: how their amplitudes correlate, in closed form, and the eigenvalues of that.
//!
//! With w = sin²(πn/N), normalised by Σw² = 3N/8, two bins d apart of one frame correlate by
//! 1, −2/3, 1/6 (d = 0, ±1, ±2), of the next frame by 1/6, −1/12 (d = 0, ±2) and, as the overlap
//! is half a period only, by 4j/(3π d(d²−4)) at odd d. Frame p turns it all by (−1)^{pd}.

use crate::symmetric::eigenvalues;
use std::f64::consts::PI;
use std::sync::{LazyLock, OnceLock};

/// Up to so many cells the eigenvalues are worked out, once a shape.
pub(crate) const MOST_CELLS: usize = 100;

/// Eigenvalues of the box, ascending; up to [`MOST_CELLS`].
pub(crate) fn spectrum(rows: usize, bins: usize) -> &'static [f64] {
    const SIDE: usize = MOST_CELLS + 1;
    static KEPT: LazyLock<Vec<OnceLock<Vec<f64>>>> =
        LazyLock::new(|| vec![OnceLock::new(); SIDE * SIDE]);
    KEPT[rows * SIDE + bins].get_or_init(|| eigenvalues(real_gram(rows, bins)))
}

/// Independent samples that the variance of a box's mean power is worth, (Σλ)²/Σλ².
///
/// One cell is one; a single bin over many rows is worth 18/19 of them, a single row 18/35 of its
/// bins, a large box 9/19 of its cells, all a little more by their ends (4 by 4 cells: 8.93).
pub fn effective_cells(rows: usize, bins: usize) -> f64 {
    let (r, b) = (rows as f64, bins as f64);
    let pairs = |d: usize| if d == 0 { b } else { 2.0 * (b - d as f64).max(0.0) };
    let within: f64 = (0..3).map(|d| pairs(d) * same_frame(d).powi(2)).sum();
    // The squares fall with d⁶: beyond 200 bins apart less than 1e-12 is left.
    let across: f64 = (0..bins.min(200)).map(|d| pairs(d) * next_frame(d).powi(2)).sum();
    (r * b).powi(2) / (r * within + 2.0 * (r - 1.0) * across)
}

fn same_frame(d: usize) -> f64 {
    [1.0, -2.0 / 3.0, 1.0 / 6.0].get(d).copied().unwrap_or(0.0)
}

/// Real for even d, times j (and the sign of d) for odd.
fn next_frame(d: usize) -> f64 {
    match d {
        0 => 1.0 / 6.0,
        2 => -1.0 / 12.0,
        d if d % 2 == 0 => 0.0,
        d => {
            let d = d as f64;
            4.0 / (3.0 * PI * d * (d * d - 4.0))
        }
    }
}

/// A real symmetric matrix with the eigenvalues of the Gram matrix A + jB: turning the order of
/// the bins (J) conjugates it, so that A + BJ is unitarily similar to it.
fn real_gram(rows: usize, bins: usize) -> Vec<Vec<f64>> {
    let size = rows * bins;
    let mut real = vec![vec![0.0; size]; size];
    for p in 0..rows {
        for a in 0..bins {
            for b in 0..bins {
                let d = a.abs_diff(b);
                let turned = if p * d % 2 == 1 { -1.0 } else { 1.0 };
                let i = p * bins + a;
                real[i][p * bins + b] += turned * same_frame(d);
                if p + 1 == rows {
                    continue;
                }
                // Even distances fill A, odd ones B, whose columns come in turned order.
                let (sign, column) = match d % 2 {
                    0 => (1.0, b),
                    _ => (if b > a { 1.0 } else { -1.0 }, bins - 1 - b),
                };
                let value = sign * turned * next_frame(d);
                let j = (p + 1) * bins + column;
                real[i][j] += value;
                real[j][i] += value;
            }
        }
    }
    real
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Window, gram_eigenvalues};

    #[test]
    fn closed_form_is_what_the_windows_themselves_give() {
        let w = Window::Hann.samples(256);
        for (rows, bins) in [(1, 1), (1, 5), (5, 1), (2, 2), (3, 4), (4, 3), (2, 9)] {
            let mut want = gram_eigenvalues(&w, 128, bins, rows);
            want.reverse();
            for (a, b) in spectrum(rows, bins).iter().zip(&want) {
                assert!((a - b).abs() < 1e-8, "{rows} by {bins}: {a} for {b}");
            }
        }
    }

    #[test]
    fn what_boxes_are_worth() {
        // FA-018, 021, 024, 027: computed with scipy.
        for (row, rows, bins, want) in [
            ("FA-018", 1, 4, 2.3606557),
            ("FA-021", 4, 1, 3.84),
            ("FA-024", 4, 4, 8.9277751),
            ("FA-027", 8, 8, 32.831436),
        ] {
            let got = effective_cells(rows, bins);
            assert!((got / want - 1.0).abs() < 1e-7, "{row}: {got}");
            let squares: f64 = spectrum(rows, bins).iter().map(|l| l * l).sum();
            assert!(((rows * bins).pow(2) as f64 / squares / got - 1.0).abs() < 1e-12, "{row}");
        }
        // Closed forms of the limits: 1 + 2/36; 1 + 2·4/9 + 2/36; and all bins of all frames see
        // the windows' sum sin⁴ + cos⁴ = 3/4 + cos(4πn/N)/4 alone, 2·(1 + (1/3)²/2) = 19/9.
        for (rows, bins, want) in [
            (1_000_000, 1, 18.0 / 19.0),
            (1, 1_000_000, 18.0 / 35.0),
            (10_000, 100_000, 9.0 / 19.0),
        ] {
            let got = effective_cells(rows, bins) / (rows * bins) as f64;
            assert!((got / want - 1.0).abs() < 3e-4, "{rows} by {bins}: {got}");
        }
    }
}
