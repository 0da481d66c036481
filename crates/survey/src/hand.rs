//! Rows put together and taken apart by hand, each with its reason. What is stored says what the person
//! saw; rows that can hardly be one emission are put together only over a plain objection.

use crate::decide::{append_act, check_reason, row_of, seen_of};
use crate::pen::Pen;
use crate::survey::Survey;
use crate::{SurveyError, apart, journal, record};
use ledger::{ActKind, LedgerRow, Outcome, Seen};
use serde_json::{Map, Value};

/// Rows to be put together.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Joining {
    /// Two or more.
    pub ids: Vec<String>,
    /// In the person's words.
    pub reason: String,
    /// Although the measurements say that they are not one; the reason says why they are.
    pub although_apart: bool,
}

/// Receptions to be taken out of a row.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Parting {
    /// The row.
    pub id: String,
    /// Captures whose receptions leave it.
    pub captures: Vec<String>,
    /// In the person's words.
    pub reason: String,
}

impl Survey {
    /// Puts rows together by hand; every later ledger obeys. With `if_version`, only if none of them
    /// changed since the ledger had that version.
    ///
    /// # Errors
    /// If fewer than two different rows are named, one is not there, no reason is given, they can
    /// hardly be one and nobody says that they are nevertheless, or one changed.
    pub fn join(
        &self,
        joining: &Joining,
        if_version: Option<u64>,
        by: &str,
    ) -> Result<u64, SurveyError> {
        check_reason("putting rows together", &joining.reason)?;
        let before = self.before(if_version)?;
        self.write(by, |pen| {
            let outcome = self.settled(pen)?;
            self.check_unchanged(pen, &outcome, &joining.ids, (if_version, before.as_ref()))?;
            let mut rows: Vec<&LedgerRow> = Vec::new();
            for id in &joining.ids {
                let row = row_of(&outcome, id)?;
                if !rows.iter().any(|other| other.id == row.id) {
                    rows.push(row);
                }
            }
            if rows.len() < 2 {
                let only = rows.first().map_or("nothing", |row| row.id.as_str());
                return Err(SurveyError::refused(
                    format!("all that was named is one row, {only}"),
                    "Name two rows or more.",
                ));
            }
            let objections = apart::objections(&rows);
            if !objections.is_empty() && !joining.although_apart {
                return Err(SurveyError::refused(
                    objections.join("; "),
                    "Leave them apart; or, if they are one nevertheless (a sender that hops or \
                     changes its channel), say so with --although-apart and give the reason.",
                ));
            }
            let seen = |row: &&LedgerRow| Ok((row.id.clone(), seen_of(&outcome, &row.id)?));
            let rows: Vec<(String, Seen)> =
                rows.iter().map(seen).collect::<Result<_, SurveyError>>()?;
            let mut about = Map::new();
            if !objections.is_empty() {
                about.insert("although".to_owned(), Value::from(objections));
            }
            let reason = joining.reason.trim().to_owned();
            append_act(pen, "join", ActKind::Join { rows, reason }, about)
        })
    }

    /// Takes the receptions of some captures out of a row. Gives the entry's number and the id of
    /// the row that they are since. With `if_version`, only if it did not change since the ledger had
    /// that version.
    ///
    /// # Errors
    /// If the row or a capture is not there, a capture did not hear it, nothing would stay, no reason
    /// is given, or it changed.
    pub fn split(
        &self,
        parting: &Parting,
        if_version: Option<u64>,
        by: &str,
    ) -> Result<(u64, String), SurveyError> {
        check_reason("taking a row apart", &parting.reason)?;
        let before = self.before(if_version)?;
        self.write(by, |pen| {
            let outcome = self.settled(pen)?;
            let ids = std::slice::from_ref(&parting.id);
            self.check_unchanged(pen, &outcome, ids, (if_version, before.as_ref()))?;
            let row = row_of(&outcome, &parting.id)?;
            let new_id = free_row_id(pen, &outcome)?;
            let what = ActKind::Split {
                id: row.id.clone(),
                seen: seen_of(&outcome, &row.id)?,
                captures: leaving(row, &parting.captures)?,
                new_id: new_id.clone(),
                reason: parting.reason.trim().to_owned(),
            };
            Ok((append_act(pen, "split", what, Map::new())?, new_id))
        })
    }
}

/// The captures, and parts of those that were carried about, that leave a row.
fn leaving(row: &LedgerRow, captures: &[String]) -> Result<Vec<String>, SurveyError> {
    let mut heard: Vec<&str> =
        row.receptions.iter().filter(|r| r.heard).map(|r| r.capture.as_str()).collect();
    // A log has a reception for each place.
    heard.sort_by_cached_key(|c| record::order_of(c));
    heard.dedup();
    let mut leaving: Vec<String> = Vec::new();
    for wanted in captures {
        let wanted = &wanted.to_uppercase();
        // A walk's capture stands for all its parts.
        let part = format!("{wanted}.");
        let of = |c: &&&str| **c == wanted || c.starts_with(&part);
        let mut parts: Vec<String> = heard.iter().filter(of).map(|c| (*c).to_owned()).collect();
        if parts.is_empty() {
            return Err(SurveyError::refused(
                format!("capture {wanted} did not hear {}", row.id),
                format!("It was heard by {}.", heard.join(", ")),
            ));
        }
        leaving.append(&mut parts);
    }
    leaving.sort_by_cached_key(|c| record::order_of(c));
    leaving.dedup();
    if leaving.is_empty() || heard.iter().all(|c| leaving.iter().any(|l| l == c)) {
        let would = if leaving.is_empty() { "leave" } else { "stay" };
        return Err(SurveyError::refused(
            format!("nothing of {} would {would}", row.id),
            format!("It was heard by {}; name some of them, not all.", heard.join(", ")),
        ));
    }
    Ok(leaving)
}

/// An id that no row ever had.
fn free_row_id(pen: &Pen<'_>, outcome: &Outcome) -> Result<String, SurveyError> {
    let mut last = record::last_number(pen.db, "anchor")?;
    for row in &outcome.ledger.emissions {
        last = last.max(record::order_of(&row.id).1);
    }
    // A split that was undone before a ledger gave its id: the id stays used.
    let mut ids = Vec::new();
    journal::each(pen.db, None, |entry| {
        if entry.kind == "split" {
            ids.push(entry.body);
        }
        Ok::<_, SurveyError>(())
    })?;
    for body in ids {
        let body: Value = serde_json::from_str(&body).unwrap_or_default();
        let id = body.pointer("/changes/0/is/act/what/new_id").and_then(Value::as_str);
        last = last.max(id.map_or(0, |id| record::order_of(id).1));
    }
    Ok(format!("E{}", last + 1))
}
