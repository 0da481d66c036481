//! The journal: the tamper-evident record of everything done. Each entry lists the things that it
//! changed, as they were and as they are since; so the record follows from the journal alone, and
//! what an entry did can be taken back by a later one.
//!
//! hash = SHA-256 of the JSON array `["stillroom.journal/1", seq, time, by, kind, body, previous]`
//! in canonical form (RFC 8785), where `body` is the column's text and `previous` the hash of the
//! entry before (64 zeros for the first). Every column is under it.

use crate::SurveyError;
use crate::canonical::{text_of, write_text};
use crate::evidence::hex;
use rusqlite::{Connection, OptionalExtension, params};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use sha2::{Digest, Sha256};
use std::path::Path;

/// Hash that stands before the first entry.
pub(crate) const NOTHING: &str = "0000000000000000000000000000000000000000000000000000000000000000";

/// One row of the journal.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Entry {
    /// 1, 2, 3, … without a gap.
    pub seq: u64,
    /// When, by the clock of the machine: RFC 3339, UTC.
    pub time: String,
    /// By whom.
    pub by: String,
    /// What kind of thing was done: `add`, `decide`, `undo`, …
    pub kind: String,
    /// JSON in canonical form: `changes`, and what else belongs to it.
    pub body: String,
    /// Hash of the entry before.
    pub previous: String,
    /// Hash of this one.
    pub hash: String,
}

/// One thing, before and after.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Change {
    /// Kind of thing: `capture`, `position`, `act`, …
    pub kind: String,
    /// Its id.
    pub id: String,
    /// What it was; `None` if it was not there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub was: Option<Value>,
    /// What it is since; `None` if it is gone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub is: Option<Value>,
}

impl Change {
    /// Whether the thing is other than it was. Numbers count by what they are: 5 and 5.0 are one.
    pub(crate) fn differs(&self) -> bool {
        self.was.as_ref().map(text_of) != self.is.as_ref().map(text_of)
    }
}

impl Entry {
    /// What its columns hash to.
    pub fn hash_of_columns(&self) -> String {
        let mut text = format!("[\"stillroom.journal/1\",{}", self.seq);
        for column in [&self.time, &self.by, &self.kind, &self.body, &self.previous] {
            text.push(',');
            write_text(column, &mut text);
        }
        text.push(']');
        hex(&Sha256::digest(text.as_bytes()))
    }

    /// The things that it changed.
    pub(crate) fn changes(&self) -> Result<Vec<Change>, String> {
        let body: Value = serde_json::from_str(&self.body).map_err(|e| format!("no JSON: {e}"))?;
        let changes = body.get("changes").cloned().ok_or("no list of changes")?;
        serde_json::from_value(changes).map_err(|e| format!("its changes: {e}"))
    }
}

fn fail(doing: &'static str) -> impl Fn(rusqlite::Error) -> SurveyError {
    move |e| SurveyError::database(Path::new("survey.sqlite"), doing, e)
}

/// Number and hash of the last entry; (0, zeros) when there is none.
pub(crate) fn head(db: &Connection) -> Result<(u64, String), SurveyError> {
    db.query_row("SELECT seq, hash FROM journal ORDER BY seq DESC LIMIT 1", [], |row| {
        Ok((row.get(0)?, row.get(1)?))
    })
    .optional()
    .map(|head| head.unwrap_or((0, NOTHING.to_owned())))
    .map_err(fail("read the journal"))
}

/// Every entry in order, one at a time.
pub(crate) fn each<E: From<SurveyError>>(
    db: &Connection,
    until: Option<u64>,
    mut see: impl FnMut(Entry) -> Result<(), E>,
) -> Result<(), E> {
    let until = until.map_or(i64::MAX, |seq| seq as i64);
    let mut query = db
        .prepare(
            "SELECT seq, time, by, kind, body, previous, hash FROM journal \
             WHERE seq <= ?1 ORDER BY seq",
        )
        .map_err(fail("read the journal"))?;
    let rows = query
        .query_map([until], |row| {
            Ok(Entry {
                seq: row.get(0)?,
                time: row.get(1)?,
                by: row.get(2)?,
                kind: row.get(3)?,
                body: row.get(4)?,
                previous: row.get(5)?,
                hash: row.get(6)?,
            })
        })
        .map_err(fail("read the journal"))?;
    for row in rows {
        see(row.map_err(fail("read the journal"))?)?;
    }
    Ok(())
}

/// Appends an entry and makes its changes in the record. To be called inside a transaction.
pub(crate) fn append(
    db: &Connection,
    time: &str,
    by: &str,
    kind: &str,
    about: Map<String, Value>,
    changes: &[Change],
) -> Result<u64, SurveyError> {
    let (last, previous) = head(db)?;
    let mut body = about;
    body.insert("changes".into(), crate::canonical::value_of(&changes)?);
    let mut entry = Entry {
        seq: last + 1,
        time: time.to_owned(),
        by: by.to_owned(),
        kind: kind.to_owned(),
        body: text_of(&Value::Object(body)),
        previous,
        hash: String::new(),
    };
    entry.hash = entry.hash_of_columns();
    db.prepare_cached("INSERT INTO journal VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)")
        .and_then(|mut insert| {
            insert.execute(params![
                entry.seq,
                entry.time,
                entry.by,
                entry.kind,
                entry.body,
                entry.previous,
                entry.hash
            ])
        })
        .map_err(fail("write the journal"))?;
    for change in changes {
        apply(db, entry.seq, change)?
            .map_err(|why| SurveyError::internal(format!("entry {}: {why}", entry.seq)))?;
    }
    Ok(entry.seq)
}

/// Makes one change in the record. The inner error says why the change does not fit the record
/// as it stands.
pub(crate) fn apply(
    db: &Connection,
    seq: u64,
    change: &Change,
) -> Result<Result<(), String>, SurveyError> {
    let stands: Option<String> = db
        .prepare_cached("SELECT body FROM record WHERE kind = ?1 AND id = ?2")
        .and_then(|mut query| {
            query.query_row([&change.kind, &change.id], |row| row.get(0)).optional()
        })
        .map_err(fail("read the record"))?
        .flatten();
    let was = change.was.as_ref().map(text_of);
    if stands != was {
        return Ok(Err(format!(
            "{} {} was not what the entry says it was",
            change.kind, change.id
        )));
    }
    db.prepare_cached("INSERT OR REPLACE INTO record VALUES (?1, ?2, ?3, ?4)")
        .and_then(|mut insert| {
            insert.execute(params![change.kind, change.id, seq, change.is.as_ref().map(text_of)])
        })
        .map_err(fail("write the record"))?;
    Ok(Ok(()))
}

/// Replays entries up to `until` (all without) into a fresh database in memory.
pub(crate) fn replay(db: &Connection, until: Option<u64>) -> Result<Connection, SurveyError> {
    let scratch = crate::database::scratch()?;
    scratch.execute_batch("BEGIN").map_err(fail("replay the journal"))?;
    each(db, until, |entry| {
        let damaged = |why: String| SurveyError::Damaged {
            what: format!("journal entry {}: {why}", entry.seq),
        };
        for change in entry.changes().map_err(damaged)? {
            apply(&scratch, entry.seq, &change)?.map_err(damaged)?;
        }
        Ok::<_, SurveyError>(())
    })?;
    scratch.execute_batch("COMMIT").map_err(fail("replay the journal"))?;
    Ok(scratch)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    /// Computed once outside this program, with Python's json and hashlib:
    /// `sha256(json.dumps(["stillroom.journal/1", 1, "2026-03-01T21:30:00Z", "A. Müller", "note",
    /// '{"changes":[]}', "0" * 64], separators=(",", ":"), ensure_ascii=False).encode())`.
    #[test]
    fn the_chain_can_be_computed_by_others() {
        let entry = Entry {
            seq: 1,
            time: "2026-03-01T21:30:00Z".into(),
            by: "A. Müller".into(),
            kind: "note".into(),
            body: r#"{"changes":[]}"#.into(),
            previous: NOTHING.into(),
            hash: String::new(),
        };
        assert_eq!(
            entry.hash_of_columns(),
            "38db6ad6110a7527bcfe7a1838348e500aceead1793c0fa75ad9f97636760058"
        );
    }

    #[test]
    fn a_change_that_does_not_fit_is_told() {
        let db = crate::database::scratch().expect("a database");
        let first = Change {
            kind: "remark".into(),
            id: "M1".into(),
            was: None,
            is: Some(json!({"text": "x"})),
        };
        assert_eq!(apply(&db, 1, &first).expect("database"), Ok(()));
        assert!(apply(&db, 2, &first).expect("database").is_err());
        let gone = Change { was: first.is.clone(), is: None, ..first.clone() };
        assert_eq!(apply(&db, 3, &gone).expect("database"), Ok(()));
        assert_eq!(apply(&db, 4, &first).expect("database"), Ok(()));
    }
}
