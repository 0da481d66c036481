//! The record as TOML, for people to read and to edit; and making the survey say what an edited
//! text says, each difference one entry of the journal.

use crate::canonical::text_of;
use crate::journal::Change;
use crate::survey::{Pen, Survey};
use crate::things::{self, DESCRIBED, Thing};
use crate::{SurveyError, jobs, places, record};
use rusqlite::Connection;
use serde_json::{Map, Value};
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
    /// The record that people edit, as TOML.
    ///
    /// # Errors
    /// If it cannot be read.
    pub fn describe(&self) -> Result<String, SurveyError> {
        let mut document = Map::new();
        self.read(|db| {
            for (key, kind, letter) in DESCRIBED {
                let things = record::values(db, kind)?;
                if letter.is_empty() {
                    if let Some((_, mut value)) = things.into_iter().next() {
                        if *kind != "survey"
                            && let Value::Object(members) = &mut value
                        {
                            members.remove("id");
                        }
                        document.insert((*key).into(), value);
                    }
                } else if !things.is_empty() {
                    let values = things.into_iter().map(|(_, value)| value).collect();
                    document.insert((*key).into(), Value::Array(values));
                }
            }
            Ok(())
        })?;
        // TOML wants plain members before tables: its writer sorts that out for itself.
        let body = toml::to_string(&document)
            .map_err(|e| SurveyError::internal(format!("the record is no TOML: {e}")))?;
        Ok(format!("{HEAD}{body}"))
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

const HEAD: &str = "\
# The record of this survey. Edit it and bring it back with `describe --apply FILE`: each difference
# becomes one entry of the journal. A new thing needs no id. A part left out stays as it is; a thing
# left out of a part that is there is taken out. Times are RFC 3339, lengths metres, frequencies hertz.

";

fn parse(text: &str) -> Result<Map<String, Value>, SurveyError> {
    let refused = |why: String| {
        SurveyError::refused(
            format!("this is not a record: {why}"),
            "Take what `describe` prints, and edit that. Nothing was changed.",
        )
    };
    let document: Value = toml::from_str(text).map_err(|e| refused(e.to_string()))?;
    let Value::Object(document) = document else { return Err(refused("no table".into())) };
    for key in document.keys() {
        if !DESCRIBED.iter().any(|(known, _, _)| known == key) {
            let known: Vec<_> = DESCRIBED.iter().map(|(known, _, _)| *known).collect();
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
    for (key, kind, letter) in DESCRIBED {
        let Some(part) = document.get(*key) else { continue };
        let said = said(db, key, kind, letter, part)?;
        let stands = record::values(db, kind)?;
        for (id, was) in &stands {
            if !said.iter().any(|(other, _)| other == id) {
                let (kind, id) = ((*kind).to_owned(), id.clone());
                found.push(Difference { kind, id, was: Some(was.clone()), is: None });
            }
        }
        for (id, is) in said {
            let was = stands.iter().find(|(other, _)| *other == id).map(|(_, was)| was.clone());
            if was.as_ref().map(text_of) != Some(text_of(&is)) {
                found.push(Difference { kind: (*kind).into(), id, was, is: Some(is) });
            }
        }
    }
    Ok(found)
}

/// The things of one part of the text, each with its id, read as what they are.
fn said(
    db: &Connection,
    key: &str,
    kind: &str,
    letter: &str,
    part: &Value,
) -> Result<Vec<(String, Value)>, SurveyError> {
    let refused = |place: String, why: String| {
        SurveyError::refused(
            format!("{place}: {why}"),
            "Correct it and apply the file again. Nothing was changed.",
        )
    };
    let items: Vec<&Value> = match (letter.is_empty(), part) {
        (true, Value::Object(_)) => vec![part],
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
        let value = typed(kind, Value::Object(members)).map_err(|why| refused(place, why))?;
        said.push((id, value));
    }
    Ok(said)
}

/// A thing of a kind, read as its type and written again, so that equal things have equal JSON.
fn typed(kind: &str, value: Value) -> Result<Value, String> {
    fn of<T: Thing>(value: Value) -> Result<Value, String> {
        let thing: T = serde_json::from_value(value).map_err(|e| e.to_string())?;
        crate::canonical::value_of(&thing).map_err(|e| e.to_string())
    }
    match kind {
        "survey" => {
            let value = of::<things::Head>(value)?;
            let text = |key: &str| value.get(key).and_then(Value::as_str).unwrap_or_default();
            crate::floors::check_region(text("region")).map_err(|e| e.to_string())?;
            crate::survey::check_zone(text("time_zone")).map_err(|e| e.to_string())?;
            Ok(value)
        }
        "brief" => of::<things::Brief>(value),
        "authority" => of::<things::Authority>(value),
        "premises" => of::<things::Premises>(value),
        "floor" => of::<things::Floor>(value),
        "room" => of::<things::Room>(value),
        "position" => of::<units::Position>(value),
        "chain" => of::<things::Chain>(value),
        "condition" => of::<things::Condition>(value),
        "known-device" => of::<ledger::KnownDevice>(value),
        "found-item" => of::<things::FoundItem>(value),
        "identity" => of::<things::Identity>(value),
        "mapping" => of::<things::Mapping>(value),
        "movement" => of::<things::Movement>(value),
        "stimulus" => of::<things::Stimulus>(value),
        "remark" => of::<things::Remark>(value),
        "reading" => of::<things::Reading>(value),
        other => Err(format!("no such kind: {other}")),
    }
}
