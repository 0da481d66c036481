//! What a strong emission puts beside itself: pieces thrown by its own modulation, line families
//! of it, and its mirror image about the receiver's centre.

use super::join::{Candidate, merge};
use super::line::Role;
use super::rules::{OUTSIDE_DB, overlap};
use super::{Look, median};

/// How far the out-of-band domain reaches from the centre, in necessary bandwidths (ITU-R SM.1541:
/// 250 %).
pub(super) const OUT_OF_BAND: f64 = 2.5;
/// How far under the strong emission its out-of-band products lie in mean power, dB (the limits of
/// ITU-R SM.1541 end at some 40 dB and below).
const UNDER_DB: f64 = 40.0;
/// Bursts from which a constant level tells an emission of its own; how constant, dB; and how far
/// over the noise, dB, lest it be the threshold that keeps it so.
const OWN_BURSTS: f64 = 5.0;
const OWN_SCATTER_DB: f64 = 2.5;
const OWN_SNR_DB: f64 = 6.0;
/// How far under, so that it is the emission's permitted spurious part whatever it looks like, dB
/// (ITU-R SM.329, category A: 70 dBc at the most).
const SPURIOUS_DB: f64 = 70.0;
/// Part of an emission's band that lies in a band around it.
const AROUND: f64 = 0.9;
/// Lines that make a family, and the chance of one that is none.
const FAMILY: usize = 5;
const FAMILY_CHANCE: f64 = 0.02;
/// How far off a multiple a line may lie, in spacings; and how wide one may be that tells where the
/// raster lies.
const OFF_RASTER: f64 = 0.15;
const SHARP: f64 = 0.25;
/// Line rates of pictures of 625 and 525 lines, hertz (ITU-R BT.1700), and the least width of what
/// carries one.
const LINE_RATES_HZ: [f64; 2] = [15_625.0, 4.5e6 / 286.0];
const PICTURE_HZ: f64 = 1e6;
/// A line of a family is narrower than this part of the emission's band.
const FAMILY_WIDTH: f64 = 0.02;
/// Pilot of stereophonic broadcasting and the widths of its emissions, hertz (ITU-R BS.450).
const PILOT_HZ: f64 = 19e3;
const BROADCAST_HZ: std::ops::Range<f64> = 60e3..300e3;
/// An image lies at least this far under its emission, dB: receivers reject by 25 dB and more
/// (common practice, no source).
const IMAGE_DB: f64 = 25.0;
/// How much weaker at least the mirrored one of two bare lines is, dB, and its chance.
const MIRROR_DB: f64 = 3.0;
const MIRROR_CHANCE: f64 = 0.01;
/// Chance of an image that is none, from its place and its times.
const IMAGE_CHANCE: f64 = 0.02;

/// Joins out-of-band pieces and line families to the steady emission that made them.
pub(super) fn out_of_band(all: &mut Vec<Candidate>, parents: &mut [u32], looks: &[Look]) {
    let mut s = 0;
    while s < all.len() {
        // From the highest: taking one out does not move those below it.
        for k in thrown(all, s).into_iter().rev() {
            merge(all, parents, looks, s, k, Role::View);
            s = s.min(k);
        }
        s += 1;
    }
}

/// Lines that emission `s` put beside itself, by rising place.
fn thrown(all: &[Candidate], s: usize) -> Vec<usize> {
    let strong = &all[s];
    if !strong.steady || strong.edges.bare {
        return Vec::new();
    }
    let near = |k: &usize| {
        let x = &all[*k];
        let apart = (x.centre_hz - strong.centre_hz).abs() / strong.width();
        // What comes and goes with its modulation may stand a little higher.
        let under_db = if x.steady { UNDER_DB } else { UNDER_DB - 10.0 };
        *k != s
            && apart <= OUT_OF_BAND
            && x.width() < 2.0 * strong.width()
            && x.level_db < strong.level_db - under_db
    };
    let near: Vec<usize> = (0..all.len()).filter(near).collect();
    let family = family(all, &near, strong);
    let goes = |k: &usize| {
        let x = &all[*k];
        let of_pilot = !x.steady && harmonic_of_pilot(strong, x);
        let spurious = x.level_db < strong.level_db - SPURIOUS_DB;
        of_pilot || spurious || !is_own(x) || family.contains(k)
    };
    let goes = |k: &usize| *k != s && (near.contains(k) && goes(k) || around(strong, &all[*k]));
    (0..all.len()).filter(goes).collect()
}

/// Whether a line lies around a strong band on both sides without its power: its skirts.
fn around(strong: &Candidate, x: &Candidate) -> bool {
    x.level_db < strong.level_db - OUTSIDE_DB
        && (x.centre_hz - strong.centre_hz).abs() <= OUT_OF_BAND * strong.width()
        && x.width() <= 2.0 * OUT_OF_BAND * strong.width()
        && overlap(strong, x) >= AROUND * strong.width()
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

/// Narrow lines on a raster (the line rate of a picture, or whatever spacing half of the gaps
/// agree on), of which some may be missing: of those near, the ones that lie so. None where chance
/// puts lines so (Rayleigh's test of the places within a spacing).
fn family(all: &[Candidate], near: &[usize], strong: &Candidate) -> Vec<usize> {
    let narrow = |k: &usize| all[*k].width() < FAMILY_WIDTH * strong.width();
    let mut lines: Vec<usize> = near.iter().copied().filter(narrow).collect();
    lines.sort_by(|a, b| all[*a].centre_hz.total_cmp(&all[*b].centre_hz));
    if lines.len() < FAMILY {
        return Vec::new();
    }
    let mut gaps: Vec<f64> =
        lines.windows(2).map(|w| all[w[1]].centre_hz - all[w[0]].centre_hz).collect();
    gaps.sort_by(f64::total_cmp);
    let half = gaps.len().div_ceil(2);
    let mut spacings = vec![median(&mut gaps[..half])];
    if strong.width() >= PICTURE_HZ {
        spacings.extend(LINE_RATES_HZ);
    }
    let rasters = spacings.iter().filter_map(|spacing| raster(all, &lines, *spacing));
    let best = rasters.max_by(|a, b| a.odds.total_cmp(&b.odds));
    let least = (spacings.len() as f64 / FAMILY_CHANCE).ln();
    let Some(raster) = best.filter(|raster| raster.odds > least) else { return Vec::new() };
    lines.retain(|k| raster.holds(&all[*k]));
    lines
}

/// Places at whole multiples of a spacing.
struct Raster {
    spacing_hz: f64,
    /// Where the places lie, in spacings.
    phase: f64,
    /// Logarithm of the odds against chance: lines times the square of their mean phasor.
    odds: f64,
}

/// The raster of a spacing that lines fit best; `None` if they are too few or too wide to tell.
fn raster(all: &[Candidate], lines: &[usize], spacing_hz: f64) -> Option<Raster> {
    let sharp = |x: &&Candidate| x.width() < SHARP * spacing_hz;
    let turns: Vec<f64> = lines
        .iter()
        .map(|k| &all[*k])
        .filter(sharp)
        .map(|x| std::f64::consts::TAU * (x.centre_hz / spacing_hz).fract())
        .collect();
    let (sin, cos) = turns.iter().fold((0.0, 0.0), |(s, c), t| (s + t.sin(), c + t.cos()));
    let odds = (sin * sin + cos * cos) / turns.len() as f64;
    let phase = sin.atan2(cos) / std::f64::consts::TAU;
    (turns.len() >= FAMILY).then_some(Raster { spacing_hz, phase, odds })
}

impl Raster {
    fn holds(&self, x: &Candidate) -> bool {
        let off = x.centre_hz / self.spacing_hz - self.phase;
        (off - off.round()).abs() < OFF_RASTER + 0.5 * x.width() / self.spacing_hz
    }
}

/// Takes out mirror images of bursts: lines on only when one at the mirrored frequency is, that is
/// far stronger. Gives the loudest's hertz and dBFS.
pub(super) fn images(all: &mut Vec<Candidate>, looks: &[Look]) -> Option<(f64, f64)> {
    let mut middles: Vec<(f64, f64)> = looks.iter().map(|l| (l.low_hz, l.high_hz)).collect();
    middles.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    middles.dedup();
    let caused = |x: &Candidate, s: &Candidate, (low_hz, high_hz): (f64, f64)| {
        let middle = 0.5 * (low_hz + high_hz);
        let slack = 0.5 * x.width() + 3.0 * x.line.centre_hz().1;
        let band = s.edges.low_hz - slack..=s.edges.high_hz + slack;
        let place = (band.end() - band.start()) / (high_hz - low_hz);
        let chance = place * s.share.powf(x.line.count);
        s.level_db > x.level_db + IMAGE_DB
            && !s.steady
            && (s.edges.low_hz > middle || s.edges.high_hz < middle)
            && band.contains(&(2.0 * middle - x.centre_hz))
            && x.width() < 1.5 * s.width()
            && chance < IMAGE_CHANCE
            && x.line.spans.share_in(&s.line.spans) > 0.9
    };
    let bare = all.iter().filter(|c| c.nearly_bare()).count() as f64;
    // A bare line so exactly at the mirrored place of a stronger one that chance hardly put it
    // there: a tone that entered one arm of the receiver more than the other, say.
    let mirrored = |x: &Candidate, s: &Candidate, (low_hz, high_hz): (f64, f64)| {
        let off_hz = (x.centre_hz + s.centre_hz - low_hz - high_hz).abs();
        let u_hz = 3.0 * x.line.centre_hz().1.hypot(s.line.centre_hz().1);
        x.nearly_bare()
            && s.nearly_bare()
            && s.level_db > x.level_db + MIRROR_DB
            && off_hz <= u_hz
            && bare * 2.0 * u_hz / (high_hz - low_hz) < MIRROR_CHANCE
            && x.line.spans.share_in(&s.line.spans) > 0.7
    };
    let is_image = |x: &Candidate| {
        let mut seen = middles.iter().filter(|m| (m.0..=m.1).contains(&x.centre_hz));
        seen.any(|m| all.iter().any(|s| caused(x, s, *m) || mirrored(x, s, *m)))
    };
    let gone: Vec<bool> = all.iter().map(is_image).collect();
    let of = |(x, gone): (&Candidate, &bool)| gone.then_some((x.centre_hz, x.level_db));
    let loudest = all.iter().zip(&gone).filter_map(of).max_by(|a, b| a.1.total_cmp(&b.1));
    let mut at = 0;
    all.retain(|_| {
        at += 1;
        !gone[at - 1]
    });
    loudest
}

#[cfg(test)]
mod tests;
