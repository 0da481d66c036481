//! Positions, chains and conditions that are made by being named for the first time, and the
//! rules that every named thing obeys.

use crate::SurveyError;
use crate::pen::Pen;
use crate::record;
use crate::survey::Survey;
use crate::things::{
    Capture, Chain, Condition, Movement, Photograph, Reading, Remark, RoomState, Stimulus,
};
use rusqlite::Connection;
use std::collections::BTreeMap;
use units::{Position, Reason, Zone};

impl Survey {
    /// The positions of the record, in the order in which they were made.
    ///
    /// # Errors
    /// If the record cannot be read.
    pub fn positions(&self) -> Result<Vec<Position>, SurveyError> {
        self.read(record::all)
    }
}

/// The chain of captures whose chain nobody states.
pub(crate) const UNSTATED: &str = "unstated";

/// The id of the position of this name (or id); made if there is none yet.
pub(crate) fn position(
    pen: &Pen<'_>,
    name: &str,
    zone: Option<Zone>,
    otherwise: Zone,
) -> Result<String, SurveyError> {
    let name = name.trim();
    if name.is_empty() {
        return Err(SurveyError::refused(
            "a position needs a name",
            "Say where, like --at boardroom.",
        ));
    }
    if let Some(known) = find_position(pen.db, name)? {
        return match zone {
            Some(zone) if zone != known.zone => Err(SurveyError::refused(
                format!(
                    "position '{}' ({}) is {} in the record, not {}",
                    known.name,
                    known.id,
                    word(&known.zone),
                    word(&zone)
                ),
                "Leave --zone out, or correct the position with `describe --apply`.",
            )),
            _ => Ok(known.id),
        };
    }
    let position = Position {
        id: record::next_id(pen.db, "position", "P")?,
        name: name.to_owned(),
        zone: zone.unwrap_or(otherwise),
        room: None,
        floor: None,
        x_m: None,
        y_m: None,
        height_m: None,
    };
    pen.append("position", &[record::put(pen.db, &position)?])?;
    Ok(position.id)
}

/// The positions that a recording's rows name, by those names; made where they are new.
pub(crate) fn named(
    pen: &Pen<'_>,
    names: &[String],
    otherwise: Zone,
) -> Result<BTreeMap<String, String>, SurveyError> {
    names.iter().map(|name| Ok((name.clone(), position(pen, name, None, otherwise)?))).collect()
}

/// The position of this name, whatever its case, or of this id.
pub(crate) fn find_position(db: &Connection, name: &str) -> Result<Option<Position>, SurveyError> {
    let positions = record::all::<Position>(db)?;
    let wanted = name.to_lowercase();
    Ok(positions
        .iter()
        .find(|p| p.name.to_lowercase() == wanted)
        .or_else(|| positions.iter().find(|p| p.id == name))
        .cloned())
}

/// Makes sure that there is a chain of this name; says the warning where it is nobody's.
pub(crate) fn chain(
    pen: &Pen<'_>,
    name: Option<&str>,
    warnings: &mut Vec<Reason>,
) -> Result<String, SurveyError> {
    let name = name.map(str::trim).filter(|name| !name.is_empty());
    if name.is_none() {
        warnings.push(Reason::new(
            "chain_unstated",
            "Nobody says which receiver and antenna this is: it is put with all captures of which \
             nobody says it, as one chain of constant gain. State it with --chain NAME and --gain DB.",
        ));
    }
    let name = name.unwrap_or(UNSTATED);
    if !record::all::<Chain>(pen.db)?.iter().any(|chain| chain.name == name) {
        let id = record::next_id(pen.db, "chain", "K")?;
        let chain = Chain { id, name: name.to_owned(), ..Chain::default() };
        pen.append("chain", &[record::put(pen.db, &chain)?])?;
    }
    Ok(name.to_owned())
}

/// Makes sure that there is a condition of this name.
pub(crate) fn condition(pen: &Pen<'_>, name: &str) -> Result<String, SurveyError> {
    let name = name.trim();
    if !record::all::<Condition>(pen.db)?.iter().any(|condition| condition.name == name) {
        let state = match name.to_lowercase().replace(' ', "-").as_str() {
            "empty" => Some(RoomState::Empty),
            "in-use" => Some(RoomState::InUse),
            "meeting" => Some(RoomState::Meeting),
            "known-sound" => Some(RoomState::KnownSound),
            _ => None,
        };
        let id = record::next_id(pen.db, "condition", "O")?;
        let condition = Condition { id, name: name.to_owned(), state, ..Condition::default() };
        pen.append("condition", &[record::put(pen.db, &condition)?])?;
    }
    Ok(name.to_owned())
}

/// Checks that names are unique, and that what is referred to is there.
pub(crate) fn check(db: &Connection) -> Result<(), SurveyError> {
    let positions = record::all::<Position>(db)?;
    let mut names: Vec<_> = positions.iter().map(|p| p.name.trim().to_lowercase()).collect();
    unique("position", &mut names)?;
    let chains = record::all::<Chain>(db)?;
    let mut names: Vec<_> = chains.iter().map(|chain| chain.name.clone()).collect();
    unique("chain", &mut names)?;
    let has = |id: &str| positions.iter().any(|position| position.id == id);
    let need = |user: &str, id: Option<&str>| match id {
        Some(id) if !has(id) => Err(SurveyError::refused(
            format!("{user} is at position {id}, which would not be in the record"),
            "Keep that position, or correct what refers to it first.",
        )),
        _ => Ok(()),
    };
    for capture in record::all::<Capture>(db)? {
        for position in capture.position.iter().chain(capture.places.values()) {
            need(&format!("capture {}", capture.id), Some(position))?;
        }
        if !chains.iter().any(|chain| chain.name == capture.chain) {
            return Err(SurveyError::refused(
                format!(
                    "capture {} is of chain '{}', which would not be in the record",
                    capture.id, capture.chain
                ),
                "Keep that chain's name, or amend the capture first.",
            ));
        }
    }
    for thing in record::all::<Movement>(db)? {
        need(&format!("movement {}", thing.id), Some(&thing.position))?;
    }
    for thing in record::all::<Reading>(db)? {
        need(&format!("reading {}", thing.id), Some(&thing.position))?;
    }
    for thing in record::all::<Photograph>(db)? {
        need(&format!("photograph {}", thing.id), thing.position.as_deref())?;
    }
    for thing in record::all::<Stimulus>(db)? {
        need(&format!("stimulus {}", thing.id), thing.position.as_deref())?;
    }
    for thing in record::all::<Remark>(db)? {
        need(&format!("remark {}", thing.id), thing.position.as_deref())?;
    }
    Ok(())
}

/// Checks that the ledger has, or had, a row of this id.
pub(crate) fn check_row(db: &Connection, id: &str) -> Result<(), SurveyError> {
    match record::value(db, "anchor", id)? {
        Some(_) => Ok(()),
        None => Err(SurveyError::refused(
            format!("the ledger has no row {id}"),
            "`emissions` lists them.",
        )),
    }
}

fn unique(what: &str, names: &mut [String]) -> Result<(), SurveyError> {
    names.sort();
    match names.windows(2).find(|pair| pair[0] == pair[1]) {
        Some(pair) => Err(SurveyError::refused(
            format!("there would be two {what}s named '{}'", pair[0]),
            "Give one of them another name.",
        )),
        None => match names.first() {
            Some(name) if name.is_empty() => Err(SurveyError::refused(
                format!("a {what} has no name"),
                "Give it one: captures refer to it by name.",
            )),
            _ => Ok(()),
        },
    }
}

/// A value of a closed list, as it is written.
pub(crate) fn word<T: serde::Serialize>(value: &T) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(word)) => word,
        _ => String::new(),
    }
}
