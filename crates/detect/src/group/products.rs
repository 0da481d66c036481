//! What a strong emission puts beside itself: pieces thrown by its own modulation, line families
//! of it, and its mirror image about the receiver's centre.

use super::join::{Candidate, merge};
use super::line::Role;
use super::{Look, median, row};

/// How far the out-of-band domain reaches from the centre, in necessary bandwidths (ITU-R SM.1541:
/// 250 %).
const OUT_OF_BAND: f64 = 2.5;
/// How far under the strong emission its out-of-band products lie in mean power, dB (the limits of
/// ITU-R SM.1541 end at some 40 dB and below).
const UNDER_DB: f64 = 40.0;
/// Bursts from which a constant level tells an emission of its own; how constant, dB; and how far
/// over the noise, dB, lest it be the threshold that keeps it so.
const OWN_BURSTS: f64 = 5.0;
const OWN_SCATTER_DB: f64 = 2.5;
const OWN_SNR_DB: f64 = 6.0;
/// Lines that make a family.
const FAMILY: usize = 5;
/// Gaps of a family that are looked at, in spacings; and how far off a multiple may lie.
const MISSING: f64 = 12.0;
const OFF_RASTER: f64 = 0.15;
/// A line of a family is narrower than this part of the emission's band.
const FAMILY_WIDTH: f64 = 0.02;
/// Pilot of stereophonic broadcasting and the widths of its emissions, hertz (ITU-R BS.450).
const PILOT_HZ: f64 = 19e3;
const BROADCAST_HZ: std::ops::Range<f64> = 60e3..300e3;
/// An image lies at least this far under its emission, dB: receivers reject by 25 dB and more
/// (common practice, no source).
const IMAGE_DB: f64 = 25.0;
/// Chance of an image that is none, from its place and its times.
const IMAGE_CHANCE: f64 = 0.02;

/// Joins out-of-band pieces and line families to the steady emission that made them.
pub(super) fn out_of_band(all: &mut Vec<Candidate>, parents: &mut [u32], looks: &[Look]) {
    let mut s = 0;
    while s < all.len() {
        // From the highest: taking one out does not move those below it.
        for k in thrown(all, s, looks).into_iter().rev() {
            merge(all, parents, looks, s, k, Role::View);
            s = s.min(k);
        }
        s += 1;
    }
}

/// Lines that emission `s` put beside itself, by rising place.
fn thrown(all: &[Candidate], s: usize, looks: &[Look]) -> Vec<usize> {
    let strong = &all[s];
    if !strong.steady || strong.edges.bare {
        return Vec::new();
    }
    let near = |k: &usize| {
        let x = &all[*k];
        let share = row::on_fraction(&x.line, looks).max(1e-9);
        let mean_db = x.level_db + units::db_from_ratio(share);
        *k != s
            && (x.centre_hz - strong.centre_hz).abs() <= OUT_OF_BAND * strong.width()
            && x.width() < 2.0 * strong.width()
            && mean_db < strong.level_db - UNDER_DB
    };
    let near: Vec<usize> = (0..all.len()).filter(near).collect();
    let family = family(all, &near, strong);
    let goes = |k: &usize| {
        let x = &all[*k];
        let of_pilot = !x.steady && harmonic_of_pilot(strong, x);
        of_pilot || !is_own(x) || family.contains(k)
    };
    near.iter().copied().filter(goes).collect()
}

/// Whether a line is an emission whatever stands beside it: never off, or burst by burst of one
/// level, which another's modulation does not give.
fn is_own(x: &Candidate) -> bool {
    let constant = x.line.count >= OWN_BURSTS
        && x.line.level_scatter_db() < OWN_SCATTER_DB
        && x.line.snr_db() > OWN_SNR_DB;
    x.steady || constant
}

/// Whether a narrow line lies a multiple of the pilot's frequency from a broadcaster.
fn harmonic_of_pilot(strong: &Candidate, x: &Candidate) -> bool {
    let apart = (x.centre_hz - strong.centre_hz).abs() / PILOT_HZ;
    let u = strong.line.centre_hz().1.hypot(x.line.centre_hz().1) / PILOT_HZ;
    BROADCAST_HZ.contains(&strong.width())
        && x.width() < 0.5 * PILOT_HZ
        && (apart - apart.round()).abs() < 0.05 + 3.0 * u.min(0.05)
}

/// Narrow lines on a raster (the line rate of a picture and its multiples), of which some may be
/// missing: of the gaps up to [`MISSING`] spacings three quarters are whole multiples; by chance
/// less than a third are. Of those near, the ones that lie so.
fn family(all: &[Candidate], near: &[usize], strong: &Candidate) -> Vec<usize> {
    let narrow = |k: &usize| all[*k].width() < FAMILY_WIDTH * strong.width();
    let mut lines: Vec<usize> = near.iter().copied().filter(narrow).collect();
    lines.sort_by(|a, b| all[*a].centre_hz.total_cmp(&all[*b].centre_hz));
    let mut gaps: Vec<f64> =
        lines.windows(2).map(|w| all[w[1]].centre_hz - all[w[0]].centre_hz).collect();
    gaps.sort_by(f64::total_cmp);
    // Half of the gaps are one spacing, or the lines are no family.
    let half = gaps.len().div_ceil(2);
    let spacing = median(&mut gaps[..half]);
    let few: Vec<f64> = gaps.iter().map(|g| g / spacing).filter(|n| *n < MISSING).collect();
    let whole = few.iter().filter(|n| **n > 0.5 && (**n - n.round()).abs() < OFF_RASTER).count();
    if lines.len() < FAMILY || few.len() + 1 < FAMILY || 4 * whole < 3 * few.len() {
        return Vec::new();
    }
    let on_raster = |k: &usize| {
        let x = &all[*k];
        lines.iter().filter(|o| *o != k).any(|o| {
            let apart = (all[*o].centre_hz - x.centre_hz).abs() / spacing;
            (apart - apart.round()).abs() < OFF_RASTER + 0.5 * x.width() / spacing
        })
    };
    lines.iter().copied().filter(on_raster).collect()
}

/// Takes out mirror images of bursts: lines on only when one at the mirrored frequency is, that is
/// far stronger.
pub(super) fn images(all: &mut Vec<Candidate>, looks: &[Look]) {
    let mut middles: Vec<(f64, f64)> = looks.iter().map(|l| (l.low_hz, l.high_hz)).collect();
    middles.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    middles.dedup();
    let caused = |x: &Candidate, s: &Candidate, (low_hz, high_hz): (f64, f64)| {
        let middle = 0.5 * (low_hz + high_hz);
        let slack = 0.5 * x.width() + 3.0 * x.line.centre_hz().1;
        let band = s.edges.low_hz - slack..=s.edges.high_hz + slack;
        let place = (band.end() - band.start()) / (high_hz - low_hz);
        let chance = place * row::on_fraction(&s.line, looks).powf(x.line.count);
        s.level_db > x.level_db + IMAGE_DB
            && !s.steady
            && (s.edges.low_hz > middle || s.edges.high_hz < middle)
            && band.contains(&(2.0 * middle - x.centre_hz))
            && x.width() < 1.5 * s.width()
            && chance < IMAGE_CHANCE
            && x.line.spans.share_in(&s.line.spans) > 0.9
    };
    let is_image = |x: &Candidate| {
        let mut seen = middles.iter().filter(|m| (m.0..=m.1).contains(&x.centre_hz));
        seen.any(|m| all.iter().any(|s| caused(x, s, *m)))
    };
    let gone: Vec<bool> = all.iter().map(is_image).collect();
    let mut at = 0;
    all.retain(|_| {
        at += 1;
        !gone[at - 1]
    });
}

#[cfg(test)]
mod tests;
