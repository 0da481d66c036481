//! The record as one typed document, and the same as a page hands it back.

use super::parts::PARTS;
use crate::survey::{Survey, head_of};
use crate::things::{
    Authority, Brief, Chain, Condition, Floor, FoundItem, Head, Identity, Mapping, Movement,
    Photograph, Premises, Reading, Remark, Room, Statement, Stimulus,
};
use crate::{Difference, SurveyError, record};
use rusqlite::Connection;
use serde::Serialize;
use serde_json::{Map, Value};

/// What people said of the survey, part by part: what `describe` prints, with its version.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Record {
    /// Number of the journal entry that changed any of it last.
    pub version: u64,
    /// The survey itself.
    pub survey: Head,
    /// What the client said.
    pub brief: Option<Brief>,
    /// The right to work.
    pub authority: Vec<Authority>,
    /// The place.
    pub premises: Option<Premises>,
    /// Its floors.
    pub floors: Vec<Floor>,
    /// Their rooms.
    pub rooms: Vec<Room>,
    /// Where something is recorded or read.
    pub positions: Vec<units::Position>,
    /// What it is recorded with.
    pub chains: Vec<Chain>,
    /// How rooms were.
    pub conditions: Vec<Condition>,
    /// Transmitters known before.
    pub known_devices: Vec<ledger::KnownDevice>,
    /// What was found.
    pub found_items: Vec<FoundItem>,
    /// Photographs of positions and rooms.
    pub photographs: Vec<Photograph>,
    /// What the technician concludes.
    pub statement: Option<Statement>,
    /// Addresses that people state of rows.
    pub identities: Vec<Identity>,
    /// Saved column mappings.
    pub mappings: Vec<Mapping>,
    /// Arrivals at positions.
    pub movements: Vec<Movement>,
    /// What was done to provoke.
    pub stimuli: Vec<Stimulus>,
    /// What was seen or done.
    pub remarks: Vec<Remark>,
    /// What was read.
    pub readings: Vec<Reading>,
}

impl Survey {
    /// The record that people edit, as one document.
    ///
    /// # Errors
    /// If it cannot be read.
    pub fn record(&self) -> Result<Record, SurveyError> {
        self.read(|db| {
            let mut version = 0;
            for part in PARTS {
                version = version.max(record::last_touched(db, part.kind)?);
            }
            Ok(Record {
                version,
                survey: head_of(db)?,
                brief: record::all(db)?.pop(),
                authority: record::all(db)?,
                premises: record::all(db)?.pop(),
                floors: record::all(db)?,
                rooms: record::all(db)?,
                positions: record::all(db)?,
                chains: record::all(db)?,
                conditions: record::all(db)?,
                known_devices: record::all(db)?,
                found_items: record::all(db)?,
                photographs: record::all(db)?,
                statement: record::all(db)?.pop(),
                identities: record::all(db)?,
                mappings: record::all(db)?,
                movements: record::all(db)?,
                stimuli: record::all(db)?,
                remarks: record::all(db)?,
                readings: record::all(db)?,
            })
        })
    }

    /// Makes the survey say what some parts of a record say, as [`Survey::apply`] does; with `seen`,
    /// only if none of these parts changed since the record had that version.
    ///
    /// # Errors
    /// As [`Survey::apply`], and if a part changed.
    pub fn apply_parts(
        &self,
        parts: &Map<String, Value>,
        seen: Option<u64>,
        by: &str,
    ) -> Result<Vec<Difference>, SurveyError> {
        super::text::check_keys(parts)?;
        self.write(by, |pen| {
            if let Some(seen) = seen {
                check_unchanged(pen.db, parts, seen)?;
            }
            self.apply_document(pen, parts)
        })
    }
}

fn check_unchanged(
    db: &Connection,
    parts: &Map<String, Value>,
    seen: u64,
) -> Result<(), SurveyError> {
    for part in PARTS.iter().filter(|part| parts.contains_key(part.key)) {
        if record::last_touched(db, part.kind)? > seen {
            return Err(SurveyError::RecordChanged { seen, part: part.key });
        }
    }
    Ok(())
}
