//! Which lines are one emitter's, from frequency, width, level and timing.
//!
//! Rules, in this order: the same channel; a part or another view of a wider signal; pieces of
//! one band that are on together; tones that take turns; a carrier that drifts out of its line;
//! bands cut by the receiver's own edge; sidebands about a carrier.

use super::Look;
use super::line::{Edges, Line, Role};
use super::products;
use crate::pulse::Pulse;

/// Levels of one emitter's bursts in one recording scatter less than this, dB (fading within a
/// room; common practice, no source).
const LIKE_LEVEL_DB: f64 = 8.0;

/// Two views of one signal at two resolutions agree in level within this, dB.
const ALL_DB: f64 = 0.8;
/// What lies further than this under the rest is no part of its 99 % band, dB (ITU-R SM.328).
const OUTSIDE_DB: f64 = 20.0;
/// How far under a strong emission its shadows lie, dB (common practice, no source).
const SHADOW_DB: f64 = 15.0;
/// Chance of a shadow that is none (a rule of ours).
const SHADOW_CHANCE: f64 = 1e-2;

/// How badly a pulse fits a line, as a sum of squared deviations; `None` if it does not.
pub(super) fn distance(l: &Line, p: &Pulse) -> Option<f64> {
    let e = l.edges();
    let width = e.width_hz();
    let spread = like_width(e.bare, width, e.u_hz, p.bare, p.bandwidth_hz, p.u_bandwidth_hz)?;
    let least = width.min(p.bandwidth_hz);
    let scatter = l.centre_scatter_hz();
    let u = (p.u_centre_hz.powi(2) + scatter.powi(2)).sqrt();
    let centre = (p.centre_hz - l.centre_hz().0).abs().min((p.centre_hz - l.recent_hz).abs());
    if centre > 3.0 * u + 0.25 * least {
        return None;
    }
    let level = p.level_dbfs - l.level_dbfs();
    if level.abs() > LIKE_LEVEL_DB + 3.0 * p.u_level_db {
        return None;
    }
    Some((centre / (u + 0.1 * least)).powi(2) + spread + (level / 3.0).powi(2))
}

/// Whether two widths may be one emitter's, and how far apart they are in squared deviations. A
/// bare line is at most as wide as it says.
fn like_width(bare_a: bool, a: f64, u_a: f64, bare_b: bool, b: f64, u_b: f64) -> Option<f64> {
    match (bare_a, bare_b) {
        (true, true) => return Some(0.0),
        (true, false) if b <= a => return Some(0.0),
        (false, true) if a <= b => return Some(0.0),
        _ => {}
    }
    let ratio = (a / b).ln().abs();
    let u = (u_a / a).hypot(u_b / b).min(0.3);
    (ratio <= 2f64.ln() + 3.0 * u).then(|| (ratio / (0.35 + u)).powi(2))
}

/// A line with what the rules ask of it.
pub(super) struct Candidate {
    pub line: Line,
    pub edges: Edges,
    pub centre_hz: f64,
    pub level_db: f64,
    /// On for nearly all of the time that it was looked at.
    pub steady: bool,
}

impl Candidate {
    fn new(line: Line, looks: &[Look]) -> Self {
        let (centre_hz, _) = line.centre_hz();
        Candidate {
            edges: line.edges(),
            centre_hz,
            level_db: line.level_dbfs(),
            steady: super::row::on_fraction(&line, looks) >= super::row::STEADY,
            line,
        }
    }
    pub fn width(&self) -> f64 {
        self.edges.width_hz()
    }
    /// Power in a hertz, dB.
    fn density_db(&self) -> f64 {
        self.level_db - units::db_from_ratio(self.width())
    }
}

/// What the second of two lines is to the first; or the first to the second.
enum Verdict {
    /// The second joins the first.
    Second(Role),
    /// The first joins the second.
    First(Role),
}

type Rule = fn(&Candidate, &Candidate) -> Option<Verdict>;

/// Joins the lines that one emitter made. `parents` learns which group joined which.
pub(super) fn join(lines: &mut Vec<Line>, parents: &mut [u32], looks: &[Look]) {
    let mut all: Vec<Candidate> = lines.drain(..).map(|l| Candidate::new(l, looks)).collect();
    let rules: [&[Rule]; 2] = [&[same_channel], &[part_or_view, pieces, tones, drift, cut_by_band]];
    for (k, rules) in rules.into_iter().enumerate() {
        for rule in rules {
            while pass(&mut all, parents, looks, *rule) {}
        }
        if k == 0 {
            composites(&mut all, parents, looks);
        }
    }
    products::images(&mut all, looks);
    products::out_of_band(&mut all, parents, looks);
    sidebands(&mut all, parents, looks);
    shadows(&mut all, parents, looks);
    lines.extend(all.into_iter().map(|c| c.line));
}

/// One round over all pairs; whether any was joined.
fn pass(all: &mut Vec<Candidate>, parents: &mut [u32], looks: &[Look], rule: Rule) -> bool {
    let mut joined = false;
    let mut a = 0;
    while a < all.len() {
        let mut b = a + 1;
        while b < all.len() {
            let Some(verdict) = rule(&all[a], &all[b]) else {
                b += 1;
                continue;
            };
            joined = true;
            let (keep, go, role) = match verdict {
                Verdict::Second(role) => (a, b, role),
                Verdict::First(role) => (b, a, role),
            };
            merge(all, parents, looks, keep, go, role);
            // The survivor stands at `a`: what was compared with it may now join.
            b = a + 1;
        }
        a += 1;
    }
    joined
}

/// Line `go` joins line `keep`; the result takes the place of the lower of the two.
pub(super) fn merge(
    all: &mut Vec<Candidate>,
    parents: &mut [u32],
    looks: &[Look],
    keep: usize,
    go: usize,
    role: Role,
) {
    let (low, high) = (keep.min(go), keep.max(go));
    let second = all.remove(high).line;
    let first = std::mem::replace(&mut all[low].line, second.clone());
    let (mut kept, gone) = if keep == low { (first, second) } else { (second, first) };
    parents[gone.id as usize] = kept.id;
    kept.absorb(&gone, role);
    all[low] = Candidate::new(kept, looks);
}

/// Like centre and width; two all the same where both are plain and their levels clearly differ.
fn same_channel(a: &Candidate, b: &Candidate) -> Option<Verdict> {
    let (wa, wb) = (a.width(), b.width());
    like_width(a.edges.bare, wa, a.edges.u_hz, b.edges.bare, wb, b.edges.u_hz)?;
    let u = a.line.centre_scatter_hz().hypot(b.line.centre_scatter_hz());
    if (a.centre_hz - b.centre_hz).abs() > 0.3 * wa.min(wb) + 3.0 * u {
        return None;
    }
    let plain = |c: &Candidate| c.line.count >= 5.0 && c.line.level_scatter_db() < 2.5;
    let two = plain(a) && plain(b) && (a.level_db - b.level_db).abs() > 10.0;
    (!two).then_some(Verdict::Second(Role::Same))
}

/// One inside the other's band: a part of it, or a view at another resolution.
fn part_or_view(a: &Candidate, b: &Candidate) -> Option<Verdict> {
    let swap = a.width() < b.width();
    let (wide, narrow) = if swap { (b, a) } else { (a, b) };
    if overlap(wide, narrow) < 0.7 * narrow.width() {
        return None;
    }
    let in_wide = narrow.line.spans.share_in(&wide.line.spans);
    let in_narrow = wide.line.spans.share_in(&narrow.line.spans);
    let more_db = wide.level_db - narrow.level_db;
    // Nothing but the narrow one's power in the wide band: 99 % of it is narrow (SM.328), and the
    // wide view is its keying or the resolution's. A rare narrow view does not decide.
    let all_narrow = more_db.abs() < ALL_DB && narrow.line.on_s >= 0.3 * wide.line.on_s;
    let whole = |keep_wide: bool| match keep_wide != swap {
        true => Some(Verdict::Second(Role::View)),
        false => Some(Verdict::First(Role::View)),
    };
    // A part is not stronger than the whole.
    let louder = more_db < -3.0 - 2.0 * narrow.line.u_level_db();
    let off_centre = (narrow.centre_hz - wide.centre_hz).abs() > 0.1 * wide.width();
    let carrier = narrow.edges.bare && off_centre && narrow.density_db() > wide.density_db() + 15.0;
    if in_wide >= 0.7 && !louder && !(carrier && wide.steady) {
        return whole(!all_narrow);
    }
    // The wide view shows in a part of the narrow one's time only. Under a steady carrier that
    // may be another emitter's packet, unless it holds nothing but the carrier's own power.
    if in_narrow >= 0.7 && (!narrow.steady || all_narrow) {
        // Most of the wide one's power beside the narrow one: a signal of its own width.
        let needed = if more_db > 3.0 { 0.3 } else { 0.6 };
        let often = wide.line.on_s >= needed * narrow.line.on_s;
        return whole(!louder && !all_narrow && often);
    }
    // Pieces of bursts: together far more often than by chance.
    let both_first = wide.line.first.0.min(narrow.line.first.0);
    let span_s = wide.line.last.0.max(narrow.line.last.0) - both_first;
    let by_chance = wide.line.on_s / span_s.max(f64::MIN_POSITIVE);
    let bursts = !wide.steady && !narrow.steady;
    if bursts && !louder && in_wide >= 0.3 && in_wide > 3.0 * by_chance {
        return whole(!all_narrow);
    }
    // Width that varies: never on together, of one level or one density. Speech that pauses leaves
    // its carrier, in the middle and of the same level.
    if in_wide.max(in_narrow) < 0.05 {
        let level = more_db.abs() < 3.0;
        let density = (wide.density_db() - narrow.density_db()).abs() < 3.0;
        let load = bursts && (level || density) && wide.width() < 5.0 * narrow.width();
        let middle = (narrow.centre_hz - wide.centre_hz).abs() < 0.25 * wide.width();
        if load || level && middle && narrow.edges.bare {
            return whole(wide.line.on_s >= 0.3 * narrow.line.on_s);
        }
    }
    None
}

/// Wide lines that are several narrower ones seen together: all their power is in those, which
/// are on for longer or were resolved far better. They go to the strongest of those.
fn composites(all: &mut Vec<Candidate>, parents: &mut [u32], looks: &[Look]) {
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

/// Weak lines near a much stronger one that are on only when it is: what its keying, the receiver's
/// overload or its oscillator put beside it.
fn shadows(all: &mut Vec<Candidate>, parents: &mut [u32], looks: &[Look]) {
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
    let share = super::row::on_fraction(&strong.line, looks);
    let apart = (x.centre_hz - strong.centre_hz).abs() + 0.5 * x.width();
    let seen = looks.iter().filter(|l| (l.low_hz..=l.high_hz).contains(&x.centre_hz));
    let band = seen.map(|l| l.high_hz - l.low_hz).fold(f64::INFINITY, f64::min);
    let place = (2.0 * apart / band).min(1.0);
    strong.level_db > x.level_db + SHADOW_DB
        && share < 0.8
        && x.line.count * share.ln() + place.ln() < SHADOW_CHANCE.ln()
        && x.line.spans.share_in(&strong.line.spans) > 0.9
}

/// Bands side by side: on together burst by burst, or steady with hardly a gap between them.
fn pieces(a: &Candidate, b: &Candidate) -> Option<Verdict> {
    let gap = -overlap(a, b);
    let (least, most) = (a.width().min(b.width()), a.width().max(b.width()));
    if a.steady && b.steady {
        let flat = (a.density_db() - b.density_db()).abs() < 6.0;
        let resolved = !a.edges.bare && !b.edges.bare;
        return (gap < 0.1 * least && flat && resolved).then_some(Verdict::Second(Role::Piece));
    }
    if gap > 3.0 * most || a.steady || b.steady {
        return None;
    }
    let bursts = a.line.count.min(b.line.count);
    let alike = a.line.spans.alike(&b.line.spans);
    // One burst together may be chance; edges that agree to a few per cent hardly are.
    let needed = if bursts >= 3.0 { 0.75 } else { 0.9 };
    if alike < needed {
        return None;
    }
    // Less than 1 % of the power lies outside of the band, by definition (SM.328).
    Some(match a.level_db - b.level_db {
        more if more > OUTSIDE_DB => Verdict::Second(Role::View),
        more if more < -OUTSIDE_DB => Verdict::First(Role::View),
        _ => Verdict::Second(Role::Piece),
    })
}

/// Tones of a slow shift keying: each begins where the other ends.
fn tones(a: &Candidate, b: &Candidate) -> Option<Verdict> {
    // Deviations reach some tens of times the width of a tone (slow keying of sensors; common
    // practice, no source).
    let apart = -overlap(a, b) > 60.0 * a.width().max(b.width());
    if apart || a.steady || b.steady || (a.level_db - b.level_db).abs() > 6.0 {
        return None;
    }
    let tolerance = 3.0 * (a.line.u_time_s() + b.line.u_time_s())
        + 0.1 * a.line.median_s().min(b.line.median_s());
    let (n, hits) = a.line.spans.handovers(&b.line.spans, tolerance);
    let (m, back) = b.line.spans.handovers(&a.line.spans, tolerance);
    let turns = n.min(m) >= 4 && 10 * hits >= 6 * n && 10 * back >= 6 * m;
    turns.then_some(Verdict::Second(Role::Piece))
}

/// A signal that left one line by drifting and went on in the next.
fn drift(a: &Candidate, b: &Candidate) -> Option<Verdict> {
    let (first, then) = if a.line.first.0 <= b.line.first.0 { (a, b) } else { (b, a) };
    let apart = (first.line.recent_hz - then.line.best.first()?.centre_hz).abs();
    let least = a.width().min(b.width());
    let gap_s = (then.line.first.0 - first.line.last.0).abs();
    let length = |c: &Candidate| c.line.last.0 - c.line.first.0;
    let tolerance =
        (3.0 * (first.line.last.1 + then.line.first.1)).min(0.3 * length(first).min(length(then)));
    let alike =
        like_width(a.edges.bare, a.width(), a.edges.u_hz, b.edges.bare, b.width(), b.edges.u_hz);
    let follows = gap_s <= tolerance && apart <= 2.0 * least && alike.is_some();
    (follows && (a.level_db - b.level_db).abs() < 3.0).then_some(Verdict::Second(Role::Same))
}

/// Bands that end where the receiver's band did and go on in its next one.
fn cut_by_band(a: &Candidate, b: &Candidate) -> Option<Verdict> {
    let (low, high) = if a.centre_hz <= b.centre_hz { (a, b) } else { (b, a) };
    let cut =
        low.line.cut_high > 0.5 * low.line.pulses && high.line.cut_low > 0.5 * high.line.pulses;
    let meets = -overlap(a, b) <= 0.05 * a.width().min(b.width());
    let flat = (a.density_db() - b.density_db()).abs() < 6.0;
    (cut && meets && flat).then_some(Verdict::Second(Role::Piece))
}

/// Weaker lines at the same distance either side of a stronger one, on when it is: its
/// sidebands or subcarriers.
fn sidebands(all: &mut Vec<Candidate>, parents: &mut [u32], looks: &[Look]) {
    let mut c = 0;
    while c < all.len() {
        let carrier = &all[c];
        let weaker: Vec<usize> =
            (0..all.len()).filter(|k| may_be_sideband(carrier, &all[*k])).collect();
        let pair = weaker.iter().enumerate().find_map(|(n, a)| {
            let other = weaker[n + 1..].iter().find(|b| mirrored(carrier, &all[*a], &all[**b]));
            other.map(|b| (*a, *b))
        });
        let Some((low, high)) = pair else {
            c += 1;
            continue;
        };
        // The higher first: taking it out does not move the lower.
        for go in [high, low] {
            merge(all, parents, looks, c, go, Role::View);
            c = c.min(go);
        }
    }
}

/// Weaker than the carrier, near it, and on only when it is.
fn may_be_sideband(carrier: &Candidate, x: &Candidate) -> bool {
    let apart = (x.centre_hz - carrier.centre_hz).abs();
    // Stereo and data subcarriers of broadcast FM reach to 100 kHz (ITU-R BS.450).
    apart > 0.0
        && apart <= (10.0 * carrier.width()).max(100e3)
        && x.level_db < carrier.level_db - 3.0
        && x.line.spans.share_in(&carrier.line.spans) > 0.8
}

/// At equal distances either side of the carrier, of like level, on together.
fn mirrored(carrier: &Candidate, a: &Candidate, b: &Candidate) -> bool {
    let u = |x: &Candidate| x.line.centre_hz().1 + 0.05 * x.width();
    let uneven = (a.centre_hz + b.centre_hz - 2.0 * carrier.centre_hz).abs();
    uneven <= 2.0 * (u(a) + u(b) + 2.0 * u(carrier))
        && (a.level_db - b.level_db).abs() < 4.0
        && a.line.spans.alike(&b.line.spans) > 0.7
}

fn overlap(a: &Candidate, b: &Candidate) -> f64 {
    a.edges.high_hz.min(b.edges.high_hz) - a.edges.low_hz.max(b.edges.low_hz)
}
