//! The floor across frequency: sub-bands that hold a signal throughout stand above a lower
//! envelope whose slope is limited; the floor is carried across them.
//!
//! A receiver's filter falls towards the edges of the band, steeply, and only there: outside the
//! middle [`CORE`] of the band the envelope may fall outwards as it likes.

use super::Fit;

/// Noise per bin at one bin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct At {
    pub level_db: f64,
    pub u_db: f64,
    pub trusted: bool,
}

/// Middle part of the band in which a receiver's filter is flat (common practice, no source).
const CORE: f64 = 0.7;
/// Steepest floor inside the core, dB over the whole band (common practice, no source).
const SLOPE_DB: f64 = 12.0;
/// Above the envelope by more than this, beyond chance, is signal.
const STEP_DB: f64 = 1.0;
/// What the smooth shape itself may be wrong by.
const MODEL_DB: f64 = 0.1;
/// Uncertainty of carrying the floor over a gap, dB for a whole band's width.
const GAP_DB: f64 = 4.0;
/// Least uncertainty where the floor was not seen.
const UNSEEN_DB: f64 = 2.0;
/// Least part of the core that must be free of signals for a floor to be believed.
const LEAST_FREE: f64 = 0.1;

/// Level per bin from the fits of the sub-bands.
pub(crate) fn across(fits: &[Fit], bins: usize) -> Vec<At> {
    let sub = fits.len();
    let core = core(sub);
    let free = free(fits);
    let support: Vec<usize> = (0..sub).filter(|i| free[*i]).collect();
    let seen = support.iter().filter(|i| core.contains(i)).count() as f64;
    let whole = seen >= LEAST_FREE * core.len() as f64;
    let smooth: Vec<At> = (0..sub).map(|i| at_sub_band(i, fits, &support, whole)).collect();
    let each = bins as f64 / sub as f64;
    (0..bins)
        .map(|bin| {
            let place = ((bin as f64 + 0.5) / each - 0.5).clamp(0.0, (sub - 1) as f64);
            let (a, part) = (place.floor() as usize, place.fract());
            let (a, b) = (smooth[a], smooth[(a + 1).min(sub - 1)]);
            let near = if part < 0.5 { a } else { b };
            let level_db = if a.level_db.is_finite() && b.level_db.is_finite() {
                a.level_db + part * (b.level_db - a.level_db)
            } else {
                near.level_db
            };
            At { level_db, ..near }
        })
        .collect()
}

fn core(sub: usize) -> std::ops::Range<usize> {
    let edge = ((1.0 - CORE) / 2.0 * sub as f64).round() as usize;
    edge..sub - edge
}

/// Which sub-bands show the floor.
fn free(fits: &[Fit]) -> Vec<bool> {
    let sub = fits.len();
    let core = core(sub);
    let slope = SLOPE_DB / sub as f64;
    // Narrow holes (a notch at the centre) must not drag the envelope down.
    let level: Vec<f64> = (0..sub).map(|i| median_near(fits, i, 3)).collect();
    let mut envelope = level.clone();
    for i in core.start + 1..sub {
        envelope[i] = envelope[i].min(envelope[i - 1] + slope);
    }
    for i in (0..core.end - 1).rev() {
        envelope[i] = envelope[i].min(envelope[i + 1] + slope);
    }
    (0..sub)
        .map(|i| {
            let f = &fits[i];
            f.level_db.is_finite() && f.level_db < envelope[i] + STEP_DB + 4.0 * f.u_db
        })
        .collect()
}

/// Median level of the sub-bands up to `reach` away.
fn median_near(fits: &[Fit], i: usize, reach: usize) -> f64 {
    let near = &fits[i.saturating_sub(reach)..(i + reach + 1).min(fits.len())];
    median(near.iter().map(|f| f.level_db).collect())
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    if n == 0 { f64::NAN } else { 0.5 * (values[(n - 1) / 2] + values[n / 2]) }
}

/// Smoothed level at one sub-band from those that show the floor.
fn at_sub_band(i: usize, fits: &[Fit], support: &[usize], whole: bool) -> At {
    let after = support.partition_point(|s| *s < i);
    let above = support.get(after).copied();
    let below = if above == Some(i) { above } else { after.checked_sub(1).map(|k| support[k]) };
    let (level_db, u_db, gap, sided) = match (below, above) {
        (Some(a), Some(b)) => {
            let (x, y) = (local(a, fits, support), local(b, fits, support));
            let part = if b > a { (i - a) as f64 / (b - a) as f64 } else { 0.0 };
            (x.0 + part * (y.0 - x.0), x.1.max(y.1), (i - a).min(b - i), true)
        }
        (Some(a), None) | (None, Some(a)) => {
            let x = local(a, fits, support);
            (x.0, x.1, a.abs_diff(i), a.abs_diff(i) <= 2)
        }
        (None, None) => (fits[i].level_db, f64::INFINITY, 0, false),
    };
    let trusted = whole && sided;
    let gap_db = GAP_DB * gap as f64 / fits.len() as f64;
    let u_db = u_db.hypot(MODEL_DB).hypot(gap_db);
    At { level_db, u_db: if trusted { u_db } else { u_db.max(UNSEEN_DB) }, trusted }
}

/// Level and uncertainty about a sub-band that shows the floor: the median of the nearest ones.
fn local(i: usize, fits: &[Fit], support: &[usize]) -> (f64, f64) {
    const REACH: usize = 3;
    let near: Vec<&Fit> =
        support.iter().filter(|s| s.abs_diff(i) <= REACH).map(|s| &fits[*s]).collect();
    let n = near.len() as f64;
    // The median of n knows √(π/2)/√n of one's uncertainty.
    let u_db = 1.2533 * near.iter().map(|f| f.u_db).sum::<f64>() / n / n.sqrt();
    (median(near.iter().map(|f| f.level_db).collect()), u_db.max(0.0))
}
