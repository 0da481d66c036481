//! What the circumstances of the captures tell: on with the room, or like what everybody has.

use crate::contract::Reception;
use crate::signs::{Look, Sign};
use almanac::{Allocation, Almanac, Applies};
use units::{Band, Reason, Zone};

/// How a room was, of what people write: the words that the program offers, in any sentence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Condition {
    Empty,
    Used,
}

fn condition(words: &str) -> Option<Condition> {
    let words = words.to_lowercase();
    if words.contains("empty") {
        return Some(Condition::Empty);
    }
    let used = ["in use", "meeting", "known sound"].iter().any(|w| words.contains(w));
    used.then_some(Condition::Used)
}

/// How far a level must lie over the limit of an empty room for its silence there to count, dB.
const AUDIBLE_DB: f64 = 6.0;
/// One that never stopped while the room was in use is known to be silent after so long, seconds;
const SILENT_S: f64 = 0.1;
/// one that came and went, when so many of its bursts would have come (bursts come in groups, and
/// a stepping receiver may miss all of a periodic one: our choice, no source).
const BURSTS_MISSED: f64 = 10.0;

/// On only while the room was in use: heard then, and at the same place not heard when it was
/// empty, though it would have been.
pub(crate) fn with_the_room(look: &Look<'_>) -> Option<Sign> {
    let conditions: Vec<(&Reception, Condition)> = (look.row.receptions.iter())
        .filter(|r| inside(look, r))
        .filter_map(|r| {
            let capture = look.input.captures.iter().find(|c| c.id == r.capture)?;
            Some((r, condition(capture.condition.as_deref()?)?))
        })
        .collect();
    if conditions.iter().any(|(r, c)| *c == Condition::Empty && r.heard) {
        return None;
    }
    let used: Vec<&Reception> = (conditions.iter())
        .filter(|(r, c)| *c == Condition::Used && r.heard)
        .map(|(r, _)| *r)
        .collect();
    let silent: Vec<&Reception> = (conditions.iter())
        .filter(|(r, c)| *c == Condition::Empty && !r.heard)
        .map(|(r, _)| *r)
        .filter(|quiet| used.iter().any(|loud| would_hear(loud, quiet)))
        .collect();
    let silent_s: f64 = silent.iter().map(|r| r.looked_s).sum();
    let bursts = &look.row.emission.bursts;
    let heard_s: f64 = look.row.receptions.iter().filter(|r| r.heard).map(|r| r.looked_s).sum();
    let steady = bursts.on_fraction >= 0.9;
    let missed = if heard_s > 0.0 { bursts.count as f64 / heard_s * silent_s } else { 0.0 };
    if used.is_empty() || silent_s < SILENT_S || !(steady || missed >= BURSTS_MISSED) {
        return None;
    }
    let place = used[0].position.as_deref().map_or(String::new(), |p| look.name(p));
    let silent = crate::timing::significant(silent_s);
    let text = format!("on only while {place} was in use: silent for {silent} s when it was empty");
    let reason = Reason::new("with_the_room", text)
        .with("room", place)
        .with("silent_s", crate::origin::rounded(silent_s, 1e3));
    Some(Sign { weight: 2.5, reason })
}

fn inside(look: &Look<'_>, reception: &Reception) -> bool {
    let at = |id: &String| look.input.positions.iter().find(|p| p.id == *id);
    let position = reception.position.as_ref().and_then(at);
    position.is_some_and(|p| matches!(p.zone, Zone::Inside | Zone::Moving))
}

/// Whether the empty room would have heard it: same place, and its limit well under the level. A
/// scale of steps has no limit: there the same place must do.
fn would_hear(loud: &Reception, quiet: &Reception) -> bool {
    let margin = match (loud.level_dbfs, quiet.limit_dbfs, loud.level_dbm, quiet.limit_dbm) {
        (Some(level), Some(limit), _, _) => Some(level.0 - limit.0),
        (_, _, Some(level), Some(limit)) => Some(level.0 - limit.0),
        _ => None,
    };
    let audible = match margin {
        Some(db) => db >= AUDIBLE_DB,
        None => loud.strength.is_some_and(|s| s.value > 1.0),
    };
    loud.position == quiet.position && audible
}

/// Channel plans of what nearly every house has, with their names in words.
const ORDINARY: [(&str, &str); 5] = [
    ("wifi_24", "wireless LAN at 2.4 GHz"),
    ("wifi_5", "wireless LAN at 5 GHz"),
    ("wifi_6", "wireless LAN at 6 GHz"),
    ("dect", "cordless telephones (DECT)"),
    ("dab", "digital radio (DAB)"),
];

/// The name of such a plan.
fn in_words(plan: &str) -> &str {
    ORDINARY.iter().find(|(own, _)| plan.starts_with(own)).map_or(plan, |(_, words)| words)
}

/// It lies in a band that only such things use, or sits on a channel of theirs and is as wide.
pub(crate) fn ordinary(look: &Look<'_>) -> Option<Sign> {
    if look.coarse {
        return ordinary_channels(look);
    }
    ordinary_band(look).or_else(|| ordinary_channel(look))
}

/// Part of a log's band that their channels fill, from which it is theirs.
const FILLED: f64 = 0.8;

/// All that is known is a band, and that is full of their channels.
fn ordinary_channels(look: &Look<'_>) -> Option<Sign> {
    let band = look.band();
    let matches = Almanac::load().channels_at(band.centre_hz(), 0.5 * band.width_hz(), look.region);
    let theirs = |plan: &str| {
        let own = matches.iter().filter(|m| m.plan == plan && m.applies == Applies::Surely);
        let edges = own.map(|m| {
            let half_hz = 0.5 * m.width_hz.unwrap_or(0.0);
            Band { low_hz: m.centre_hz - half_hz, high_hz: m.centre_hz + half_hz }
        });
        let all = edges.reduce(|a, b| Band {
            low_hz: a.low_hz.min(b.low_hz),
            high_hz: a.high_hz.max(b.high_hz),
        })?;
        Some(all.overlap(&band)?.width_hz() / band.width_hz().max(1.0))
    };
    let ordinary = |plan: &&str| ORDINARY.iter().any(|(own, _)| plan.starts_with(own));
    let plan = matches
        .iter()
        .map(|m| m.plan)
        .filter(ordinary)
        .find(|plan| theirs(plan).is_some_and(|part| part >= FILLED))?;
    let text = format!("in a band of what everybody has: {}", in_words(plan));
    Some(Sign { weight: -1.2, reason: Reason::new("ordinary_band", text).with("plan", plan) })
}

fn ordinary_channel(look: &Look<'_>) -> Option<Sign> {
    let emission = &look.row.emission;
    let width_hz = emission.bandwidth_hz?;
    let tolerance_hz = 0.1 * width_hz + 3.0 * emission.u.centre_hz.unwrap_or(0.0);
    let fits = |width: Option<f64>| {
        // Occupied width against channel width: an OFDM channel holds 0.8 to 0.95 of itself.
        width.is_some_and(|w| (0.55..=1.15).contains(&(width_hz / w)))
    };
    let matches = Almanac::load().channels_at(emission.centre_hz, tolerance_hz, look.region);
    let channel = matches.iter().find(|m| {
        m.applies == Applies::Surely
            && fits(m.width_hz)
            && ORDINARY.iter().any(|(plan, _)| m.plan.starts_with(plan))
    })?;
    let text =
        format!("on channel {} of {}, as wide as that", channel.channel, in_words(channel.plan));
    let reason = Reason::new("ordinary_channel", text)
        .with("plan", channel.plan)
        .with("channel", channel.channel.as_str());
    Some(Sign { weight: -0.8, reason })
}

/// Families of what nearly every house has.
const ORDINARY_FAMILIES: [&str; 3] = ["wlan", "bluetooth", "cordless"];

/// Nothing lawful but what everybody has sends in its band.
fn ordinary_band(look: &Look<'_>) -> Option<Sign> {
    let (almanac, band) = (Almanac::load(), look.band());
    let rows: Vec<&Allocation> = (almanac.allocations_at(band, look.region).into_iter())
        .filter(|row| row.applies(look.region) == Some(Applies::Surely))
        .collect();
    let family = |id: &String| almanac.technology(id).map(|t| t.family.as_str());
    let ordinary = |row: &&Allocation| {
        let mut families = row.technologies.iter().filter_map(family).peekable();
        families.peek().is_some() && families.all(|f| ORDINARY_FAMILIES.contains(&f))
    };
    let row = rows.first().filter(|_| rows.iter().all(ordinary))?;
    let reason =
        Reason::new("ordinary_band", format!("in a band of what everybody has: {}", row.use_))
            .with("use", row.use_.as_str());
    Some(Sign { weight: -1.2, reason })
}
