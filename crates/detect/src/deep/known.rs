//! What the ordinary search found, and the receiver's own constant: not to be found again.

use super::tuned::Tuned;
use crate::{Found, Shape};

/// Part of the sampled band at either end in which what lies beyond folds back.
const EDGE: f64 = 0.03;
/// An emission's mirror image is at least so much weaker (a receiver worse than this is told of by
/// the ordinary search). Common practice, no source.
const IMAGE_DB: f64 = 20.0;
/// Receivers of eight bits are free of their own products for so much under the strongest emission
/// (common practice, no source).
const PRODUCTS_DB: f64 = 55.0;
/// Hertz about the tuned frequency in which the receiver's constant and its slow noise lie.
/// Common practice, no source.
const CONSTANT_HZ: f64 = 5.0;

/// What is known in the band of one centre; frequencies are offsets from it.
pub(super) struct Known {
    centre_hz: f64,
    rate_hz: f64,
    bands: Vec<Band>,
}

/// One known emission.
struct Band {
    low_hz: f64,
    high_hz: f64,
    steady: bool,
    period_s: Option<f64>,
    level_dbfs: f64,
}

impl Known {
    pub fn new(found: &[Found], tuned: &Tuned<'_>) -> Self {
        let half = 0.5 * tuned.rate_hz;
        let band = |f: &Found| {
            let width = f.high_hz - f.low_hz;
            // A hopper or a sweep fills each place for so little time that it hides nothing.
            let still = matches!(f.shape, Shape::Continuous | Shape::Bursts);
            let margin = if f.snr_db.is_some_and(|snr| snr > 20.0) { 0.25 * width } else { 0.0 };
            Band {
                low_hz: f.low_hz - margin - tuned.centre_hz,
                high_hz: f.high_hz + margin - tuned.centre_hz,
                steady: still,
                period_s: f.bursts.period_s,
                level_dbfs: f.level_dbfs.map_or(f64::NEG_INFINITY, |l| l.0),
            }
        };
        let bands = found.iter().map(band).filter(|b| b.high_hz > -half && b.low_hz < half);
        Known { centre_hz: tuned.centre_hz, rate_hz: tuned.rate_hz, bands: bands.collect() }
    }
    /// The offsets that are searched at all.
    pub fn usable(&self) -> (f64, f64) {
        let usable = (0.5 - EDGE) * self.rate_hz;
        (-usable, usable)
    }
    /// The centre frequency.
    pub fn centre_hz(&self) -> f64 {
        self.centre_hz
    }
    /// Bands in which nothing new is told from what is known, each `margin_hz` wider at either end;
    /// by rising lower edge.
    pub fn taken(&self, margin_hz: f64) -> Vec<(f64, f64)> {
        let constant = CONSTANT_HZ.max(margin_hz);
        let mut taken: Vec<(f64, f64)> = self
            .bands
            .iter()
            .filter(|b| b.steady)
            .map(|b| (b.low_hz - margin_hz, b.high_hz + margin_hz))
            .chain([(-constant, constant)])
            .collect();
        taken.sort_by(|a, b| a.0.total_cmp(&b.0));
        taken
    }
    /// Whether an emission at such an offset and level may be a known one's mirror image.
    pub fn is_image(&self, offset_hz: f64, level_dbfs: f64, margin_hz: f64) -> bool {
        self.bands.iter().any(|b| {
            let mirrored = -offset_hz;
            let there = mirrored > b.low_hz - margin_hz && mirrored < b.high_hz + margin_hz;
            there && b.level_dbfs > level_dbfs + IMAGE_DB
        })
    }
    /// The level below which what the receiver makes of the strongest known emission may lie.
    pub fn products_dbfs(&self) -> f64 {
        self.bands.iter().map(|b| b.level_dbfs).fold(f64::NEG_INFINITY, f64::max) - PRODUCTS_DB
    }
    /// Whether an emission lies on a much stronger known one's skirts: within its width beside it.
    pub fn is_skirt(&self, low_hz: f64, high_hz: f64, level_dbfs: f64) -> bool {
        self.bands.iter().filter(|b| b.level_dbfs > level_dbfs + IMAGE_DB).any(|b| {
            let width = b.high_hz - b.low_hz;
            high_hz > b.low_hz - width && low_hz < b.high_hz + width
        })
    }
    /// Whether a known emission, much stronger, keeps such a period (or a simple part or multiple
    /// of it): what keeps step with it is its doing.
    pub fn keeps_step(&self, period_s: f64, u_s: f64, level_dbfs: f64) -> bool {
        let simple = [1.0, 2.0, 3.0, 4.0];
        self.bands.iter().filter(|b| b.level_dbfs > level_dbfs + IMAGE_DB).any(|b| {
            b.period_s.is_some_and(|p| {
                simple.iter().any(|k| {
                    let near = |a: f64, b: f64| (a - b).abs() < 4.0 * u_s + 1e-4 * b;
                    near(period_s * k, p) || near(period_s, p * k)
                })
            })
        })
    }
}
