//! The imbalance between the receiver's two rails, measured from the samples and taken out.
//!
//! Unequal gains and a phase that is not 90° put a mirror image of everything about the tuned
//! frequency: y = α s + β s*. One complex number, κ = β/α*, then says what every image is, and
//! y − κ y* has none. It is the least-squares fit of Y(−f) to κ Y*(f), over the cells in which one
//! side is far stronger than the other (blind estimation from the circularity of signals: common
//! practice; Anttila, Valkama, Renfors, IEEE Trans. Veh. Technol. 57 (2008), from memory). What can
//! be seen of an image in a block can be measured from that block, so each is fitted by itself.

use crate::cells::{ENBW_BINS, Maker};
use num_complex::Complex64;
use rayon::prelude::*;
use units::Iq;

/// Bins of one row that are compared with their mirrored ones as one tile.
const TILE: usize = 16;
/// Bins next to the centre that are left out: over twice as many the side lobes of the Hann window
/// fall under −98 dB (−31 dB at 2.4 bins, then 18 dB an octave; Harris 1978).
const INNER: usize = 16;
/// A side is the stronger one from this power ratio on, 15 dB: an image is weaker than that
/// (common practice, no source), and a signal that lies on both sides of the centre is not.
const STRONGER: f64 = 31.6;
/// |κ|² over its variance from which on it is believed. Without an image the ratio is exponential
/// with mean below 2 (neighbouring Hann bins are not independent): 25 has a chance of 4e-6.
const BELIEVED: f64 = 25.0;
/// Fewer rows than this do not show how κ scatters; it is then taken to vary by [`KEYED`] times
/// what noise makes it: 400 blocks of two minimum-shift keyed emissions 20 dB apart gave 5.6.
const FEW_ROWS: usize = 8;
const KEYED: f64 = 6.0;
/// Rounds of the fit, each weighted with what the last one left unexplained; the weights settle in
/// two (a rule of ours).
const ROUNDS: usize = 4;
/// Rows of one task.
const ROWS: usize = 64;

/// What the imbalance of a block does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Imbalance {
    /// β/α*: an image's amplitude over its emission's, conjugated.
    pub kappa: Complex64,
    /// Where the loudest image lies, offset from the centre, hertz.
    pub image_hz: f64,
    /// Its mean power while it is loudest.
    pub image_power: f64,
}

/// Sums over a tile: |Y(f)|², |Y(−f)|² and Y(f) Y(−f), the stronger side at bin `k`, which counts
/// from the centre.
#[derive(Debug, Clone, Copy)]
struct Tile {
    strong: f64,
    weak: f64,
    cross: Complex64,
    k: i64,
    row: usize,
}

impl Tile {
    /// What is left of the weak side without the image, never quite nothing: single precision.
    fn rest(&self, kappa: Complex64) -> f64 {
        let image = kappa.norm_sqr() * self.strong;
        let rest = self.weak - 2.0 * (kappa.conj() * self.cross).re + image;
        rest.max(1e-12 * self.strong).max(f64::MIN_POSITIVE)
    }
}

/// Fits κ to a block; `None` where no image stands out. `maker`: frames as long as a short burst.
pub(crate) fn of(block: &[Iq], maker: &Maker) -> Option<Imbalance> {
    let level = maker.level();
    let rows = level.rows(block.len()).div_ceil(2);
    let tiles: Vec<Tile> = (0..rows.div_ceil(ROWS))
        .into_par_iter()
        .flat_map_iter(|part| tiles(block, maker, part * ROWS..rows.min((part + 1) * ROWS)))
        .collect();
    let loudest = tiles.iter().max_by(|a, b| a.strong.total_cmp(&b.strong))?;
    let mut kappa = Complex64::ZERO;
    let mut weight = 0.0;
    let mut weights = vec![0.0; tiles.len()];
    for _ in 0..ROUNDS {
        weights.iter_mut().zip(&tiles).for_each(|(w, t)| *w = TILE as f64 / t.rest(kappa));
        let fit = tiles
            .iter()
            .zip(&weights)
            .fold((Complex64::ZERO, 0.0), |(c, s), (t, w)| (c + t.cross * *w, s + t.strong * *w));
        (kappa, weight) = (fit.0 / fit.1, fit.1);
    }
    let power = kappa.norm_sqr();
    let believed = power * weight > BELIEVED * spread(&tiles, &weights, kappa, weight);
    (believed && power * STRONGER < 1.0).then(|| Imbalance {
        kappa,
        image_hz: -(loudest.k as f64) * level.bin_hz(),
        // The Hann window sums to n/2.
        image_power: power * loudest.strong / ENBW_BINS / (level.n as f64 / 2.0).powi(2),
    })
}

/// How much more κ varies than noise would make it: from its scatter from row to row, as two keyed
/// emissions on mirrored channels are not independent from bin to bin.
fn spread(tiles: &[Tile], weights: &[f64], kappa: Complex64, weight: f64) -> f64 {
    let (mut rows, mut sum) = (0, 0.0);
    let pairs: Vec<(&Tile, &f64)> = tiles.iter().zip(weights).collect();
    for row in pairs.chunk_by(|a, b| a.0.row == b.0.row) {
        let off: Complex64 = row.iter().map(|(t, w)| (t.cross - kappa * t.strong) * **w).sum();
        sum += off.norm_sqr();
        rows += 1;
    }
    // Few rows do not show it: what two keyed emissions with one clock made of it (measured).
    if rows < FEW_ROWS { KEYED } else { (sum / weight).max(1.0) }
}

/// The tiles of some rows, none overlapping, in which one side is far stronger.
fn tiles(block: &[Iq], maker: &Maker, rows: std::ops::Range<usize>) -> Vec<Tile> {
    let n = maker.level().n;
    let (mut frame, mut scratch) = maker.buffers();
    let mut out = Vec::new();
    for r in rows {
        maker.frame(block, 2 * r, &mut frame, &mut scratch);
        for from in (INNER..(n / 2).saturating_sub(TILE - 1)).step_by(TILE) {
            let (mut up, mut down, mut cross) = (0.0f32, 0.0f32, Iq::default());
            for k in from..from + TILE {
                let (a, b) = (frame[k], frame[n - k]);
                up += a.norm_sqr();
                down += b.norm_sqr();
                cross += a * b;
            }
            let (up, down) = (f64::from(up), f64::from(down));
            let k = (from + TILE / 2) as i64;
            let (strong, weak, k) = if up > down { (up, down, k) } else { (down, up, -k) };
            if strong > STRONGER * weak {
                let cross = Complex64::new(f64::from(cross.re), f64::from(cross.im));
                out.push(Tile { strong, weak, cross, k, row: r });
            }
        }
    }
    out
}

/// Takes the images out, in place.
pub(crate) fn correct(block: &mut [Iq], kappa: Complex64) {
    let kappa = Iq::new(kappa.re as f32, kappa.im as f32);
    block.par_chunks_mut(1 << 14).for_each(|part| {
        part.iter_mut().for_each(|y| *y -= kappa * y.conj());
    });
}

#[cfg(test)]
mod tests;
