//! What a strong line puts beside itself or over others: a wide line that is several narrower ones
//! seen together, sidebands about a carrier, shadows of keying.

use super::join::{Candidate, merge};
use super::line::Role;
use super::products::OUT_OF_BAND;
use super::rules::overlap;
use super::{Look, looked_s};
use crate::defects::SPURIOUS_FREE_DB;

/// How far under a strong emission its shadows lie, dB (common practice, no source).
const SHADOW_DB: f64 = 15.0;
/// Chance of a shadow that is none (a rule of ours).
const SHADOW_CHANCE: f64 = 1e-2;
/// The same where any transmitter has products of its own, near it and this far under it, dB: a
/// channel away the cordless telephone's may lie 32 dB under (ETSI EN 300 175-2, emissions due to
/// modulation, from memory); the chance is a rule of ours.
const PRODUCT_CHANCE: f64 = 0.1;
const PRODUCT_DB: f64 = 30.0;
/// The same anywhere: what is permitted as spurious emission of 10 mW (ITU-R SM.329: -36 dBm).
const SPURIOUS_DB: f64 = 46.0;
/// Chance of a pair of sidebands that is none.
const SIDEBAND_CHANCE: f64 = 0.05;
/// Shortest pause that a line's timing shows, in uncertainties of it: a frame of its resolution.
const UNSEEN: f64 = 3.3;
/// However well its ends are known, a pause shorter than this many frames, half-overlapped, leaves
/// none of them empty.
const UNCUT: f64 = 1.5;
/// Bursts of like length: their medians' ratio.
const LIKE_LENGTH: f64 = 1.25;

/// Wide lines that are several narrower ones seen together: all their power is in those, which
/// are on for longer or were resolved far better. They go to the strongest of those.
pub(super) fn composites(all: &mut Vec<Candidate>, parents: &mut [u32], looks: &[Look]) {
    let mut w = 0;
    while w < all.len() {
        match explained_by(all, w) {
            Some(k) => {
                // What takes the place of the lower may be one that was passed already.
                merge(all, parents, looks, k, w, Role::View);
                w = w.min(k);
            }
            None => w += 1,
        }
    }
}

/// The strongest of the lines that a wide one is made of; `None` if it is of its own.
fn explained_by(all: &[Candidate], w: usize) -> Option<usize> {
    let wide = &all[w];
    let resolution = |c: &Candidate| c.line.best.first().map_or(0.0, |p| p.resolution_hz);
    let share = |c: &Candidate| wide.line.spans.share_in(&c.line.spans);
    let part = |c: &Candidate| {
        let finer = resolution(wide) >= 8.0 * resolution(c);
        1.5 * c.width() < wide.width()
            && overlap(wide, c) > 0.7 * c.width()
            && (finer || wide.line.on_s < 0.6 * c.line.on_s)
            && share(c) > 0.3
    };
    let parts: Vec<usize> = (0..all.len()).filter(|k| *k != w && part(&all[*k])).collect();
    let strongest =
        parts.iter().copied().max_by(|a, b| all[*a].level_db.total_cmp(&all[*b].level_db))?;
    // Two tones of one keying: alike in width and level, and the wide line is on as long.
    if let [a, b] = parts[..] {
        let (a, b) = (&all[a], &all[b]);
        let level = (a.level_db - b.level_db).abs() < 2.0;
        let width = (a.width() / b.width()).ln().abs() < 1.5f64.ln();
        if level && width && wide.line.on_s >= 0.6 * a.line.on_s.max(b.line.on_s) {
            return None;
        }
    }
    let power = |k: &usize| units::ratio_from_db(all[*k].level_db) * share(&all[*k]);
    let power_db = units::db_from_ratio(parts.iter().map(power).sum());
    // A moment's look is uncertain in level.
    let brief = parts.iter().any(|k| wide.line.on_s < 0.05 * all[*k].line.on_s);
    let margin_db = if brief { 5.0 } else { 2.0 };
    (parts.len() > 1 && power_db > wide.level_db - margin_db).then_some(strongest)
}

/// Weaker lines at the same distance either side of a stronger one, on when it is: its
/// sidebands or subcarriers.
pub(super) fn sidebands(all: &mut Vec<Candidate>, parents: &mut [u32], looks: &[Look]) {
    let mut c = 0;
    while c < all.len() {
        let carrier = &all[c];
        let weaker: Vec<usize> =
            (0..all.len()).filter(|k| may_be_sideband(carrier, &all[*k])).collect();
        // Beside many lines one of them lies at a mirrored place by chance, unless time speaks too.
        let by_time = |x: &Candidate| while_on(carrier, x).1.ln() * x.line.count;
        let by_chance = |a: &Candidate, b: &Candidate| {
            let u = |x: &Candidate| x.line.centre_hz().1;
            let off_hz = uneven_hz(carrier, a, b).max(u(a) + u(b) + 2.0 * u(carrier));
            let place = weaker.len() as f64 * off_hz / sideband_reach(carrier);
            place.ln() + by_time(a).max(by_time(b)) > SIDEBAND_CHANCE.ln()
        };
        let pair = || {
            weaker.iter().enumerate().find_map(|(n, a)| {
                let other = weaker[n + 1..].iter().find(|b| {
                    let (a, b) = (&all[*a], &all[**b]);
                    mirrored(carrier, a, b) && !by_chance(a, b)
                });
                other.map(|b| [*a, *b])
            })
        };
        let mut go = about_one_axis(carrier, &weaker, all);
        if go.is_empty() {
            go.extend(pair().into_iter().flatten());
        }
        if go.is_empty() {
            c += 1;
            continue;
        }
        // The higher first: taking one out does not move those below it.
        go.sort_unstable();
        for go in go.into_iter().rev() {
            merge(all, parents, looks, c, go, Role::Sideband);
            c = c.min(go);
        }
    }
}

/// Pairs about one axis somewhere in the carrier's band, more of them than chance puts there: where
/// its band was measured lopsided, its sidebands still show its middle.
fn about_one_axis(carrier: &Candidate, weaker: &[usize], all: &[Candidate]) -> Vec<usize> {
    let mut pairs: Vec<(f64, f64, [usize; 2])> = Vec::new();
    for (n, a) in weaker.iter().enumerate() {
        for b in &weaker[n + 1..] {
            let (x, y) = (&all[*a], &all[*b]);
            let axis_hz = 0.5 * (x.centre_hz + y.centre_hz);
            let about = (x.centre_hz - axis_hz).abs() > 0.5 * carrier.width();
            if about && alike(x, y) {
                let u = |c: &Candidate| c.line.centre_hz().1 + 0.01 * c.width();
                pairs.push((axis_hz, u(x).hypot(u(y)), [*a, *b]));
            }
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let trials = pairs.len() as f64;
    let with = |(axis_hz, off_hz, _): &(f64, f64, [usize; 2])| {
        let near = pairs.iter().filter(|p| (p.0 - axis_hz).abs() <= 2.0 * off_hz.hypot(p.1));
        let mut lines: Vec<usize> = near.flat_map(|p| p.2).collect();
        lines.sort_unstable();
        lines.dedup();
        let expected = trials * 4.0 * off_hz / sideband_reach(carrier);
        let besides = lines.len() / 2 - 1;
        let chance = if besides == 0 { 1.0 } else { dsp::gamma_cdf(besides as f64, expected) };
        (trials * chance, lines)
    };
    let inside =
        |p: &&(f64, f64, [usize; 2])| (carrier.edges.low_hz..=carrier.edges.high_hz).contains(&p.0);
    let best = pairs.iter().filter(inside).map(with).min_by(|a, b| a.0.total_cmp(&b.0));
    best.filter(|b| b.0 < SIDEBAND_CHANCE).map_or_else(Vec::new, |b| b.1)
}

/// Weaker than the carrier, near it, and on only when it is.
fn may_be_sideband(carrier: &Candidate, x: &Candidate) -> bool {
    let apart = (x.centre_hz - carrier.centre_hz).abs();
    apart > 0.0
        && apart <= sideband_reach(carrier)
        && x.level_db < carrier.level_db - 3.0
        && while_on(carrier, x).0 > 0.8
}

/// In how much of a line's time a strong one is on, and in how much of all time: with those of its
/// pauses closed that are too short for the line's timing to show.
fn while_on(strong: &Candidate, x: &Candidate) -> (f64, f64) {
    let spans = &strong.line.spans;
    let closed = spans.closed((UNSEEN * x.line.u_time_s()).max(UNCUT * x.line.frame_s()));
    let share = strong.share * closed.on_s() / spans.on_s();
    (x.line.spans.share_in(&closed), share.min(1.0))
}

/// How far from a carrier its sidebands may lie, hertz: stereo and data subcarriers of broadcast FM
/// reach to 100 kHz (ITU-R BS.450).
fn sideband_reach(carrier: &Candidate) -> f64 {
    (10.0 * carrier.width()).max(100e3)
}

/// How far the second of two sidebands lies from the first one's mirrored place, hertz.
fn uneven_hz(carrier: &Candidate, a: &Candidate, b: &Candidate) -> f64 {
    (a.centre_hz + b.centre_hz - 2.0 * carrier.centre_hz).abs()
}

/// At equal distances either side of the carrier, of like level, on together.
fn mirrored(carrier: &Candidate, a: &Candidate, b: &Candidate) -> bool {
    let u = |x: &Candidate| x.line.centre_hz().1 + 0.05 * x.width();
    uneven_hz(carrier, a, b) <= 2.0 * (u(a) + u(b) + 2.0 * u(carrier)) && alike(a, b)
}

/// Of like level and on together, as the two of a pair of sidebands are.
fn alike(a: &Candidate, b: &Candidate) -> bool {
    (a.level_db - b.level_db).abs() < 4.0 && a.line.spans.alike(&b.line.spans) > 0.7
}

/// Weak lines near a much stronger one that are on only when it is: what its keying, the receiver's
/// overload or its oscillator put beside it; and the receiver's products of it.
pub(super) fn shadows(all: &mut Vec<Candidate>, parents: &mut [u32], looks: &[Look]) {
    let mut weak = 0;
    while weak < all.len() {
        let x = &all[weak];
        let cause = (0..all.len()).find(|k| casts(&all[*k], x, looks));
        match cause {
            Some(k) => {
                merge(all, parents, looks, k, weak, Role::View);
                weak = weak.min(k);
            }
            None => weak += 1,
        }
    }
}

/// Whether a line of its own would hardly lie as near to a much stronger one and be on only when
/// that is: the place's share of the band times the strong one's share of the time, once a burst.
fn casts(strong: &Candidate, x: &Candidate, looks: &[Look]) -> bool {
    let apart = (x.centre_hz - strong.centre_hz).abs() + 0.5 * x.width();
    let seen = looks.iter().filter(|l| (l.low_hz..=l.high_hz).contains(&x.centre_hz));
    let band = seen.map(|l| l.high_hz - l.low_hz).fold(f64::INFINITY, f64::min);
    let place = (2.0 * apart / band).min(1.0);
    // What comes and goes so far under it is the receiver's product of it, wherever it lies.
    let spurious = !x.steady
        && strong.level_db > x.level_db + SPURIOUS_FREE_DB
        && looked_s(looks, &[x.centre_hz, strong.centre_hz]) > 0.0
        && while_on(strong, x).0 > 0.9;
    let near = (x.centre_hz - strong.centre_hz).abs() <= OUT_OF_BAND * strong.width();
    let under_db = if near { PRODUCT_DB } else { SPURIOUS_DB };
    let product = strong.level_db > x.level_db + under_db;
    let chance = if product { PRODUCT_CHANCE } else { SHADOW_CHANCE };
    let by_time = || {
        let (of_its, share) = while_on(strong, x);
        of_its > 0.9 && x.line.count * share.ln() + place.ln() < chance.ln()
    };
    let shadow = strong.level_db > x.level_db + SHADOW_DB && strong.share < 0.8 && !x.steady;
    spurious || beyond(strong, x, looks) || shadow && by_time()
}

/// Whether a line is the out-of-band part of bursts that the receiver cannot see when it sees the
/// line, as its step ends between them: near them, far under them, bursts of their length.
fn beyond(strong: &Candidate, x: &Candidate, looks: &[Look]) -> bool {
    let ratio = strong.line.median_s() / x.line.median_s();
    !strong.steady
        && !x.steady
        && (x.centre_hz - strong.centre_hz).abs() <= OUT_OF_BAND * strong.width()
        && x.width() < strong.width()
        && strong.level_db > x.level_db + PRODUCT_DB
        && (1.0 / LIKE_LENGTH..LIKE_LENGTH).contains(&ratio)
        && looked_s(looks, &[x.centre_hz, strong.centre_hz]) == 0.0
}
