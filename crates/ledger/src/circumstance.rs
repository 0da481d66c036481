//! What the circumstances of the captures tell: on with the room, or like what everybody has.

use crate::signs::{Look, Sign};
use almanac::{Allocation, Almanac, Applies};
use units::{Band, Reason};

/// On only while a room was in use: silent elsewhere, or there while it was empty, though it would
/// have been heard.
pub(crate) fn with_the_room(look: &Look<'_>) -> Option<Sign> {
    let step = look.facts.in_step.as_ref()?;
    let place = look.name(&step.position);
    let silent = crate::timing::significant(step.silent_s);
    let text = match step.same_place {
        true => {
            format!("on only while {place} was in use: silent for {silent} s when it was empty")
        }
        false => format!(
            "on only while {place} was in use: silent in {} other captures for {silent} s",
            step.silent
        ),
    };
    let mut reason = Reason::new("with_the_room", text)
        .with("room", place)
        .with("captures", step.silent as f64)
        .with("odds_factor", crate::origin::rounded(step.ratio, 1e1))
        .with("silent_s", crate::origin::rounded(step.silent_s, 1e3));
    if let Some(db) = step.margin_db {
        reason = reason.with("margin_db", crate::origin::rounded(db, 1e1));
    }
    // The same place tells more than others.
    Some(Sign { weight: if step.same_place { 2.5 } else { 1.5 }, reason })
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
