//! The law of the mean power of a box of `rows` by `bins` neighbouring cells, half-overlapped
//! periodic Hann frames of white noise, of any size.
//!
//! All of it follows from K(s) = −ln det(I − sG) = −Σ ln(1 − λ_i s), G the Gram matrix of the
//! cells. Up to a hundred cells the λ are worked out. Beyond the reach of the correlation K is
//! bilinear in rows and bins (Szegő: so much for the area, the edges and the corners), so that a
//! few boxes of about a hundred cells give every larger one. The tail comes from K by the saddle
//! point, second order (Lugannani and Rice 1980, Daniels 1987); of the smallest boxes by exact
//! integration. P is right within 0.1 % from e^−4 to e^−60.

use crate::hann_box::{MOST_CELLS, effective_cells, spectrum};
use crate::{ExponentialSum, gamma_isf_ln, normal_ln_sf};
use std::f64::consts::TAU;

/// Up to so many cells the saddle point (0.7 % of P off at one, 0.05 % beyond) is only the start.
const FEW_CELLS: usize = 24;
/// From so many rows and bins on, both are beyond the reach of the correlation.
const SQUARE: usize = 10;

/// The law of one shape of box. Cheap to make again: eigenvalues are kept, once a process.
#[derive(Debug, Clone)]
pub struct BoxTail {
    cells: f64,
    effective: f64,
    /// Weights of smaller boxes' K, and their eigenvalues.
    terms: Vec<(f64, &'static [f64])>,
    /// 1/λ of the largest eigenvalue in use: s stays below.
    top: f64,
    /// The exact law of the smallest boxes.
    few: Option<ExponentialSum>,
}

/// K(s) and its first four derivatives.
#[derive(Debug, Clone, Copy, Default)]
struct Cumulants([f64; 5]);

impl BoxTail {
    /// The law of a box.
    ///
    /// # Panics
    /// If it has no cells.
    pub fn new(rows: usize, bins: usize) -> Self {
        assert!(rows > 0 && bins > 0, "a box of {rows} rows by {bins} bins has no cells");
        let terms: Vec<_> = terms(rows, bins)
            .into_iter()
            .map(|(weight, rows, bins)| (weight, spectrum(rows, bins)))
            .collect();
        let largest = terms.iter().filter_map(|(_, l)| l.last()).copied().fold(0.0, f64::max);
        let few = rows.saturating_mul(bins) <= FEW_CELLS;
        BoxTail {
            cells: rows as f64 * bins as f64,
            effective: effective_cells(rows, bins),
            top: 1.0 / largest,
            few: few.then(|| ExponentialSum::new(terms[0].1)),
            terms,
        }
    }

    /// Independent samples that the variance of the box is worth; see [`effective_cells`].
    pub fn effective(&self) -> f64 {
        self.effective
    }

    /// Mean power over that of the noise which noise exceeds with probability e^`ln_p`.
    ///
    /// # Panics
    /// If `ln_p` is above −1: the threshold would lie under the noise's mean.
    pub fn threshold(&self, ln_p: f64) -> f64 {
        assert!(ln_p <= -1.0, "a threshold at ln p = {ln_p} is none: give -1 or less");
        // The gamma of the same variance is the start; its saddle lies at (1 − 1/ratio)/scale.
        let ratio = gamma_isf_ln(self.effective, ln_p) / self.effective;
        let start = (1.0 - 1.0 / ratio) * self.effective / self.cells;
        let (mut low, mut high) = (0.0, self.top);
        let mut s = start.min(0.9 * self.top);
        let mut before: Option<(f64, f64)> = None;
        for _ in 0..100 {
            let k = self.cumulants(s);
            let miss = k.ln_sf(s) - ln_p;
            if miss > 0.0 {
                low = s
            } else {
                high = s
            }
            // ln P ≈ K − sK', whose derivative is −sK''; then the secant, which knows better.
            let slope = match before {
                Some((s0, miss0)) if s != s0 => (miss - miss0) / (s - s0),
                _ => -s * k.0[2],
            };
            if miss.abs() < 1e-8 || high - low < 1e-14 * high {
                break;
            }
            before = Some((s, miss));
            let next = s - miss / slope;
            s = if next > low && next < high { next } else { 0.5 * (low + high) };
        }
        let x = self.cumulants(s).0[1];
        self.few.as_ref().map_or(x, |exact| polished(exact, x, s, ln_p)) / self.cells
    }

    /// ln P(mean power of the box over that of the noise > `mean`).
    pub fn ln_sf(&self, mean: f64) -> f64 {
        if mean <= 0.0 {
            return 0.0;
        }
        let x = mean * self.cells;
        if let Some(exact) = &self.few {
            return exact.ln_sf(x);
        }
        let s = self.saddle(x);
        // At the mean itself the formula is 0/0: the straight line between two neighbours.
        let near = 0.02 / self.cumulants(0.0).0[2].sqrt();
        if s.abs() >= near {
            return self.cumulants(s).ln_sf(s);
        }
        let (below, above) = (self.cumulants(-near), self.cumulants(near));
        let part = (x - below.0[1]) / (above.0[1] - below.0[1]);
        let (p0, p1) = (below.ln_sf(-near).exp(), above.ln_sf(near).exp());
        (p0 + part * (p1 - p0)).ln()
    }

    /// s with K'(s) = x.
    fn saddle(&self, x: f64) -> f64 {
        // K' rises from 0 to ∞, and is less than cells/|s| on the left.
        let (mut low, mut high) = (-2.0 * self.cells / x, self.top);
        let mut s = 0.0;
        for _ in 0..200 {
            let Cumulants([_, first, second, ..]) = self.cumulants(s);
            if (first - x).abs() <= 1e-11 * x {
                break;
            }
            if first < x {
                low = s
            } else {
                high = s
            }
            // Newton on 1/K', nearly a straight line.
            let next = s + (1.0 - first / x) * first / second;
            s = if next > low && next < high { next } else { 0.5 * (low + high) };
        }
        s
    }

    fn cumulants(&self, s: f64) -> Cumulants {
        let mut sum = [0.0; 5];
        for (weight, lambda) in &self.terms {
            let mut part = [0.0; 4];
            let mut ln = 0.0;
            // Products of a few factors spare logarithms.
            for chunk in lambda.chunks(8) {
                let mut product = 1.0;
                for l in chunk {
                    let left = 1.0 - l * s;
                    product *= left;
                    let g = l / left;
                    let square = g * g;
                    part[0] += g;
                    part[1] += square;
                    part[2] += square * g;
                    part[3] += square * square;
                }
                ln -= product.ln();
            }
            sum[0] += weight * ln;
            for (k, factor) in [1.0, 1.0, 2.0, 6.0].into_iter().enumerate() {
                sum[k + 1] += weight * factor * part[k];
            }
        }
        Cumulants(sum)
    }
}

impl Cumulants {
    /// ln P(sum > K'(s)), s ≠ 0.
    fn ln_sf(&self, s: f64) -> f64 {
        let Cumulants([k0, k1, k2, k3, k4]) = *self;
        let w = (2.0 * (s * k1 - k0)).max(0.0).sqrt().copysign(s);
        if w < -8.0 {
            return 0.0;
        }
        let u = s * k2.sqrt();
        let (skew, excess) = (k3 / k2.powf(1.5), k4 / (k2 * k2));
        let ln_density = -0.5 * w * w - 0.5 * TAU.ln();
        let mills = (normal_ln_sf(w) - ln_density).exp();
        let first = 1.0 / u - 1.0 / w;
        let second =
            (excess / 8.0 - 5.0 * skew * skew / 24.0) / u - skew / (2.0 * u * u) - u.powi(-3)
                + w.powi(-3);
        ln_density + (mills + first + second).ln()
    }
}

/// x with ln P(sum > x) = `ln_p`, from a near one where the logarithm falls by `s` a unit of x.
fn polished(exact: &ExponentialSum, mut x: f64, s: f64, ln_p: f64) -> f64 {
    let mut slope = -s;
    let mut miss = exact.ln_sf(x) - ln_p;
    for _ in 0..10 {
        if miss.abs() < 1e-8 {
            break;
        }
        let step = -miss / slope;
        let next = exact.ln_sf(x + step) - ln_p;
        (x, slope, miss) = (x + step, (next - miss) / step, next);
    }
    x
}

/// Weights of the boxes whose K add up to that of `rows` by `bins`.
fn terms(rows: usize, bins: usize) -> Vec<(f64, usize, usize)> {
    if rows.saturating_mul(bins) <= MOST_CELLS {
        return vec![(1.0, rows, bins)];
    }
    // The straight line through the two last sizes that are known.
    let line = |size: usize, last: usize| {
        let beyond = (size - last) as f64;
        [(1.0 + beyond, last), (-beyond, last - 1)]
    };
    if rows < SQUARE {
        let along = line(bins, MOST_CELLS / rows);
        return along.map(|(weight, bins)| (weight, rows, bins)).to_vec();
    }
    if bins < SQUARE {
        let along = line(rows, MOST_CELLS / bins);
        return along.map(|(weight, rows)| (weight, rows, bins)).to_vec();
    }
    let across = line(bins, SQUARE);
    let corner = |(weight, rows): (f64, usize)| across.map(|(w, bins)| (weight * w, rows, bins));
    line(rows, SQUARE).into_iter().flat_map(corner).collect()
}

#[cfg(test)]
mod tests;
