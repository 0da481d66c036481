//! Reading the record, and preparing changes of it. Works on the survey's own database and on one
//! replayed from the journal alike.

use crate::SurveyError;
use crate::canonical::{text_of, value_of};
use crate::journal::Change;
use crate::things::Thing;
use rusqlite::{Connection, OptionalExtension};
use serde_json::Value;
use std::path::Path;

fn fail(e: rusqlite::Error) -> SurveyError {
    SurveyError::database(Path::new("survey.sqlite"), "read the record", e)
}

/// A thing's JSON; `None` if it is not there or was taken back.
pub(crate) fn value(db: &Connection, kind: &str, id: &str) -> Result<Option<Value>, SurveyError> {
    let body: Option<Option<String>> = db
        .prepare_cached("SELECT body FROM record WHERE kind = ?1 AND id = ?2")
        .and_then(|mut query| query.query_row([kind, id], |row| row.get(0)).optional())
        .map_err(fail)?;
    body.flatten().map(|body| parse(kind, id, &body)).transpose()
}

/// A thing.
pub(crate) fn get<T: Thing>(db: &Connection, id: &str) -> Result<Option<T>, SurveyError> {
    value(db, T::KIND, id)?.map(|value| typed(T::KIND, id, value)).transpose()
}

/// All things of a kind as JSON, in the order in which their ids were given.
pub(crate) fn values(db: &Connection, kind: &str) -> Result<Vec<(String, Value)>, SurveyError> {
    let mut query = db
        .prepare_cached("SELECT id, body FROM record WHERE kind = ?1 AND body IS NOT NULL")
        .map_err(fail)?;
    let rows = query
        .query_map([kind], |row| Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?)))
        .map_err(fail)?;
    let mut things = Vec::new();
    for row in rows {
        let (id, body) = row.map_err(fail)?;
        let value = parse(kind, &id, &body)?;
        things.push((id, value));
    }
    things.sort_by_cached_key(|(id, _)| order_of(id));
    Ok(things)
}

/// All things of a kind, in the order in which their ids were given.
pub(crate) fn all<T: Thing>(db: &Connection) -> Result<Vec<T>, SurveyError> {
    values(db, T::KIND)?.into_iter().map(|(id, value)| typed(T::KIND, &id, value)).collect()
}

/// The number of the last id of a kind that was ever given (`C12`: 12).
pub(crate) fn last_number(db: &Connection, kind: &str) -> Result<u64, SurveyError> {
    let mut query = db.prepare_cached("SELECT id FROM record WHERE kind = ?1").map_err(fail)?;
    let ids = query.query_map([kind], |row| row.get::<_, String>(0)).map_err(fail)?;
    let mut last = 0;
    for id in ids {
        last = last.max(order_of(&id.map_err(fail)?).1);
    }
    Ok(last)
}

/// The next free id of a kind: letter and number, never given before.
pub(crate) fn next_id(db: &Connection, kind: &str, letter: &str) -> Result<String, SurveyError> {
    Ok(format!("{letter}{}", last_number(db, kind)? + 1))
}

/// The change that makes a thing what it is given as; refused if that cannot be true.
pub(crate) fn put<T: Thing>(db: &Connection, thing: &T) -> Result<Change, SurveyError> {
    thing.check()?;
    Ok(Change {
        kind: T::KIND.into(),
        id: thing.id().into(),
        was: value(db, T::KIND, thing.id())?,
        is: Some(value_of(thing)?),
    })
}

/// Puts a thing in place of what stands there, in a record that was replayed to look at.
pub(crate) fn overwrite<T: Thing>(replayed: &Connection, thing: &T) -> Result<(), SurveyError> {
    let body = text_of(&value_of(thing)?);
    replayed
        .prepare_cached("UPDATE record SET body = ?3 WHERE kind = ?1 AND id = ?2")
        .and_then(|mut update| update.execute([T::KIND, thing.id(), &body]))
        .map(|_| ())
        .map_err(fail)
}

/// The number of the entry that last touched a thing, if any did.
pub(crate) fn touched(db: &Connection, kind: &str, id: &str) -> Result<Option<u64>, SurveyError> {
    db.prepare_cached("SELECT seq FROM record WHERE kind = ?1 AND id = ?2")
        .and_then(|mut query| query.query_row([kind, id], |row| row.get(0)).optional())
        .map_err(fail)
}

/// The number of the entry that last touched any thing of a kind; 0 if none ever did.
pub(crate) fn last_touched(db: &Connection, kind: &str) -> Result<u64, SurveyError> {
    db.prepare_cached("SELECT coalesce(max(seq), 0) FROM record WHERE kind = ?1")
        .and_then(|mut query| query.query_row([kind], |row| row.get(0)))
        .map_err(fail)
}

/// `C12.3` as ("C", 12, 3): so that C9 comes before C10.
pub(crate) fn order_of(id: &str) -> (String, u64, u64) {
    let digits = id.find(|c: char| c.is_ascii_digit()).unwrap_or(id.len());
    let (letters, numbers) = id.split_at(digits);
    let (number, part) = numbers.split_once('.').unwrap_or((numbers, "0"));
    (letters.to_owned(), number.parse().unwrap_or(0), part.parse().unwrap_or(0))
}

fn parse(kind: &str, id: &str, body: &str) -> Result<Value, SurveyError> {
    serde_json::from_str(body).map_err(|e| damaged(kind, id, &e))
}

fn typed<T: Thing>(kind: &str, id: &str, value: Value) -> Result<T, SurveyError> {
    serde_json::from_value(value).map_err(|e| damaged(kind, id, &e))
}

fn damaged(kind: &str, id: &str, why: &serde_json::Error) -> SurveyError {
    SurveyError::Damaged { what: format!("the record of {kind} {id} cannot be read: {why}") }
}
