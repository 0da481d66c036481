//! What the circumstances of the captures tell: on with the room, or like what everybody has.

use crate::contract::Reception;
use crate::signs::{Look, Sign};
use almanac::{Almanac, Applies};
use units::{Reason, Zone};

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
/// Silence for less says nothing, seconds.
const SILENT_S: f64 = 1.0;

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
    if used.is_empty() || silent_s < SILENT_S {
        return None;
    }
    let place = used[0].position.as_deref().map_or(String::new(), |p| look.name(p));
    let text =
        format!("on only while {place} was in use: silent for {silent_s:.0} s when it was empty");
    let reason = Reason::new("with_the_room", text)
        .with("room", place)
        .with("silent_s", crate::origin::rounded(silent_s, 1e3));
    Some(Sign { weight: 2.0, reason })
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

/// Channel plans of what nearly every house has.
const ORDINARY: [&str; 5] = ["wifi_24", "wifi_5", "wifi_6", "dect", "dab"];

/// It sits on a channel of what everybody has, and is as wide as that is.
pub(crate) fn ordinary(look: &Look<'_>) -> Option<Sign> {
    let emission = &look.row.emission;
    let Some(width_hz) = emission.bandwidth_hz else { return ordinary_band(look) };
    let tolerance_hz = 0.1 * width_hz + 3.0 * emission.u.centre_hz.unwrap_or(0.0);
    let fits = |width: Option<f64>| {
        // Occupied width against channel width: an OFDM channel holds 0.8 to 0.95 of itself.
        width.is_some_and(|w| (0.55..=1.15).contains(&(width_hz / w)))
    };
    let matches = Almanac::load().channels_at(emission.centre_hz, tolerance_hz, look.region);
    let channel = matches.iter().find(|m| {
        m.applies == Applies::Surely
            && fits(m.width_hz)
            && ORDINARY.iter().any(|plan| m.plan.starts_with(plan))
    })?;
    let text = format!("on channel {} of {}, as wide as that", channel.channel, channel.plan);
    let reason = Reason::new("ordinary_channel", text)
        .with("plan", channel.plan)
        .with("channel", channel.channel.as_str());
    Some(Sign { weight: -0.8, reason })
}

/// Families of what nearly every house has.
const ORDINARY_FAMILIES: [&str; 3] = ["wlan", "bluetooth", "cordless"];

/// All that is known is a band, and that is one of what everybody has.
fn ordinary_band(look: &Look<'_>) -> Option<Sign> {
    let (almanac, band) = (Almanac::load(), look.band());
    let mut rows = almanac.allocations_at(band, look.region).into_iter().filter(|row| {
        let holds = row.band.low_hz <= band.low_hz && band.high_hz <= row.band.high_hz;
        holds && row.applies(look.region) == Some(Applies::Surely)
    });
    let family = |id: &String| almanac.technology(id).map(|t| t.family.as_str());
    let row = rows.find(|row| {
        let mut families = row.technologies.iter().filter_map(family).peekable();
        families.peek().is_some() && families.all(|f| ORDINARY_FAMILIES.contains(&f))
    })?;
    let reason =
        Reason::new("ordinary_band", format!("in a band of what everybody has: {}", row.use_))
            .with("use", row.use_.as_str());
    Some(Sign { weight: -0.8, reason })
}
