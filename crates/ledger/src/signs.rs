//! What speaks for looking at a row, and what against: each sign a reason in words with its
//! numbers and a weight. Weights add like the logarithms of odds; all are judgements (our choice,
//! no source) except that of the origin, which is the change that the levels made to its odds.

use crate::atom::Group;
use crate::compare::Unit;
use crate::contract::LedgerRow;
use crate::input::Input;
use crate::origin::{Excess, Facts, rounded};
use almanac::{Almanac, Applies, Direction, Region};
use detect::{BandwidthIs, Shape};
use units::{Band, Reason};

/// A reason with its weight: above 0 raises the row, below 0 lowers it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sign {
    pub(crate) weight: f64,
    pub(crate) reason: Reason,
}

/// A row with all that its signs are read from.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Look<'a> {
    pub(crate) input: &'a Input,
    pub(crate) row: &'a LedgerRow,
    pub(crate) facts: &'a Facts,
    pub(crate) region: Region,
    /// Only event logs and readings know it.
    pub(crate) coarse: bool,
}

impl<'a> Look<'a> {
    pub(crate) fn new(
        input: &'a Input,
        row: &'a LedgerRow,
        group: &'a Group,
        facts: &'a Facts,
    ) -> Look<'a> {
        // The survey refuses other regions; a ledger of none is one of the whole world.
        let region = input.survey.region.parse().unwrap_or(Region::World);
        Look { input, row, facts, region, coarse: group.coarse() }
    }

    pub(crate) fn band(&self) -> Band {
        Band::new(self.row.emission.low_hz, self.row.emission.high_hz)
    }

    /// The technician's name of a position.
    pub(crate) fn name(&self, position: &str) -> String {
        let known = self.input.positions.iter().find(|p| p.id == position);
        known.map_or(position, |p| &p.name).to_owned()
    }
}

/// Everything that speaks for or against a row, in no order.
pub(crate) fn signs(look: &Look<'_>) -> Vec<Sign> {
    let mut signs: Vec<Sign> = [
        receiver_line(look),
        where_from(look),
        reporter(look),
        mobile(look),
        no_service(look),
        never_stops(look),
        weak(look),
        crate::circumstance::with_the_room(look),
        crate::circumstance::ordinary(look),
        crate::threat::dedicated(look),
    ]
    .into_iter()
    .flatten()
    .collect();
    signs.extend(crate::known::matches(look));
    signs.extend(origin_notes(look));
    signs
}

fn receiver_line(look: &Look<'_>) -> Option<Sign> {
    let capture = look.row.receiver_line.as_deref()?;
    let text = format!("the receiver shows it with no antenna connected ({capture})");
    let reason = Reason::new("receiver_own", text).with("capture", capture);
    Some(Sign { weight: -9.0, reason })
}

/// Levels move the odds of 'inside' by at most this much either way, nepers.
const ORIGIN_MOST: f64 = 4.0;

/// Where the levels say it comes from: how much they changed the odds of 'inside'.
fn where_from(look: &Look<'_>) -> Option<Sign> {
    let inside = look.facts.inside.as_ref()?;
    let p = inside.p_inside;
    let logit = |p: f64| (p / (1.0 - p)).ln();
    let weight = (logit(p) - logit(inside.prior)).clamp(-ORIGIN_MOST, ORIGIN_MOST);
    let reason = comparison(look).unwrap_or_else(|| {
        Reason::new("p_inside", format!("inside with probability {p:.2}")).with("p_inside", p)
    });
    Some(Sign { weight, reason })
}

/// 'Heard only inside', '22 dB above the yard in the board room', or what there is of it.
fn comparison(look: &Look<'_>) -> Option<Reason> {
    let facts = look.facts;
    if facts.heard_inside.is_empty() && !facts.heard_beyond.is_empty() {
        let places = names(look, &facts.heard_beyond);
        let text = format!("not heard inside, only in {places}");
        return Some(Reason::new("not_inside", text).with("places", places));
    }
    let excess = facts.excess.as_ref()?;
    let (room, reference) = (look.name(&excess.room), look.name(&excess.reference));
    let (size, u) = amounts(excess);
    if excess.at_least && facts.heard_beyond.is_empty() {
        let rooms = facts.heard_inside.len();
        let silent = names(look, &facts.silent_beyond);
        let margin = match (excess.unit, excess.value > 0.0) {
            (Unit::Steps(_), _) | (_, false) => String::new(),
            _ => format!(", {size} above what would have been heard there"),
        };
        let text = format!(
            "heard only inside ({rooms} {}, loudest in {room}), not in {silent}{margin}",
            if rooms == 1 { "place" } else { "places" }
        );
        let reason = Reason::new("only_inside", text)
            .with("rooms", rooms as f64)
            .with("room", room)
            .with("references", silent);
        return Some(with_excess(reason, excess));
    }
    let (code, text) = if excess.value >= 0.0 {
        ("stronger_inside", format!("{size} above {reference} in {room}{u}"))
    } else {
        ("stronger_outside", format!("{size} weaker in {room} than in {reference}{u}"))
    };
    let reason = Reason::new(code, text).with("room", room).with("reference", reference);
    Some(with_excess(reason, excess))
}

fn amounts(excess: &Excess) -> (String, String) {
    match excess.unit {
        Unit::Steps(of) => (format!("{:.0} steps of {of}", excess.value.abs()), String::new()),
        _ => (
            format!("{:.0} dB", excess.value.abs()),
            format!(
                " (u {:.1} dB{})",
                excess.u,
                if excess.like_hours { "" } else { ", other hours" }
            ),
        ),
    }
}

fn with_excess(reason: Reason, excess: &Excess) -> Reason {
    match excess.unit {
        Unit::Steps(of) => reason.with("excess_steps", excess.value).with("of", f64::from(of)),
        _ => reason
            .with("excess_db", rounded(excess.value, 1e2))
            .with("excess_u_db", rounded(excess.u, 1e2)),
    }
}

fn names(look: &Look<'_>, positions: &[String]) -> String {
    let names: Vec<String> = positions.iter().map(|p| look.name(p)).collect();
    names.join(", ")
}

/// What the origin rests on: last in the list, no weight of its own.
fn origin_notes(look: &Look<'_>) -> Vec<Sign> {
    let Some(inside) = &look.facts.inside else { return Vec::new() };
    let (p, low, high) =
        (rounded(inside.p_inside, 1e2), rounded(inside.low, 1e2), rounded(inside.high, 1e2));
    let text = format!("inside with probability {p:.2} ({low:.2} to {high:.2} by the prior)");
    let p_inside = Reason::new("p_inside", text)
        .with("p_inside", p)
        .with("low", low)
        .with("high", high)
        .with("p_adjacent", rounded(inside.p_adjacent, 1e2));
    let all = std::iter::once(p_inside).chain(inside.reasons.iter().cloned());
    all.map(|reason| Sign { weight: 0.0, reason }).collect()
}

/// So many bursts make a period worth telling.
const REPORTS: u64 = 4;
/// Shorter periods are frames of a protocol, seconds.
const REPORTER_S: f64 = 5.0;

fn reporter(look: &Look<'_>) -> Option<Sign> {
    let bursts = &look.row.emission.bursts;
    let period_s = bursts.period_s.filter(|p| *p >= REPORTER_S && bursts.count >= REPORTS)?;
    let u_s = look.row.emission.u.period_s;
    let plus_minus = u_s.map_or(String::new(), |u| format!(" (u {} s)", significant(u)));
    let digits = usize::from(u_s.is_some_and(|u| u < 0.5));
    let text = format!("reports every {period_s:.digits$} s{plus_minus}, {} times", bursts.count);
    let mut reason = Reason::new("reports", text)
        .with("period_s", rounded(period_s, 1e3))
        .with("count", bursts.count as f64);
    if let Some(u) = u_s {
        reason = reason.with("u_period_s", rounded(u, 1e3));
    }
    Some(Sign { weight: 2.0, reason })
}

/// Two significant digits, at most three decimals.
fn significant(x: f64) -> String {
    match x {
        x if x >= 9.5 => format!("{x:.0}"),
        x if x >= 0.95 => format!("{x:.1}"),
        x if x >= 0.095 => format!("{x:.2}"),
        x => format!("{x:.3}"),
    }
}

/// Who sends in a mobile band. One that a region uses only by single licences or in a few of its
/// states (a supplementary uplink over the cordless band, say) tells nothing there.
fn mobile_direction(band: Band, region: Region) -> Option<Direction> {
    let almanac = Almanac::load();
    let uses = almanac.mobile_uses(band, region);
    let known = region == Region::World || uses.iter().any(|u| u.applies == Applies::Surely);
    almanac.mobile_direction(band, region).filter(|_| known)
}

/// A mobile uplink is a terminal here; a downlink is a mast, however strong.
fn mobile(look: &Look<'_>) -> Option<Sign> {
    match mobile_direction(look.band(), look.region)? {
        Direction::Down => {
            let reason = Reason::new("mobile_downlink", "mobile downlink: a mast sends here");
            Some(Sign { weight: -5.0, reason })
        }
        Direction::Up => {
            let (weight, reason) = match crate::known::telephone_on(look) {
                Some(known) => (
                    -0.5,
                    Reason::new(
                        "mobile_uplink",
                        format!("mobile uplink while a known telephone was on ({known})"),
                    )
                    .with("known", known),
                ),
                None => (
                    1.0,
                    Reason::new("mobile_uplink", "mobile uplink while no known telephone was on"),
                ),
            };
            Some(Sign { weight, reason })
        }
        Direction::Both | Direction::OneWay | Direction::Unclear => None,
    }
}

fn no_service(look: &Look<'_>) -> Option<Sign> {
    // The almanac begins at 9 kHz: below, it may be an offset, and nothing is known.
    let band = look.band();
    if look.coarse || band.low_hz < 9e3 || !look.row.emission.allocations.is_empty() {
        return None;
    }
    if !Almanac::load().allocations_at(band, look.region).is_empty() {
        return None;
    }
    let reason = Reason::new("no_service", "no service is allocated here");
    Some(Sign { weight: 1.0, reason })
}

/// Looked at for less, 'never stops' means nothing, seconds.
const NEVER_S: f64 = 1.0;

fn never_stops(look: &Look<'_>) -> Option<Sign> {
    let emission = &look.row.emission;
    let heard = look.row.receptions.iter().filter(|r| r.heard);
    let looked_s: f64 = heard.map(|r| r.looked_s).sum();
    let steady = emission.shape == Shape::Continuous && emission.bursts.on_fraction >= 0.97;
    if !steady || looked_s < NEVER_S {
        return None;
    }
    let carrier = emission.modulation.as_ref().is_some_and(|m| m.label == "cw")
        || (emission.bandwidth_is == BandwidthIs::UpperBound && !look.coarse);
    let what = if carrier { "a carrier that never stops" } else { "never stops" };
    let text = format!("{what} ({} s looked at)", significant(looked_s));
    let reason = Reason::new("never_stops", text).with("looked_s", rounded(looked_s, 1e3));
    Some(Sign { weight: 0.6, reason })
}

/// Under this SNR a row may be noise, dB.
const WEAK_DB: f64 = 8.0;

fn weak(look: &Look<'_>) -> Option<Sign> {
    let snr_db = look.row.emission.snr_db.filter(|snr| *snr < WEAK_DB)?;
    let text = format!("only {snr_db:.0} dB over the noise at its loudest");
    let reason = Reason::new("weak", text).with("snr_db", rounded(snr_db, 1e2));
    let weight = (0.3 * (snr_db - WEAK_DB)).max(-3.0) - 0.5;
    Some(Sign { weight, reason })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1880 to 1900 MHz is for cordless telephones in Europe (ERC/DEC/(94)03), 880 to 915 MHz for
    /// mobile terminals and 925 to 960 MHz for masts (3GPP TS 45.005, clause 2).
    #[test]
    fn a_cordless_telephone_is_no_mobile_terminal() {
        let at = |low: f64, high: f64| {
            mobile_direction(Band { low_hz: low, high_hz: high }, Region::Cept)
        };
        assert_eq!(at(1880e6, 1900e6), None);
        assert_eq!(at(880e6, 915e6), Some(Direction::Up));
        assert_eq!(at(935e6, 936e6), Some(Direction::Down));
    }
}
