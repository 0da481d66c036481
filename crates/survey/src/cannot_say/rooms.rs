//! Of the rooms: how long each was listened to at most, with which gaps, and how it was then.

use super::Known;
use crate::words::{counted, length, listed};
use crate::{Covered, RoomState};

/// Rooms told one by one; the table has all.
const ROOMS_TOLD: usize = 12;

/// The longest listening, room by room.
pub(super) fn silence(of: &Known<'_>) -> String {
    if of.covered.iter().all(|c| !c.inside) {
        return "No room was listened to: this survey says nothing of any.".into();
    }
    let mut longest: Vec<(String, f64)> = Vec::new();
    let whole = of.covered.iter().filter(|c| c.inside && !c.in_turns);
    for covered in whole {
        match longest.iter_mut().find(|(place, _)| *place == covered.place) {
            Some((_, s)) => *s = s.max(covered.longest_s),
            None => longest.push((covered.place.clone(), covered.longest_s)),
        }
    }
    let said = "A device silent for longer than the longest listening was not covered";
    if of.covered.iter().all(|c| !c.inside || c.band_hz.is_none()) {
        return format!("{said}, and in no room is it stated which bands were listened to.");
    }
    if longest.is_empty() {
        return format!("{said}: no band of any room was listened to without a gap.");
    }
    let more = longest.len().saturating_sub(ROOMS_TOLD);
    let mut each: Vec<String> = longest
        .iter()
        .take(ROOMS_TOLD)
        .map(|(place, s)| format!("{place} {}", length(*s)))
        .collect();
    if more > 0 {
        each.push(format!("{} in the table", counted(more as u64, "more", "more")));
    }
    format!("{said}. The longest listening, in any band: {}.", each.join(", "))
}

pub(super) fn not_heard(of: &Known<'_>) -> Option<String> {
    let rooms = crate::rooms_not_heard(of.covered, of.record);
    (!rooms.is_empty()).then(|| {
        format!(
            "Nothing was measured in {}: this survey says nothing about a transmitter there that is \
             too weak to be received from another room.",
            listed(&rooms)
        )
    })
}

/// Rooms of which bands were listened to with gaps.
pub(super) fn turns(of: &Known<'_>) -> Vec<String> {
    let mut rooms: Vec<(&str, bool, bool)> = Vec::new();
    let known = |covered: &&Covered| covered.inside && covered.band_hz.is_some();
    for covered in of.covered.iter().filter(known) {
        let (whole, in_turns) = (!covered.in_turns, covered.in_turns);
        match rooms.iter_mut().find(|(room, ..)| *room == covered.place) {
            Some(room) => (room.1, room.2) = (room.1 | whole, room.2 | in_turns),
            None => rooms.push((&covered.place, whole, in_turns)),
        }
    }
    let which = |also_whole: bool| -> Vec<&str> {
        let rooms = rooms.iter().filter(|(_, whole, turns)| *turns && *whole == also_whole);
        rooms.map(|(room, ..)| *room).collect()
    };
    let gaps = "bands were looked at in turns, or through a log that shows only what was heard, and a \
                burst that fell into a gap was missed";
    let all = which(false);
    let some = which(true);
    let mut said = Vec::new();
    if !all.is_empty() {
        said.push(format!("No band was listened to without a gap in {}: {gaps}.", told(&all)));
    }
    if !some.is_empty() {
        said.push(format!(
            "Some bands were listened to only with gaps in {}: these {gaps}.",
            told(&some)
        ));
    }
    said
}

/// How a room was while it was measured, as far as that is stated.
#[derive(Default)]
struct Was {
    empty: bool,
    in_use: bool,
    not_stated: bool,
}

/// Whether the rooms were as they are when they are overheard.
pub(super) fn conditions(of: &Known<'_>) -> Vec<String> {
    let known = &of.record.conditions;
    let state = |name: Option<&String>| known.iter().find(|c| Some(&c.name) == name)?.state;
    let mut rooms: Vec<(&str, Was)> = Vec::new();
    for covered in of.covered.iter().filter(|covered| covered.inside) {
        let found = rooms.iter().position(|(room, _)| *room == covered.place);
        let at = found.unwrap_or_else(|| {
            rooms.push((&covered.place, Was::default()));
            rooms.len() - 1
        });
        let Some((_, was)) = rooms.get_mut(at) else { continue };
        for condition in &covered.conditions {
            match state(condition.name.as_ref()) {
                Some(RoomState::Empty) => was.empty = true,
                Some(_) => was.in_use = true,
                None => was.not_stated = true,
            }
        }
    }
    let which = |is: &dyn Fn(&Was) -> bool| -> Vec<&str> {
        rooms.iter().filter(|(_, was)| !was.in_use && is(was)).map(|(room, _)| *room).collect()
    };
    let silent =
        "a device that is switched on by voices, by a timer or from afar may have been silent";
    let mut said = Vec::new();
    let empty = which(&|was| !was.not_stated);
    if !empty.is_empty() {
        said.push(format!("Measured only while empty: {}. There {silent}.", told(&empty)));
    }
    let never = which(&|was| was.empty && was.not_stated);
    if !never.is_empty() {
        said.push(format!(
            "Measured while empty, and otherwise in a condition that is not stated: {}. Unless the room \
             was in use then, {silent}.",
            told(&never)
        ));
    }
    let not_stated = which(&|was| !was.empty);
    if !not_stated.is_empty() {
        said.push(format!(
            "Whether the room was in use while it was measured is not stated for {}. Where it was not, \
             {silent}.",
            told(&not_stated)
        ));
    }
    said
}

/// Rooms by name; beyond a dozen the rest are counted.
fn told(rooms: &[&str]) -> String {
    let mut names: Vec<String> =
        rooms.iter().take(ROOMS_TOLD).map(|room| (*room).to_owned()).collect();
    let more = rooms.len() - names.len();
    if more > 0 {
        names.push(counted(more as u64, "more", "more"));
    }
    listed(&names)
}
