//! What people decide of rows. A decision stores what the person saw, so that every later ledger can
//! tell whether it still holds.

use crate::pen::Pen;
use crate::record;
use crate::survey::Survey;
use crate::things::StoredAct;
use crate::{SurveyError, places};
use ledger::{Act, ActKind, Ground, LedgerRow, Outcome, Seen, State};
use serde_json::{Map, Value};

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
        let before = self.before(if_version)?;
        self.write(by, |pen| {
            let outcome = self.settled(pen)?;
            self.check_unchanged(pen, &outcome, ids, (if_version, before.as_ref()))?;
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
                entries.push(append_act(pen, "decide", what, Map::new())?);
            }
            Ok(entries)
        })
    }

    /// The ledger that a person saw, where another stands since. Made before anybody is kept from
    /// writing, since it takes its time; the one that stands is remembered by it too.
    pub(crate) fn before(&self, if_version: Option<u64>) -> Result<Option<Outcome>, SurveyError> {
        self.read(|db| {
            let now = self.built(db)?.ledger.version;
            let older = if_version.filter(|seen| *seen < now);
            older.map(|seen| self.built_at(db, seen)).transpose()
        })
    }

    /// Refuses if one of the rows is no longer as the ledger of the version that was seen showed it;
    /// `before` gave that ledger, unless it was the one that stood.
    pub(crate) fn check_unchanged(
        &self,
        pen: &Pen<'_>,
        now: &Outcome,
        ids: &[String],
        (seen, before): (Option<u64>, Option<&Outcome>),
    ) -> Result<(), SurveyError> {
        let Some(seen) = seen else { return Ok(()) };
        if seen == now.ledger.version {
            return Ok(());
        }
        if seen > now.ledger.version {
            return Err(SurveyError::refused(
                format!("version {seen} is not reached yet: this is {}", now.ledger.version),
                "Give the version that `emissions --json` printed.",
            ));
        }
        // Somebody wrote in between, if it is not there.
        let made;
        let then = match before {
            Some(then) => then,
            None => {
                made = self.built_at(pen.db, seen)?;
                &made
            }
        };
        for id in ids {
            let row = row_of(now, id)?;
            let same = row_of(then, id).is_ok_and(|before| looks_the_same(before, row));
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
    check_reason("a decision", &verdict.reason)?;
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

/// What stays in the journal says why.
pub(crate) fn check_reason(what: &str, reason: &str) -> Result<(), SurveyError> {
    // The dots that stand for a reason in our own examples are none.
    if reason.chars().any(char::is_alphanumeric) {
        return Ok(());
    }
    Err(SurveyError::refused(
        format!("{what} needs its reason in words"),
        "Give it with --reason; it stays in the journal and may be read by others.",
    ))
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

/// What a person sees of a row.
pub(crate) fn seen_of(outcome: &Outcome, id: &str) -> Result<Seen, SurveyError> {
    outcome
        .seen
        .iter()
        .find(|(row, _)| row == id)
        .map(|(_, seen)| seen.clone())
        .ok_or_else(|| SurveyError::internal(format!("the ledger does not tell what {id} showed")))
}

/// Writes an act, with more of it for those who read the journal.
pub(crate) fn append_act(
    pen: &Pen<'_>,
    kind: &str,
    what: ActKind,
    about: Map<String, Value>,
) -> Result<u64, SurveyError> {
    let seq = pen.next_seq()?;
    let act = Act { seq, by: pen.by().to_owned(), at: Some(pen.now()), what };
    let change = record::put(pen.db, &StoredAct { id: seq.to_string(), act })?;
    pen.append_about(kind, about, &[change])
}
