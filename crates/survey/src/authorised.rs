//! What was done outside the authority: at other times, in other rooms.

use crate::covered::Covered;
use crate::describe::Record;
use crate::things::Authority;
use ledger::CaptureInfo;
use serde::Serialize;
use units::Utc;

/// A capture that lies, in part at least, in no authorised time.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct OutsideTime {
    /// The capture.
    pub capture: String,
    /// Its start.
    pub from: Utc,
    /// Its end.
    pub until: Utc,
}

/// The captures that count and lie, in part at least, in no authorised time. A bound that is not
/// stated is no bound; where nobody gave an authority, all do.
pub fn outside_time(authorities: &[Authority], captures: &[CaptureInfo]) -> Vec<OutsideTime> {
    let within = |from: Utc, until: Utc| {
        authorities.iter().any(|authority| {
            authority.from.is_none_or(|start| start <= from)
                && authority.to.is_none_or(|end| until <= end)
        })
    };
    captures
        .iter()
        .filter(|capture| capture.set_aside.is_none())
        .filter_map(|c| Some(OutsideTime { capture: c.id.clone(), from: c.start?, until: c.stop? }))
        .filter(|one| !within(one.from, one.until))
        .collect()
}

/// Places inside that were measured and that no authority names; none where one names no rooms.
pub fn outside_rooms(authorities: &[Authority], covered: &[Covered]) -> Vec<String> {
    if authorities.iter().any(|authority| authority.rooms.is_empty()) {
        return Vec::new();
    }
    let named = |room: &String| {
        let mut rooms = authorities.iter().flat_map(|authority| &authority.rooms);
        rooms.any(|other| other.trim().to_lowercase() == room.trim().to_lowercase())
    };
    rooms_heard(covered).into_iter().filter(|room| !named(room)).collect()
}

/// Names of the places inside that were listened to.
pub fn rooms_heard(covered: &[Covered]) -> Vec<String> {
    let mut rooms = Vec::new();
    for covered in covered.iter().filter(|covered| covered.inside) {
        if !rooms.contains(&covered.place) {
            rooms.push(covered.place.clone());
        }
    }
    rooms
}

/// Rooms of the record, and of the authority, in which nothing was measured.
pub fn rooms_not_heard(covered: &[Covered], record: &Record) -> Vec<String> {
    let heard = covered.iter().map(|covered| covered.place.trim().to_lowercase());
    let heard: Vec<String> = heard.collect();
    let named = record.rooms.iter().map(|room| &room.name);
    let named = named.chain(record.authority.iter().flat_map(|authority| &authority.rooms));
    let mut rooms: Vec<String> = Vec::new();
    for name in named {
        let known = |other: &String| other.trim().eq_ignore_ascii_case(name.trim());
        if !heard.contains(&name.trim().to_lowercase()) && !rooms.iter().any(known) {
            rooms.push(name.clone());
        }
    }
    rooms
}
