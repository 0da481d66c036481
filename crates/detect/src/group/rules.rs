//! The rules that look at two lines: the same channel; a part or another view of a wider signal;
//! pieces of one band that are on together; tones that take turns; a carrier that drifts out of its
//! line; bands cut by the receiver's own edge.

use super::join::{Candidate, Verdict, like_width};
use super::line::Role;

/// Two views of one signal at two resolutions agree in level within this, dB.
const ALL_DB: f64 = 0.8;
/// What lies further than this under the rest is alone no part of its 99 % band, dB (ITU-R SM.328).
pub(super) const OUTSIDE_DB: f64 = 20.0;

/// Gaps between pieces of one emission, in widths of the wider: up to the first wherever they are
/// on together, up to the second if burst by burst (tones of keying far apart).
const NEAR: f64 = 3.0;
const FAR: f64 = 10.0;

/// Like centre and width; two all the same where both are plain and their levels clearly differ.
pub(super) fn same_channel(a: &Candidate, b: &Candidate) -> Option<Verdict> {
    let (wa, wb) = (a.width(), b.width());
    like_width(a.edges.bare, wa, a.edges.u_hz, b.edges.bare, wb, b.edges.u_hz)?;
    let scatter = 3.0 * a.line.centre_scatter_hz().hypot(b.line.centre_scatter_hz());
    // Lines that joined scatter more: lest a row of channels join one after the other.
    let bare = a.edges.bare && b.edges.bare;
    let scatter = if bare { scatter } else { scatter.min(0.5 * wa.max(wb)) };
    if (a.centre_hz - b.centre_hz).abs() > 0.3 * wa.min(wb) + scatter {
        return None;
    }
    let plain = |c: &Candidate| c.line.count >= 5.0 && c.line.level_scatter_db() < 2.5;
    let two = plain(a) && plain(b) && (a.level_db - b.level_db).abs() > 10.0;
    (!two).then_some(Verdict::Second(Role::Same))
}

/// One inside the other's band: a part of it, or a view at another resolution.
pub(super) fn part_or_view(a: &Candidate, b: &Candidate) -> Option<Verdict> {
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
        // A modulation that pauses for a look of the receiver, say: on whenever the other is not.
        let in_turn = a.share + b.share >= super::row::STEADY;
        if load || level && (in_turn || middle && narrow.edges.bare) {
            return whole(wide.line.on_s >= 0.3 * narrow.line.on_s);
        }
    }
    None
}

/// Bands side by side: on together burst by burst, or steady with hardly a gap between them.
pub(super) fn pieces(a: &Candidate, b: &Candidate) -> Option<Verdict> {
    let gap = -overlap(a, b);
    let (least, most) = (a.width().min(b.width()), a.width().max(b.width()));
    if a.steady && b.steady {
        let flat = (a.density_db() - b.density_db()).abs() < 6.0;
        let resolved = !a.edges.bare && !b.edges.bare;
        return (gap < 0.1 * least && flat && resolved).then_some(Verdict::Second(Role::Piece));
    }
    if gap > FAR * most || a.steady || b.steady {
        return None;
    }
    let bursts = a.line.count.min(b.line.count);
    // What is on most of the time is so together: only what goes beyond that says anything.
    let both = a.share * b.share;
    let by_chance = both / (a.share + b.share - both);
    let alike = (a.line.spans.alike(&b.line.spans) - by_chance) / (1.0 - by_chance);
    // One burst together may be chance; edges that agree to a few per cent hardly are.
    let needed = match (bursts >= 3.0, gap > NEAR * most) {
        (true, false) => 0.65,
        (false, true) => return None,
        _ => 0.9,
    };
    if alike < needed {
        return None;
    }
    // Less than 1 % of the power lies outside of the band, by definition (SM.328).
    Some(match a.level_db - b.level_db {
        more if more > OUTSIDE_DB => Verdict::Second(Role::Sideband),
        more if more < -OUTSIDE_DB => Verdict::First(Role::Sideband),
        _ => Verdict::Second(Role::Piece),
    })
}

/// Tones of a slow shift keying: each begins where the other ends.
pub(super) fn tones(a: &Candidate, b: &Candidate) -> Option<Verdict> {
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
pub(super) fn drift(a: &Candidate, b: &Candidate) -> Option<Verdict> {
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
pub(super) fn cut_by_band(a: &Candidate, b: &Candidate) -> Option<Verdict> {
    let (low, high) = if a.centre_hz <= b.centre_hz { (a, b) } else { (b, a) };
    let cut =
        low.line.cut_high > 0.5 * low.line.pulses && high.line.cut_low > 0.5 * high.line.pulses;
    let meets = -overlap(a, b) <= 0.05 * a.width().min(b.width());
    let flat = (a.density_db() - b.density_db()).abs() < 6.0;
    (cut && meets && flat).then_some(Verdict::Second(Role::Piece))
}

/// Hertz that two bands share; below zero the gap between them.
pub(super) fn overlap(a: &Candidate, b: &Candidate) -> f64 {
    a.edges.high_hz.min(b.edges.high_hz) - a.edges.low_hz.max(b.edges.low_hz)
}
