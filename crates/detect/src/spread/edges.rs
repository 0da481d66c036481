//! Which part of the band a period's peaks come from: each part of the ladder that holds a share
//! of the signal shows its own.

use super::fluctuation::Delays;
use super::period::Period;

/// Steps of the edges over the band.
const STEPS: usize = 128;

/// Edges as fractions of the band, 0 to 1.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edges {
    pub low: f64,
    pub high: f64,
    pub u: f64,
    /// Power over that of the noise between the edges.
    pub snr: f64,
}

/// The flat signal between two edges that fits the peaks of all parts best.
pub(super) fn edges(delays: &[Delays], period: &Period) -> Edges {
    let seen: Vec<(f64, f64, f64, f64)> = delays
        .iter()
        .map(|d| {
            let (low, high) = d.part.edges();
            (low, high, (high - low) * d.share, excess(d, period))
        })
        .collect();
    let weight = period.multiples as f64 * delays.first().map_or(1.0, |d| d.averages);
    let mut fits = Vec::new();
    for low in 0..STEPS {
        for high in low + 2..=STEPS {
            let (low, high) = (low as f64 / STEPS as f64, high as f64 / STEPS as f64);
            // Excess of a part: (signal's density · what of it lies inside)² · period / width.
            let inside = |a: f64, b: f64| (b.min(high) - a.max(low)).max(0.0);
            let (mut mm, mut my, mut yy) = (0.0, 0.0, 0.0);
            for (a, b, width, y) in &seen {
                let (m, w) = (inside(*a, *b).powi(2) / width, weight / (1.0 + y.max(0.0)).powi(2));
                mm += w * m * m;
                my += w * m * y;
                yy += w * y * y;
            }
            let height = my / mm;
            if height > 0.0 {
                fits.push((yy - my * height, low, high, height));
            }
        }
    }
    let best = fits.iter().copied().min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or_default();
    let (misfit, low, high, height) = best;
    // Misfits of a model that is not quite true count as if it were: scaled to one each.
    let scale = (misfit / seen.len() as f64).max(1.0);
    let near = fits.iter().filter(|f| f.0 < misfit + scale);
    let u = near.map(|f| (f.1 - low).abs().max((f.2 - high).abs())).fold(0.0, f64::max);
    let share = (height.max(0.0) / period.samples).sqrt().min(0.99);
    Edges { low, high, u: u.max(0.3 / STEPS as f64), snr: share / (1.0 - share) }
}

/// Mean excess over the multiples of the period.
fn excess(d: &Delays, period: &Period) -> f64 {
    let of = |m: usize| {
        let step = (m as f64 * period.samples / d.step_samples).round() as usize;
        d.over.get(step).map_or(0.0, |v| v - 1.0)
    };
    (1..=period.multiples).map(of).sum::<f64>() / period.multiples as f64
}
