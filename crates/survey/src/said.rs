//! The whole record in one piece, as plain types: what a report or a page is made from.

use crate::survey::{Survey, head_of};
use crate::things::{
    Authority, Brief, Capture, Chain, Condition, Floor, FoundItem, Head, Identity, Movement,
    Premises, Reading, Remark, Room, Stimulus,
};
use crate::{SurveyError, parts, record};
use ledger::KnownDevice;
use rusqlite::Connection;
use units::{Position, Utc};

/// Everything that people said, as it stood at one moment. Each list is in the order in which its
/// ids were given.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// Name, region, time zone, technician.
    pub head: Head,
    /// What the client said, where it was written down.
    pub brief: Option<Brief>,
    /// By what right one works; empty where none is recorded.
    pub authorities: Vec<Authority>,
    /// The place, where it was described.
    pub premises: Option<Premises>,
    /// Floors.
    pub floors: Vec<Floor>,
    /// Rooms.
    pub rooms: Vec<Room>,
    /// Positions.
    pub positions: Vec<Position>,
    /// Chains.
    pub chains: Vec<Chain>,
    /// Conditions that captures name.
    pub conditions: Vec<Condition>,
    /// Transmitters known before.
    pub known_devices: Vec<KnownDevice>,
    /// Things found.
    pub found_items: Vec<FoundItem>,
    /// Stated identities.
    pub identities: Vec<Identity>,
    /// Arrivals at positions.
    pub movements: Vec<Movement>,
    /// What was done to provoke.
    pub stimuli: Vec<Stimulus>,
    /// What was seen or done.
    pub remarks: Vec<Remark>,
    /// Readings noted by hand.
    pub readings: Vec<Reading>,
    /// Captures, as they came in.
    pub captures: Vec<Capture>,
    /// Where each capture was, from when to when; one that nobody can time is not in it.
    pub stays: Vec<Stay>,
}

/// A capture, or one part of it, at one position.
#[derive(Debug, Clone, PartialEq)]
pub struct Stay {
    /// Id of the capture in the ledger (`C1`, or `C1.2` for a part derived on its own).
    pub capture: String,
    /// Id of the position; `None` for one without an antenna, or that nobody placed.
    pub position: Option<String>,
    /// From when, clock corrected.
    pub from: Utc,
    /// Until when.
    pub until: Utc,
}

impl Survey {
    /// The whole record.
    ///
    /// # Errors
    /// If it cannot be read.
    pub fn record(&self) -> Result<Record, SurveyError> {
        self.read(record_of)
    }
}

fn record_of(db: &Connection) -> Result<Record, SurveyError> {
    let captures = record::all::<Capture>(db)?;
    let chains = record::all::<Chain>(db)?;
    let movements = parts::movements(db)?;
    let mut stays = Vec::new();
    for capture in &captures {
        let chain = chains.iter().find(|chain| chain.name == capture.chain);
        stays.extend(stays_of(capture, parts::clock_of(capture, chain), &movements));
    }
    Ok(Record {
        head: head_of(db)?,
        brief: record::all(db)?.into_iter().next(),
        authorities: record::all(db)?,
        premises: record::all(db)?.into_iter().next(),
        floors: record::all(db)?,
        rooms: record::all(db)?,
        positions: record::all(db)?,
        chains,
        conditions: record::all(db)?,
        known_devices: record::all(db)?,
        found_items: record::all(db)?,
        identities: record::all(db)?,
        movements,
        stimuli: record::all(db)?,
        remarks: record::all(db)?,
        readings: record::all(db)?,
        captures,
        stays,
    })
}

fn stays_of(capture: &Capture, clock_s: f64, movements: &[Movement]) -> Vec<Stay> {
    let Some((start, stop)) = parts::span_of(capture, clock_s) else { return Vec::new() };
    let stay = |capture: &str, position: Option<String>, from, until| Stay {
        capture: capture.to_owned(),
        position,
        from,
        until,
    };
    let parts = parts::parts_of(capture, clock_s, movements);
    if parts.iter().any(|part| part.range_s.is_some()) {
        let parts = parts.into_iter().filter_map(|part| {
            let (from, until) = part.range_s?;
            let (from, until) = (start.plus_seconds(from), start.plus_seconds(until));
            Some(stay(&part.id, part.position, from, until))
        });
        return parts.collect();
    }
    let visits = parts::visits_of(capture, clock_s, movements);
    if visits.is_empty() {
        return vec![stay(&capture.id, capture.position.clone(), start, stop)];
    }
    let visits = visits.into_iter();
    visits.map(|v| stay(&capture.id, Some(v.position), v.from, v.until)).collect()
}
