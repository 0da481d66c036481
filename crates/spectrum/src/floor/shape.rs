//! The floor across frequency: sub-bands that hold a signal throughout stand above a lower
//! envelope whose slope is limited; the floor is carried across them.
//!
//! A receiver's filter falls towards the edges of the band, steeply, and only there: outside the
//! middle [`CORE`] of the band the envelope may fall outwards as it likes.

use super::Fit;
use std::ops::Range;

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
const SLOPE_DB: f64 = 40.0;
/// Most that a floor varies inside the core, dB (common practice, no source).
const RANGE_DB: f64 = 12.0;
/// Above the envelope by more than this, beyond chance, is signal.
const STEP_DB: f64 = 1.0;
/// What the smooth shape itself may be wrong by.
const MODEL_DB: f64 = 0.05;
/// Uncertainty of carrying the floor over a gap, dB for a whole band's width.
const GAP_DB: f64 = 4.0;
/// Least uncertainty where the floor was not seen.
const UNSEEN_DB: f64 = 2.0;
/// Least part of the core that must show noise for a floor to be believed.
const LEAST_SEEN: f64 = 0.1;

/// Sub-bands either side that the median of levels looks at.
const MEDIAN_REACH: usize = 3;

/// Level per bin from the fits of the sub-bands.
pub(crate) fn across(fits: &[Fit], bins: usize) -> Vec<At> {
    let sub = fits.len();
    // Narrow holes (a notch at the centre) must not drag the envelope down.
    let level: Vec<f64> = (0..sub).map(|i| median_near(fits, i, MEDIAN_REACH)).collect();
    let edges = Edges::of(&level);
    let free = free(fits, &level, &edges.core);
    let support: Vec<usize> = (0..sub).filter(|i| free[*i]).collect();
    let core = core(sub);
    let seen = support.iter().filter(|i| core.contains(i) && fits[**i].fits).count() as f64;
    let whole = !edges.doubtful && seen >= LEAST_SEEN * core.len() as f64;
    let smooth: Vec<At> = (0..sub).map(|i| at_sub_band(i, fits, &support, whole)).collect();
    let each = bins as f64 / sub as f64;
    (0..bins).map(|bin| between(&smooth, (bin as f64 + 0.5) / each - 0.5)).collect()
}

/// Straight line in dB between the middles of two sub-bands.
fn between(smooth: &[At], place: f64) -> At {
    let place = place.clamp(0.0, (smooth.len() - 1) as f64);
    let (i, part) = (place.floor() as usize, place.fract());
    let (a, b) = (smooth[i], smooth[(i + 1).min(smooth.len() - 1)]);
    let near = if part < 0.5 { a } else { b };
    if a.level_db.is_finite() && b.level_db.is_finite() {
        At { level_db: a.level_db + part * (b.level_db - a.level_db), ..near }
    } else {
        near
    }
}

fn core(sub: usize) -> Range<usize> {
    let edge = ((1.0 - CORE) / 2.0 * sub as f64).round() as usize;
    edge..sub - edge
}

/// Where the floor is flat, and whether a cliff on both sides leaves open what the middle is.
struct Edges {
    core: Range<usize>,
    doubtful: bool,
}

/// Plateaus narrower than this part of the band are signals, whatever their edges.
const NARROWEST_FILTER: f64 = 0.52;
/// A cliff: this fall within two sub-bands, and at least [`CLIFF_PART`] of the whole fall.
/// A receiver's filter is less steep than a signal with many carriers (common practice, no source).
const CLIFF_DB: f64 = 3.0;
const CLIFF_PART: f64 = 0.6;
/// A fall deeper than this is a filter's stop band: no receiver shows a signal that fills most of
/// its band so far above its noise (common practice, no source).
const DEEPEST_FLOOR_DB: f64 = 35.0;

impl Edges {
    fn of(level: &[f64]) -> Edges {
        let sub = level.len();
        let usual = core(sub);
        if sub < 64 {
            return Edges { core: usual, doubtful: false };
        }
        let plateau = median(level[sub / 4..sub - sub / 4].to_vec());
        let first = ((1.0 - NARROWEST_FILTER) / 2.0 * sub as f64) as usize;
        // Outwards from the plateau: left reversed, right as it is.
        let left: Vec<f64> = level[..first].iter().rev().copied().collect();
        let right: Vec<f64> = level[sub - first..].to_vec();
        let (left, right) = (Flank::of(&left, plateau), Flank::of(&right, plateau));
        let both_cliffs = left.cliff && right.cliff;
        if left.fall_db.min(right.fall_db) > DEEPEST_FLOOR_DB && left.edge.min(right.edge) > 0 {
            // The plateau is what the filter lets through, or a signal without noise.
            let core = first - left.edge..sub - first + right.edge;
            return Edges { core, doubtful: both_cliffs };
        }
        if both_cliffs && left.edge.min(right.edge) >= first - usual.start {
            // The plateau is a signal and the floor lies outside, or the filter is a steep one.
            return Edges { core: 0..sub, doubtful: true };
        }
        // A filter falls on both sides: a cliff on one is a signal's.
        let core = match (left.cliff, right.cliff) {
            (true, false) => 0..usual.end,
            (false, true) => usual.start..sub,
            _ => usual,
        };
        Edges { core, doubtful: false }
    }
}

/// How the levels run outwards from the plateau on one side.
struct Flank {
    /// Fall from the plateau to the outermost sub-bands, dB.
    fall_db: f64,
    /// Sub-bands before the level has fallen by [`STEP_DB`].
    edge: usize,
    /// Whether most of the fall comes at once.
    cliff: bool,
}

impl Flank {
    fn of(outwards: &[f64], plateau: f64) -> Flank {
        const WIDTH: usize = 2;
        let fall_db = plateau - median(outwards[outwards.len() - 3..].to_vec());
        let edge = outwards.iter().position(|l| *l < plateau - STEP_DB);
        let steepest = outwards.windows(WIDTH + 1).map(|w| w[0] - w[WIDTH]).fold(0.0, f64::max);
        Flank {
            fall_db,
            edge: edge.unwrap_or(outwards.len()),
            cliff: steepest > CLIFF_DB.max(CLIFF_PART * fall_db),
        }
    }
}

/// Which sub-bands show the floor.
fn free(fits: &[Fit], level: &[f64], core: &Range<usize>) -> Vec<bool> {
    let sub = fits.len();
    let slope = SLOPE_DB / sub as f64;
    let mut envelope = level.to_vec();
    for i in core.start + 1..sub {
        envelope[i] = envelope[i].min(envelope[i - 1] + slope);
    }
    for i in (0..core.end - 1).rev() {
        envelope[i] = envelope[i].min(envelope[i + 1] + slope);
    }
    let lowest = envelope[core.clone()].iter().copied().fold(f64::INFINITY, f64::min);
    let mut free: Vec<bool> = (0..sub)
        .map(|i| {
            let f = &fits[i];
            let most = envelope[i].min(lowest + RANGE_DB) + STEP_DB + (4.0 * f.u_db).min(STEP_DB);
            f.level_db.is_finite() && f.level_db < most
        })
        .collect();
    while drop_plateau(&mut free, level, &envelope, slope, core) {}
    free
}

/// Frees none, drops one: a run of free sub-bands reached on every side only by rising faster than
/// a floor may is the middle of a signal whose flanks were cut. Tells whether it found one.
fn drop_plateau(
    free: &mut [bool],
    level: &[f64],
    envelope: &[f64],
    slope: f64,
    core: &Range<usize>,
) -> bool {
    let mut runs: Vec<Range<usize>> = Vec::new();
    for i in (0..free.len()).filter(|i| free[*i]) {
        match runs.last_mut() {
            Some(run) if run.end == i => run.end = i + 1,
            _ => runs.push(i..i + 1),
        }
    }
    // How much a step from the end of one run to the start of the next exceeds the slope.
    let excess = |from: usize, to: usize| {
        level[to] - envelope[from] - slope * to.abs_diff(from) as f64 > 0.5 * STEP_DB
    };
    let above = |k: usize| {
        let run = &runs[k];
        let left = k.checked_sub(1).map(|l| excess(runs[l].end - 1, run.start));
        let right = runs.get(k + 1).map(|r| excess(r.start, run.end - 1));
        // The filter's fall outside the core makes no plateau of what lies inside.
        let left = left.filter(|_| run.start > core.start + MEDIAN_REACH);
        let right = right.filter(|_| run.end + MEDIAN_REACH < core.end);
        (left.is_some() || right.is_some()) && left.unwrap_or(true) && right.unwrap_or(true)
    };
    match (0..runs.len()).find(|k| above(*k)) {
        Some(k) => {
            free[runs[k].clone()].fill(false);
            true
        }
        None => false,
    }
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

/// Level and uncertainty about a sub-band that shows the floor: a straight line through the nearest
/// ones, over as wide a stretch as the counting noise of the narrowest cannot tell from it.
fn local(i: usize, fits: &[Fit], support: &[usize]) -> (f64, f64) {
    let (mut best, mut u_best) = line(i, 2, fits, support);
    for reach in [4, 8, 16] {
        let (wide, u_wide) = line(i, reach, fits, support);
        if (wide - best).abs() > 2.0 * (u_best * u_best - u_wide * u_wide).max(0.0).sqrt() {
            break;
        }
        (best, u_best) = (wide, u_wide);
    }
    (best, u_best)
}

/// Value at `i` of a straight line through the median levels of the sub-bands on either side.
fn line(i: usize, reach: usize, fits: &[Fit], support: &[usize]) -> (f64, f64) {
    let near: Vec<(f64, &Fit)> = support
        .iter()
        .filter(|s| s.abs_diff(i) <= reach)
        .map(|s| (*s as f64 - i as f64, &fits[*s]))
        .collect();
    let n = near.len() as f64;
    let level = median(near.iter().map(|(_, f)| f.level_db).collect());
    let place = median(near.iter().map(|(x, _)| *x).collect());
    // Median of the slopes from the middle (Theil and Sen, one point fixed), for one-sided support.
    let slopes: Vec<f64> = near
        .iter()
        .filter(|(x, _)| (x - place).abs() > 0.5)
        .map(|(x, f)| (f.level_db - level) / (x - place))
        .collect();
    let slope = if place.abs() > 0.5 && slopes.len() > 2 { median(slopes) } else { 0.0 };
    // The median of n knows √(π/2)/√n of one's uncertainty.
    let u_db = 1.2533 * near.iter().map(|(_, f)| f.u_db).sum::<f64>() / n / n.sqrt();
    (level - slope * place, u_db * (1.0 + place.abs() / reach as f64))
}
