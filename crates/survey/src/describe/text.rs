//! An edited text, read: TOML to the things of each part, with the place of whatever is wrong.

use super::parts::{PARTS, Part};
use crate::{SurveyError, record};
use rusqlite::Connection;
use serde_json::{Map, Value};

pub(super) fn parse(text: &str) -> Result<Map<String, Value>, SurveyError> {
    let text = text.trim_start_matches('\u{feff}');
    let table: toml::Table =
        toml::from_str(text).map_err(|e| no_record(e.to_string().trim_end()))?;
    let document = members(table, "").map_err(|why| no_record(&why))?;
    check_keys(&document)?;
    Ok(document)
}

fn no_record(why: &str) -> SurveyError {
    SurveyError::refused(
        format!("this is not a record: {why}"),
        "Take what `describe` prints, and edit that. Nothing was changed.",
    )
}

/// Refuses what is no part of a record.
pub(super) fn check_keys(document: &Map<String, Value>) -> Result<(), SurveyError> {
    for key in document.keys() {
        if !PARTS.iter().any(|part| part.key == key) {
            let known: Vec<_> = PARTS.iter().map(|part| part.key).collect();
            return Err(no_record(&format!("'{key}' is none of its parts ({})", known.join(", "))));
        }
    }
    Ok(())
}

/// The things of one part of the text, each with its id, read as what they are.
pub(super) fn said(
    db: &Connection,
    part: &Part,
    text: &Value,
) -> Result<Vec<(String, Value)>, SurveyError> {
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
            // What never changes is taken from the record where the text does not say it.
            let head = record::value(db, kind, kind)?.unwrap_or_default();
            if let Some(other) = members.get("id").filter(|id| head.get("id") != Some(id)) {
                let why = format!("its id is {other}: this is the record of another survey");
                return Err(refused(place, why));
            }
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
        let members = Value::Object(members);
        let value = (part.read)(members.clone()).map_err(|why| refused(place.clone(), why))?;
        if let Some(key) = unknown(&members, &value) {
            let why =
                format!("'{key}' is nothing that can be said of it; what can: {}", part.members);
            return Err(refused(place, why));
        }
        said.push((id, value));
    }
    Ok(said)
}

/// TOML as JSON, which has no number that is none: such a one is refused with its key.
fn json(value: toml::Value, key: &str) -> Result<Value, String> {
    Ok(match value {
        toml::Value::String(text) => Value::from(text),
        toml::Value::Integer(number) => Value::from(number),
        toml::Value::Float(number) if number.is_finite() => Value::from(number),
        toml::Value::Float(number) => {
            return Err(format!("{key} is {number}, which is no number to reckon with"));
        }
        toml::Value::Boolean(yes) => Value::from(yes),
        toml::Value::Datetime(time) => Value::from(time.to_string()),
        toml::Value::Array(items) => {
            items.into_iter().map(|item| json(item, key)).collect::<Result<_, _>>()?
        }
        toml::Value::Table(table) => Value::Object(members(table, key)?),
    })
}

fn members(table: toml::Table, of: &str) -> Result<Map<String, Value>, String> {
    let member = |(key, value): (String, toml::Value)| {
        let path = if of.is_empty() { key.clone() } else { format!("{of}.{key}") };
        Ok((key, json(value, &path)?))
    };
    table.into_iter().map(member).collect()
}

/// A key that was written and is not in what was read of it. One that is null says nothing, and
/// nothing is kept of it.
fn unknown(written: &Value, read: &Value) -> Option<String> {
    match (written, read) {
        (Value::Object(written), Value::Object(read)) => {
            written.iter().find_map(|(key, value)| match read.get(key) {
                None => (!value.is_null()).then(|| key.clone()),
                Some(read) => unknown(value, read).map(|inner| format!("{key}.{inner}")),
            })
        }
        (Value::Array(written), Value::Array(read)) => {
            written.iter().zip(read).find_map(|(written, read)| unknown(written, read))
        }
        _ => None,
    }
}
