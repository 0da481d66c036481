//! What people decide: decisions on rows, joins and splits by hand. Each stores what the person saw,
//! so that every later ledger can tell whether it still holds.

use crate::pen::Pen;
use crate::record;
use crate::survey::Survey;
use crate::things::StoredAct;
use crate::{SurveyError, journal, places};
use ledger::{Act, ActKind, Ground, LedgerRow, Outcome, Seen, State};
use serde_json::Value;

/// A decision to be made.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// State.
    pub state: State,
    /// Ground, for `accounted`.
    pub ground: Option<Ground>,
    /// In the person's words.
    pub reason: String,
}

impl Survey {
    /// Decides rows, all or none. With `if_version`, only if none of them changed since the ledger
    /// had that version. Gives the numbers of the journal entries.
    ///
    /// # Errors
    /// If there is no such row, the ground is missing or its levels say otherwise, or a row changed.
    pub fn decide(
        &self,
        ids: &[String],
        verdict: &Verdict,
        if_version: Option<u64>,
        by: &str,
    ) -> Result<Vec<u64>, SurveyError> {
        check_verdict(verdict)?;
        if ids.is_empty() {
            return Err(SurveyError::refused("no row was named", "`emissions` lists them."));
        }
        self.write(by, |pen| {
            let outcome = self.settled(pen)?;
            if let Some(seen) = if_version {
                self.check_unchanged(pen, &outcome, ids, seen)?;
            }
            let mut entries = Vec::new();
            let mut done: Vec<&str> = Vec::new();
            for id in ids {
                let row = row_of(&outcome, id)?;
                if done.contains(&row.id.as_str()) {
                    continue;
                }
                check_ground(row, verdict.ground)?;
                done.push(&row.id);
                let what = ActKind::Decide {
                    id: row.id.clone(),
                    state: verdict.state,
                    ground: verdict.ground,
                    reason: verdict.reason.trim().to_owned(),
                    seen: seen_of(&outcome, &row.id)?,
                };
                entries.push(append_act(pen, "decide", what)?);
            }
            Ok(entries)
        })
    }

    /// Puts rows together by hand; every later ledger obeys. With `if_version`, only if none of them
    /// changed since the ledger had that version.
    ///
    /// # Errors
    /// If fewer than two different rows are named, one is not there, or one changed.
    pub fn join(
        &self,
        ids: &[String],
        if_version: Option<u64>,
        by: &str,
    ) -> Result<u64, SurveyError> {
        self.write(by, |pen| {
            let outcome = self.settled(pen)?;
            if let Some(seen) = if_version {
                self.check_unchanged(pen, &outcome, ids, seen)?;
            }
            let mut rows: Vec<(String, Seen)> = Vec::new();
            for id in ids {
                let row = row_of(&outcome, id)?;
                if !rows.iter().any(|(other, _)| *other == row.id) {
                    rows.push((row.id.clone(), seen_of(&outcome, &row.id)?));
                }
            }
            if rows.len() < 2 {
                let only = rows.first().map_or("nothing", |(id, _)| id.as_str());
                return Err(SurveyError::refused(
                    format!("all that was named is one row, {only}"),
                    "Name two rows or more.",
                ));
            }
            append_act(pen, "join", ActKind::Join { rows })
        })
    }

    /// Takes the receptions of some captures out of a row. Gives the entry's number and the id of
    /// the row that they are since. With `if_version`, only if it did not change since the ledger had
    /// that version.
    ///
    /// # Errors
    /// If the row or a capture is not there, a capture did not hear it, nothing would stay, or it
    /// changed.
    pub fn split(
        &self,
        id: &str,
        captures: &[String],
        if_version: Option<u64>,
        by: &str,
    ) -> Result<(u64, String), SurveyError> {
        self.write(by, |pen| {
            let outcome = self.settled(pen)?;
            if let Some(seen) = if_version {
                self.check_unchanged(pen, &outcome, &[id.to_owned()], seen)?;
            }
            let row = row_of(&outcome, id)?;
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
                let mut parts: Vec<String> = heard
                    .iter()
                    .filter(|c| *c == wanted || c.starts_with(&part))
                    .map(|c| (*c).to_owned())
                    .collect();
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
                return Err(SurveyError::refused(
                    format!(
                        "nothing of {} would {}",
                        row.id,
                        if leaving.is_empty() { "leave" } else { "stay" }
                    ),
                    format!("It was heard by {}; name some of them, not all.", heard.join(", ")),
                ));
            }
            let new_id = free_row_id(pen, &outcome)?;
            let what = ActKind::Split {
                id: row.id.clone(),
                seen: seen_of(&outcome, &row.id)?,
                captures: leaving,
                new_id: new_id.clone(),
            };
            Ok((append_act(pen, "split", what)?, new_id))
        })
    }

    fn check_unchanged(
        &self,
        pen: &Pen<'_>,
        now: &Outcome,
        ids: &[String],
        seen: u64,
    ) -> Result<(), SurveyError> {
        if seen == now.ledger.version {
            return Ok(());
        }
        if seen > now.ledger.version {
            return Err(SurveyError::refused(
                format!("version {seen} is not reached yet: this is {}", now.ledger.version),
                "Give the version that `emissions --json` printed.",
            ));
        }
        let then = self.built_at(pen.db, seen)?;
        for id in ids {
            let row = row_of(now, id)?;
            let same = row_of(&then, id).is_ok_and(|before| looks_the_same(before, row));
            if !same {
                return Err(SurveyError::Changed { seen, row: Box::new(row.clone()) });
            }
        }
        Ok(())
    }
}

/// Whether a row says of itself what it said before. Its rank, and rows it may be one with,
/// depend on others and are left out.
fn looks_the_same(before: &LedgerRow, now: &LedgerRow) -> bool {
    let bare = |row: &LedgerRow| LedgerRow {
        attention: ledger::Attention::default(),
        may_be: Vec::new(),
        ..row.clone()
    };
    bare(before) == bare(now)
}

fn check_verdict(verdict: &Verdict) -> Result<(), SurveyError> {
    // The dots that stand for a reason in our own examples are none.
    if !verdict.reason.chars().any(char::is_alphanumeric) {
        return Err(SurveyError::refused(
            "a decision needs its reason in words",
            "Give it with --reason; it stays in the journal and may be read by others.",
        ));
    }
    match (verdict.state, verdict.ground) {
        (State::Accounted, None) => Err(SurveyError::refused(
            "accounted needs a ground",
            "Give --ground seen, switched-off, stronger-outside, decoded, own-kit, receiver-own or inferred.",
        )),
        (state, Some(_)) if state != State::Accounted => Err(SurveyError::refused(
            format!("{} takes no ground", places::word(&state)),
            "A ground belongs to accounted; leave --ground out.",
        )),
        _ => Ok(()),
    }
}

/// A ground that the levels themselves speak against is none.
fn check_ground(row: &LedgerRow, ground: Option<Ground>) -> Result<(), SurveyError> {
    let excess_db = row.origin.excess_db.filter(|db| *db > 0.0);
    match (ground, excess_db) {
        (Some(Ground::StrongerOutside), Some(db)) => Err(SurveyError::refused(
            format!(
                "{} is stronger inside: {}{db:.0} dB over the best reference",
                row.id,
                if row.origin.excess_at_least { "at least " } else { "" },
            ),
            "Give another ground (seen, switched-off, decoded, own-kit, receiver-own, inferred), or \
             record a reference where it is stronger.",
        )),
        _ => Ok(()),
    }
}

/// The row of this id or alias.
pub(crate) fn row_of<'a>(outcome: &'a Outcome, id: &str) -> Result<&'a LedgerRow, SurveyError> {
    let rows = &outcome.ledger.emissions;
    rows.iter()
        .find(|row| row.id.eq_ignore_ascii_case(id))
        .or_else(|| {
            rows.iter().find(|row| row.aliases.iter().any(|alias| alias.eq_ignore_ascii_case(id)))
        })
        .ok_or_else(|| {
            SurveyError::refused(format!("the ledger has no row {id}"), "`emissions` lists them.")
        })
}

fn seen_of(outcome: &Outcome, id: &str) -> Result<Seen, SurveyError> {
    outcome
        .seen
        .iter()
        .find(|(row, _)| row == id)
        .map(|(_, seen)| seen.clone())
        .ok_or_else(|| SurveyError::internal(format!("the ledger does not tell what {id} showed")))
}

fn append_act(pen: &Pen<'_>, kind: &str, what: ActKind) -> Result<u64, SurveyError> {
    let seq = pen.next_seq()?;
    let act = Act { seq, by: pen.by().to_owned(), at: Some(pen.now()), what };
    pen.append(kind, &[record::put(pen.db, &StoredAct { id: seq.to_string(), act })?])
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
