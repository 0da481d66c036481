//! Transmitters that were known before: which row may be which of them.

use crate::KnownDevice;
use crate::signs::{Look, Sign};
use almanac::Almanac;
use units::Reason;

/// Every known device that a row may be, best first.
pub(crate) fn matches(look: &Look<'_>) -> Vec<Sign> {
    let mut signs: Vec<Sign> =
        look.input.known_devices.iter().filter_map(|device| matched(look, device)).collect();
    signs.sort_by(|a, b| a.weight.total_cmp(&b.weight));
    // One row is one device: the best match counts, the others are only named.
    signs.iter_mut().skip(1).for_each(|sign| sign.weight = 0.0);
    signs
}

fn matched(look: &Look<'_>, device: &KnownDevice) -> Option<Sign> {
    let what = name(device);
    if let (Some(own), Some(known)) = (&look.row.identity, &device.identity) {
        if !own.eq_ignore_ascii_case(known) {
            return None;
        }
        let text = format!("bears the identity of {what}");
        return Some(Sign { weight: -5.0, reason: known_reason(device, text) });
    }
    let on_channel = device.sends_at(look.band());
    if !on_channel || !was_on(look, device) || other_technology(look, device) {
        return None;
    }
    // A hidden transmitter may sit on the channel of a known device: less is taken off where it
    // is loudest somewhere else. That the known one is inside is no news: where it is loudest in
    // that room, what speaks for 'inside' speaks for the known one.
    let no_news = crate::levels::origin_weight(look).unwrap_or(0.0).max(0.0);
    let (weight, text) = match (place_of(look, device), look.facts.heard_inside.first()) {
        (Some(place), Some(loudest)) if same_room(look, &place, loudest) => {
            (-2.0 - no_news, format!("where {what} sends, and loudest there"))
        }
        (Some(_), Some(loudest)) => {
            (-1.0, format!("where {what} sends, but loudest in {}", look.name(loudest)))
        }
        _ => (-2.0, format!("where {what} sends")),
    };
    Some(Sign { weight, reason: known_reason(device, text) })
}

fn known_reason(device: &KnownDevice, text: String) -> Reason {
    Reason::new("known_device", text).with("device", device.id.as_str())
}

fn name(device: &KnownDevice) -> String {
    match device.owner.as_str() {
        "" => format!("the known {}", device.what),
        owner => format!("the known {} ({owner})", device.what),
    }
}

/// Whether the device may have been on while the row was heard; times that nobody stated allow it.
fn was_on(look: &Look<'_>, device: &KnownDevice) -> bool {
    let begun = match (look.row.last, device.on_from) {
        (Some(last), Some(from)) => last >= from,
        _ => true,
    };
    let not_over = match (look.row.first, device.on_until) {
        (Some(first), Some(until)) => first <= until,
        _ => true,
    };
    begun && not_over
}

/// Both say what they are, and differ in family.
fn other_technology(look: &Look<'_>, device: &KnownDevice) -> bool {
    let family = |id: &str| Almanac::load().technology(id).map(|t| t.family.clone());
    let row = look.row.emission.technology.as_ref().filter(|t| t.probability >= 0.8);
    match (row.and_then(|t| family(&t.label)), device.technology.as_deref().and_then(family)) {
        (Some(a), Some(b)) => a != b,
        _ => false,
    }
}

/// Id of the position at which a device stands, where its place names one (by id, name or room).
fn place_of(look: &Look<'_>, device: &KnownDevice) -> Option<String> {
    let place = device.place.as_deref()?;
    let known = look.input.positions.iter().find(|p| {
        p.id == place || p.name.eq_ignore_ascii_case(place) || p.room.as_deref() == Some(place)
    });
    known.map(|p| p.id.clone())
}

fn same_room(look: &Look<'_>, a: &str, b: &str) -> bool {
    let room = |id: &str| {
        let position = look.input.positions.iter().find(|p| p.id == id);
        position.map(|p| (p.room.clone().unwrap_or_else(|| p.name.clone()), p.floor.clone()))
    };
    a == b || (room(a).is_some() && room(a) == room(b))
}

/// A known telephone (or other mobile terminal) that was on while the row was heard.
pub(crate) fn telephone_on(look: &Look<'_>) -> Option<String> {
    let mut devices = look.input.known_devices.iter();
    devices.find(|d| is_telephone(d) && was_on(look, d) && in_its_band(look, d)).map(name)
}

fn in_its_band(look: &Look<'_>, device: &KnownDevice) -> bool {
    device.band.is_none_or(|band| band.contains(look.band().centre_hz()))
}

fn is_telephone(device: &KnownDevice) -> bool {
    let technology = device.technology.as_deref();
    if let Some(row) = technology.and_then(|id| Almanac::load().technology(id)) {
        return row.family == "mobile";
    }
    let what = device.what.to_lowercase();
    // Whole words: a microphone is none. A plural or a possessive is still one.
    let mut words = what
        .split(|c: char| !c.is_alphanumeric())
        .map(|word| word.strip_suffix('s').unwrap_or(word));
    words.any(|word| TELEPHONES.contains(&word)) && !what.contains("cordless")
}

/// Words for a mobile telephone.
const TELEPHONES: [&str; 5] = ["phone", "telephone", "smartphone", "cellphone", "handset"];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_telephone_is_named_by_a_whole_word() {
        let is =
            |what: &str| is_telephone(&KnownDevice { what: what.into(), ..Default::default() });
        let phones = ["phone", "Caretaker's telephone", "two mobile phones", "smartphone (work)"];
        assert!(phones.into_iter().all(is));
        // What each of these is called ends or begins like one (any dictionary).
        let others = [
            "wireless microphone",
            "headphones",
            "megaphone",
            "intercom speakerphone",
            "saxophone pickup",
            "cordless phone",
            "phonebook reader",
        ];
        for what in others {
            assert!(!is(what), "{what}");
        }
    }
}
