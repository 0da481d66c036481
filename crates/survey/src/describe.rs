//! The record as TOML, for people to read and to edit; and making the survey say what an edited
//! text says, each difference one entry of the journal.

use crate::canonical::text_of;
use crate::journal::Change;
use crate::survey::{Pen, Survey};
use crate::things::{self, Thing};
use crate::{SurveyError, jobs, places, record};
use rusqlite::Connection;
use serde_json::{Map, Value};
use std::collections::BTreeMap;
use std::fmt;

/// One thing that the survey says otherwise than a text.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// Kind of thing: `position`.
    pub kind: String,
    /// Its id.
    pub id: String,
    /// What the survey said; `None` if it did not have it.
    pub was: Option<Value>,
    /// What the text says; `None` if it leaves it out.
    pub is: Option<Value>,
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = if self.kind == self.id {
            self.kind.clone()
        } else {
            format!("{} {}", self.kind, self.id)
        };
        match (&self.was, &self.is) {
            (Some(Value::Object(was)), Some(Value::Object(is))) => {
                write!(f, "{name}:")?;
                let mut keys: Vec<_> = was.keys().chain(is.keys()).collect();
                keys.sort();
                keys.dedup();
                let text = |value: Option<&Value>| value.map_or("nothing".into(), text_of);
                let changed = keys.into_iter().filter(|key| was.get(*key) != is.get(*key));
                for (i, key) in changed.enumerate() {
                    let comma = if i > 0 { "," } else { "" };
                    write!(f, "{comma} {key} {} → {}", text(was.get(key)), text(is.get(key)))?;
                }
                Ok(())
            }
            (Some(was), None) => write!(f, "{name}: taken out ({})", text_of(was)),
            (None, Some(is)) => write!(f, "{name}: new, {}", text_of(is)),
            _ => write!(f, "{name}: {:?} → {:?}", self.was, self.is),
        }
    }
}

impl Survey {
    /// The record that people edit, as TOML: each part, or what could be written there.
    ///
    /// # Errors
    /// If it cannot be read.
    pub fn describe(&self) -> Result<String, SurveyError> {
        let mut text = HEAD.to_owned();
        self.read(|db| {
            for part in PARTS {
                text.push_str(&(part.print)(db, part)?);
            }
            Ok(())
        })?;
        Ok(text)
    }

    /// What a text says otherwise than the survey, without changing anything.
    ///
    /// # Errors
    /// If the text is not a record.
    pub fn differences(&self, text: &str) -> Result<Vec<Difference>, SurveyError> {
        let document = parse(text)?;
        self.read(|db| differences(db, &document))
    }

    /// Makes the survey say what a text says. A part that the text leaves out entirely (no
    /// `[[chains]]` at all) stays as it is; a thing left out of a part that is there is taken out.
    ///
    /// # Errors
    /// If the text is not a record, or would leave a capture or note without its position.
    pub fn apply(&self, text: &str, by: &str) -> Result<Vec<Difference>, SurveyError> {
        let document = parse(text)?;
        self.write(by, |pen: &Pen<'_>| {
            let differences = differences(pen.db, &document)?;
            for difference in &differences {
                let Difference { kind, id, was, is } = difference.clone();
                pen.append("describe", &[Change { kind, id, was, is }])?;
            }
            places::check(pen.db)?;
            jobs::announce(pen.db, self)?;
            Ok(differences)
        })
    }
}

/// A part of the record that people edit.
struct Part {
    /// Its key in the text.
    key: &'static str,
    /// Kind of its things.
    kind: &'static str,
    /// Letter of their ids; empty for a part that is one table.
    letter: &'static str,
    /// What can be written there, for people.
    members: &'static str,
    /// Reads one thing.
    read: fn(Value) -> Result<Value, String>,
    /// Prints the part.
    print: fn(&Connection, &Part) -> Result<String, SurveyError>,
}

const fn part<T: Thing>(key: &'static str, letter: &'static str, members: &'static str) -> Part {
    Part { key, kind: T::KIND, letter, members, read: read::<T>, print: print::<T> }
}

/// In the order in which they are printed.
const PARTS: &[Part] = &[
    Part {
        read: read_head,
        ..part::<things::Head>("survey", "", "name, region, time_zone, technician")
    },
    part::<things::Brief>(
        "brief",
        "",
        "leaked, who_could_know, who_had_access, feared = [], heard_at, heard_where, notes",
    ),
    part::<things::Authority>(
        "authority",
        "A",
        "who, right, rooms = [], from, to, listening = false, listening_terms, document",
    ),
    part::<things::Premises>("premises", "", "name, kind, outer_wall, notes"),
    part::<things::Floor>("floors", "L", "name, level, height_m"),
    part::<things::Room>("rooms", "M", "name, floor, used_for, corners_m = [[x, y], …]"),
    part::<units::Position>(
        "positions",
        "P",
        "name, zone = inside|adjacent|outside|moving, room, floor, x_m, y_m, height_m",
    ),
    part::<things::Chain>(
        "chains",
        "K",
        "name, consists_of, scale_steps, bands = [{ low_hz, high_hz }], clock_s, clock_u_s, \
         calibration_db, calibration_u_db, frequency_u_ppm, noise_figure_db, \
         coupling = air|mains|line|light, notes",
    ),
    part::<things::Condition>(
        "conditions",
        "O",
        "name, state = empty|in-use|meeting|known-sound, who, switched_on = []",
    ),
    part::<ledger::KnownDevice>(
        "known_devices",
        "D",
        "owner, what, place, band = { low_hz, high_hz }, identity, technology, on_from, on_until",
    ),
    part::<things::FoundItem>(
        "found_items",
        "F",
        "what, place, found_at, found_by, radiating, emissions = [], \
         custody = [{ at, from, to, note }], notes",
    ),
    part::<things::Identity>("identities", "I", "emission, identity, source"),
    part::<things::Mapping>("mappings", "T", "name, columns"),
    part::<things::Movement>("movements", "V", "position, at, chain, clock_step_s"),
    part::<things::Stimulus>("stimuli", "S", "what, position, from, until"),
    part::<things::Remark>("remarks", "B", "text, position, at, until"),
    part::<things::Reading>(
        "readings",
        "N",
        "position, at, band = { low_hz, high_hz }, emission, strength = { value, of }, level_dbm, \
         bearing_deg, heard, chain, setting",
    ),
];

const HEAD: &str = "\
# The record of this survey. Edit it and bring it back with `describe --apply FILE`: each difference
# becomes one entry of the journal. A new thing has no id. A part left out stays as it is; a thing left
# out of a part that is there is taken out. Times are RFC 3339 in quotes, positions by id or name,
# lengths metres, frequencies hertz.

";

fn parse(text: &str) -> Result<Map<String, Value>, SurveyError> {
    let refused = |why: String| {
        SurveyError::refused(
            format!("this is not a record: {why}"),
            "Take what `describe` prints, and edit that. Nothing was changed.",
        )
    };
    let document: Value =
        toml::from_str(text).map_err(|e| refused(e.to_string().trim_end().to_owned()))?;
    let Value::Object(document) = document else { return Err(refused("no table".into())) };
    for key in document.keys() {
        if !PARTS.iter().any(|part| part.key == key) {
            let known: Vec<_> = PARTS.iter().map(|part| part.key).collect();
            return Err(refused(format!("'{key}' is none of its parts ({})", known.join(", "))));
        }
    }
    Ok(document)
}

fn differences(
    db: &Connection,
    document: &Map<String, Value>,
) -> Result<Vec<Difference>, SurveyError> {
    let mut found = Vec::new();
    let positions = record::values(db, "position")?;
    let mut names = named(positions.iter().map(|(id, value)| (id, value)));
    for part in PARTS {
        let Some(text) = document.get(part.key) else { continue };
        let mut said = said(db, part, text)?;
        if part.kind == "position" {
            names = named(said.iter().map(|(id, value)| (id, value)));
        }
        for (_, value) in &mut said {
            // Written by name, kept by id.
            if let Some(Value::String(place)) = value.get_mut("position")
                && let Some(id) = names.get(place.trim())
            {
                place.clone_from(id);
            }
        }
        let stands = record::values(db, part.kind)?;
        for (id, was) in &stands {
            if !said.iter().any(|(other, _)| other == id) {
                let (kind, id) = (part.kind.to_owned(), id.clone());
                found.push(Difference { kind, id, was: Some(was.clone()), is: None });
            }
        }
        for (id, is) in said {
            let was = stands.iter().find(|(other, _)| *other == id).map(|(_, was)| was.clone());
            if was.as_ref().map(text_of) != Some(text_of(&is)) {
                found.push(Difference { kind: part.kind.into(), id, was, is: Some(is) });
            }
        }
    }
    Ok(found)
}

/// Ids of positions by their names.
fn named<'a>(positions: impl Iterator<Item = (&'a String, &'a Value)>) -> BTreeMap<String, String> {
    positions
        .filter_map(|(id, value)| Some((value.get("name")?.as_str()?.trim().into(), id.clone())))
        .collect()
}

/// The things of one part of the text, each with its id, read as what they are.
fn said(db: &Connection, part: &Part, text: &Value) -> Result<Vec<(String, Value)>, SurveyError> {
    let Part { key, kind, letter, .. } = *part;
    let refused = |place: String, why: String| {
        SurveyError::refused(
            format!("{place}: {why}"),
            "Correct it and apply the file again. Nothing was changed.",
        )
    };
    let items: Vec<&Value> = match (letter.is_empty(), text) {
        (true, Value::Object(_)) => vec![text],
        (false, Value::Array(items)) => items.iter().collect(),
        (true, _) => return Err(refused(format!("[{key}]"), "should be one table".into())),
        (false, _) => {
            return Err(refused(format!("[[{key}]]"), "should be a list of tables".into()));
        }
    };
    let mut free = record::last_number(db, kind)?;
    let mut said: Vec<(String, Value)> = Vec::new();
    for (i, item) in items.into_iter().enumerate() {
        let place = format!("{key}, number {}", i + 1);
        let Value::Object(members) = item else {
            return Err(refused(place, "should be a table".into()));
        };
        let mut members = members.clone();
        let id = if letter.is_empty() {
            kind.to_owned()
        } else if let Some(id) = members.get("id").and_then(Value::as_str) {
            if record::value(db, kind, id)?.is_none() {
                return Err(refused(
                    place,
                    format!("the survey has no {kind} {id}; a new one is written without an id"),
                ));
            }
            id.to_owned()
        } else {
            free += 1;
            format!("{letter}{free}")
        };
        if kind == "survey" {
            // What never changes is taken from the record, whatever the text says.
            let head = record::value(db, kind, kind)?.unwrap_or_default();
            for key in ["id", "started"] {
                if let Some(value) = head.get(key) {
                    members.insert(key.into(), value.clone());
                }
            }
        } else {
            members.insert("id".into(), Value::from(id.clone()));
        }
        if said.iter().any(|(other, _)| *other == id) {
            return Err(refused(place, format!("{id} is there twice")));
        }
        let value = (part.read)(Value::Object(members)).map_err(|why| refused(place, why))?;
        said.push((id, value));
    }
    Ok(said)
}

/// A thing read as its type and written again, so that equal things have equal JSON.
fn read<T: Thing>(value: Value) -> Result<Value, String> {
    let thing: T = serde_json::from_value(value).map_err(|e| e.to_string())?;
    crate::canonical::value_of(&thing).map_err(|e| e.to_string())
}

fn read_head(value: Value) -> Result<Value, String> {
    let value = read::<things::Head>(value)?;
    let text = |key: &str| value.get(key).and_then(Value::as_str).unwrap_or_default();
    crate::floors::check_region(text("region")).map_err(|e| e.to_string())?;
    crate::clock::check_zone(text("time_zone")).map_err(|e| e.to_string())?;
    Ok(value)
}

/// A part of the record as TOML, members in the order of their type; what could be written there,
/// as a comment, where there is nothing.
fn print<T: Thing>(db: &Connection, part: &Part) -> Result<String, SurveyError> {
    let things = record::all::<T>(db)?;
    let fail = |e| SurveyError::internal(format!("{} is no TOML: {e}", part.key));
    let text = match things.first() {
        None if part.letter.is_empty() => format!("# [{}]\n# {}\n", part.key, part.members),
        None => format!("# [[{}]]\n# {}\n", part.key, part.members),
        Some(one) if part.letter.is_empty() => {
            toml::to_string(&BTreeMap::from([(part.key, one)])).map_err(fail)?
        }
        Some(_) => toml::to_string(&BTreeMap::from([(part.key, &things)])).map_err(fail)?,
    };
    Ok(format!("{text}\n"))
}
