//! Taking back: what a journal entry did is undone by a new entry, as long as nothing that it
//! touched was changed since.

use crate::describe::Difference;
use crate::journal::{self, Entry};
use crate::survey::Survey;
use crate::things::StoredAct;
use crate::{SurveyError, places, record};
use ledger::ActKind;
use rusqlite::Connection;
use serde_json::{Map, Value};

/// A journal entry that can be taken back.
#[derive(Debug, Clone, PartialEq)]
pub struct Undoable {
    /// Its number.
    pub seq: u64,
    /// When: RFC 3339, UTC.
    pub time: String,
    /// By whom.
    pub by: String,
    /// What it did, in words.
    pub what: String,
}

/// Entries that an undo cannot take back, and what to do instead.
const KEPT: &[(&str, &str)] = &[
    ("new", "A survey cannot be un-started; begin another folder."),
    ("add", "Evidence is not taken out; set the capture aside with `amend --set-aside REASON`."),
    ("derive", "That was the program's doing; `reanalyse` derives again."),
    ("ids", "That was the program's doing; ids are never given twice."),
];

impl Survey {
    /// Takes back what a journal entry did, with a new entry. Gives the new entry's number.
    ///
    /// # Errors
    /// If there is no such entry, it is of a kind that is kept, or something that it touched was
    /// changed since.
    pub fn undo(&self, seq: u64, by: &str) -> Result<u64, SurveyError> {
        self.write(by, |pen| {
            let mut found = None;
            journal::each(pen.db, Some(seq), |entry| {
                if entry.seq == seq {
                    found = Some(entry);
                }
                Ok::<_, SurveyError>(())
            })?;
            let entry = found.ok_or_else(|| {
                SurveyError::refused(
                    format!("the journal has no entry {seq}"),
                    "`undo` without a number lists those that can be taken back.",
                )
            })?;
            if let Some((kind, remedy)) = kept(&entry) {
                return Err(SurveyError::refused(
                    format!("entry {seq} ({kind}) is not taken back"),
                    *remedy,
                ));
            }
            let mut changes = entry.changes().map_err(|why| SurveyError::Damaged {
                what: format!("journal entry {seq}: {why}"),
            })?;
            for change in &changes {
                let last = record::touched(pen.db, &change.kind, &change.id)?.unwrap_or(0);
                if last != seq {
                    let what = match change.kind.as_str() {
                        "act" => String::new(),
                        kind => format!(" to {kind} {}", change.id),
                    };
                    return Err(SurveyError::refused(
                        format!("what entry {seq} did{what} was changed again by entry {last}"),
                        format!("Undo entry {last} first, or correct it as it is now."),
                    ));
                }
            }
            changes.reverse();
            for change in &mut changes {
                std::mem::swap(&mut change.was, &mut change.is);
            }
            let about = Map::from_iter([("undoes".to_owned(), Value::from(seq))]);
            let new = pen.append_about("undo", about, &changes)?;
            places::check(pen.db)?;
            Ok(new)
        })
    }

    /// The entries that can be taken back as things stand, the newest first.
    ///
    /// # Errors
    /// If the journal cannot be read.
    pub fn undoable(&self) -> Result<Vec<Undoable>, SurveyError> {
        let mut found = self.read(|db| {
            let mut found = Vec::new();
            journal::each(db, None, |entry| {
                if kept(&entry).is_none() && stands(db, &entry)? {
                    let what = told(&entry);
                    found.push(Undoable { seq: entry.seq, time: entry.time, by: entry.by, what });
                }
                Ok::<_, SurveyError>(())
            })?;
            Ok(found)
        })?;
        found.reverse();
        Ok(found)
    }
}

fn kept(entry: &Entry) -> Option<&(&'static str, &'static str)> {
    KEPT.iter().find(|(kind, _)| *kind == entry.kind)
}

/// Whether an entry was the last to touch all that it changed.
fn stands(db: &Connection, entry: &Entry) -> Result<bool, SurveyError> {
    for change in entry.changes().unwrap_or_default() {
        if record::touched(db, &change.kind, &change.id)? != Some(entry.seq) {
            return Ok(false);
        }
    }
    Ok(true)
}

/// What an entry did, in words.
fn told(entry: &Entry) -> String {
    let changes = entry.changes().unwrap_or_default().into_iter();
    let words: Vec<String> = changes
        .map(|change| {
            let act = |value: &Option<Value>| {
                let stored: StoredAct = serde_json::from_value(value.clone()?).ok()?;
                Some(stored.act.what)
            };
            match (act(&change.was), act(&change.is)) {
                (_, Some(what)) => act_told(&what),
                (Some(what), None) => format!("taken back: {}", act_told(&what)),
                (None, None) => {
                    let (kind, id) = (change.kind, change.id);
                    Difference { kind, id, was: change.was, is: change.is }.to_string()
                }
            }
        })
        .collect();
    words.join("; ")
}

fn act_told(what: &ActKind) -> String {
    match what {
        ActKind::Decide { id, state, reason, .. } => {
            format!("{id} is {}: {reason}", places::word(state))
        }
        ActKind::Join { rows, reason } => {
            let rows: Vec<String> =
                rows.iter().map(|(id, seen)| format!("{id}{}", at(seen))).collect();
            format!("{} are one row{}", rows.join(" and "), because(reason))
        }
        ActKind::Split { id, seen, captures, new_id, reason } => {
            let from = format!("{id}{}", at(seen));
            format!(
                "what {} received of {from} is {new_id}{}",
                captures.join(", "),
                because(reason)
            )
        }
    }
}

/// Where in frequency a row was, as the person saw it.
fn at(seen: &ledger::Seen) -> String {
    let mut centres_hz: Vec<f64> = seen.receptions.iter().map(|key| key.centre_hz).collect();
    centres_hz.sort_by(f64::total_cmp);
    // Some logs name no frequency.
    let middle = centres_hz.get(centres_hz.len() / 2).filter(|hz| **hz != 0.0);
    middle.map_or_else(String::new, |hz| format!(" at {}", ledger::frequency(*hz)))
}

fn because(reason: &str) -> String {
    if reason.is_empty() { String::new() } else { format!(": {reason}") }
}
