//! Work that is still to do: deriving from captures. What is needed follows from the record and
//! from what lies under derived/; table `job` only tells people and other programs how it stands.
//! One program works at a time (a lock on a file that dies with it); the others wait in words.

use crate::derive::{parameters_of, stem_of};
use crate::derive_part::FILE;
use crate::parts::{self, Part};
use crate::survey::{Survey, head_of};
use crate::things::{Capture, Chain, Derivation};
use crate::{Progress, SurveyError, record};
use rusqlite::{Connection, OptionalExtension, params};
use std::fs::TryLockError;
use std::sync::PoisonError;
use std::time::Duration;
use units::Reason;

/// Who writes the entries of what the program does by itself.
pub(crate) const PROGRAM: &str = "stillroom";

/// One piece of work, as table `job` tells it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Job {
    /// `derive`.
    pub kind: String,
    /// Capture, or part of one.
    pub input: String,
    /// `pending`, `running`, `done` or `failed`.
    pub state: String,
    /// Process that works on it, or did.
    pub owner: Option<String>,
    /// Why it failed.
    pub message: Option<String>,
}

/// A capture or part that should be derived from.
#[derive(Debug, Clone)]
pub(crate) struct Need {
    pub(crate) capture: Capture,
    pub(crate) part: Part,
    pub(crate) parameters: crate::derive::Parameters,
    /// Folder name without the engine's number.
    pub(crate) stem: String,
    /// What it counts with now, if it was derived from with these parameters before.
    pub(crate) now: Option<Derivation>,
}

impl Need {
    pub(crate) fn folder(&self, engine: u32) -> String {
        format!("{}-{engine}", self.stem)
    }
}

/// Every capture and part that counts and is of a kind that is derived from.
pub(crate) fn wanted(db: &Connection) -> Result<Vec<Need>, SurveyError> {
    let region = head_of(db)?.region;
    let movements = parts::movements(db)?;
    let chains = record::all::<Chain>(db)?;
    let mut needs = Vec::new();
    for capture in record::all::<Capture>(db)? {
        if !capture.is_derived_from() || capture.set_aside.is_some() {
            continue;
        }
        let chain = chains.iter().find(|chain| chain.name == capture.chain);
        let clock_s = parts::clock_of(&capture, chain);
        for part in parts::parts_of(&capture, clock_s, &movements) {
            let parameters = parameters_of(&capture, &region, chain, clock_s, part.range_s);
            let stem = stem_of(&capture.recording, &parameters)?;
            let now = record::get::<Derivation>(db, &part.id)?
                .filter(|derivation| derivation.folder.starts_with(&format!("{stem}-")));
            needs.push(Need { capture: capture.clone(), part, parameters, stem, now });
        }
    }
    Ok(needs)
}

/// Tells that a part waits to be derived from. Inside a transaction.
pub(crate) fn announce(db: &Connection, survey: &Survey) -> Result<(), SurveyError> {
    for need in wanted(db)?.iter().filter(|need| need.now.is_none()) {
        db.execute(
            "INSERT OR IGNORE INTO job (kind, input, folder, state) VALUES ('derive', ?1, ?2, 'pending')",
            params![need.part.id, need.folder(survey.deriver.engine())],
        )
        .map_err(|e| survey.fail("write its jobs", e))?;
    }
    Ok(())
}

impl Survey {
    /// How the work stands, newest last.
    ///
    /// # Errors
    /// If the database cannot be read.
    pub fn jobs(&self) -> Result<Vec<Job>, SurveyError> {
        self.read(|db| {
            let mut query = db
                .prepare("SELECT kind, input, state, owner, message FROM job ORDER BY id")
                .map_err(|e| self.fail("read its jobs", e))?;
            let rows = query.query_map([], |row| {
                Ok(Job {
                    kind: row.get(0)?,
                    input: row.get(1)?,
                    state: row.get(2)?,
                    owner: row.get(3)?,
                    message: row.get(4)?,
                })
            });
            rows.and_then(Iterator::collect).map_err(|e| self.fail("read its jobs", e))
        })
    }

    /// Derives from everything that waits for it. Safe to call from several programs at once:
    /// one works, the others wait and find it done. A capture that cannot be analysed is marked
    /// failed, told by [`Survey::jobs`] and by the ledger's warnings, and does not stop the rest.
    ///
    /// # Errors
    /// If the disk will not, or `progress` says that it is cancelled.
    pub fn finish_pending(&self, progress: &dyn Progress) -> Result<(), SurveyError> {
        if self.unwritten || self.pending()?.is_empty() {
            return Ok(());
        }
        let _lock = self.wait_to_work(progress)?;
        // Asked again each time: another program may have worked, amended or set aside meanwhile.
        loop {
            let needs = self.pending()?;
            if needs.is_empty() {
                return Ok(());
            }
            let altered = needs.iter().filter(|need| self.lies_there(need)).map(remade_reason);
            let altered: Vec<Reason> = altered.collect();
            self.derive_all(&needs, PROGRAM, progress)?;
            self.remade.lock().unwrap_or_else(PoisonError::into_inner).extend(altered);
        }
    }

    /// How many captures and parts wait to be derived from.
    ///
    /// # Errors
    /// If the database cannot be read.
    pub fn waiting(&self) -> Result<usize, SurveyError> {
        Ok(if self.unwritten { 0 } else { self.pending()?.len() })
    }

    /// Whether something lies where it was derived into. It waits nevertheless if it was altered.
    fn lies_there(&self, need: &Need) -> bool {
        let folder = need.now.as_ref().map(|now| self.folder.derived(&now.folder));
        folder.is_some_and(|folder| folder.join(FILE).exists())
    }

    /// What waits, without what failed.
    fn pending(&self) -> Result<Vec<Need>, SurveyError> {
        let engine = self.deriver.engine();
        let mut needs = Vec::new();
        for need in self.read(wanted)? {
            let derived = need.now.as_ref().map(|now| self.derived(now)).transpose()?.flatten();
            if derived.is_none() {
                needs.push(need);
            }
        }
        let db = self.db();
        let mut pending = Vec::new();
        for need in needs {
            let state: Option<String> = db
                .query_row(
                    "SELECT state FROM job WHERE kind = 'derive' AND input = ?1 AND folder = ?2",
                    params![need.part.id, need.folder(engine)],
                    |row| row.get(0),
                )
                .optional()
                .map_err(|e| self.fail("read its jobs", e))?;
            if state.as_deref() != Some("failed") {
                pending.push(need);
            }
        }
        Ok(pending)
    }

    /// The lock of the one program that works.
    pub(crate) fn wait_to_work(
        &self,
        progress: &dyn Progress,
    ) -> Result<std::fs::File, SurveyError> {
        let lock = self.folder.lock_file("jobs.lock")?;
        loop {
            match lock.try_lock() {
                Ok(()) => return Ok(lock),
                Err(TryLockError::WouldBlock) if progress.cancelled() => {
                    return Err(SurveyError::Cancelled);
                }
                Err(TryLockError::WouldBlock) => {
                    progress.step(
                        0,
                        1,
                        "another analysis of this survey is running; waiting for it",
                    );
                    std::thread::sleep(Duration::from_millis(50));
                }
                Err(TryLockError::Error(e)) => {
                    return Err(SurveyError::disk(
                        &self.folder.root().join("jobs.lock"),
                        "lock it",
                        e,
                    ));
                }
            }
        }
    }

    pub(crate) fn tell(
        &self,
        need: &Need,
        folder: &str,
        state: &str,
        message: Option<&str>,
    ) -> Result<(), SurveyError> {
        let owner = format!("process {}", std::process::id());
        self.db()
            .execute(
                "INSERT INTO job (kind, input, folder, state, owner, message)
                 VALUES ('derive', ?1, ?2, ?3, ?4, ?5)
                 ON CONFLICT (kind, input, folder) DO UPDATE SET
                 state = excluded.state, owner = excluded.owner, message = excluded.message",
                params![need.part.id, folder, state, owner, message],
            )
            .map(|_| ())
            .map_err(|e| self.fail("write its jobs", e))
    }

    pub(crate) fn fail(&self, doing: &str, e: rusqlite::Error) -> SurveyError {
        SurveyError::database(&self.folder.database(), doing, e)
    }
}

/// That derived data was found altered, and made again.
fn remade_reason(need: &Need) -> Reason {
    let id = need.part.id.as_str();
    let text = format!(
        "What was derived from {id} had been altered since, outside this program: it was analysed \
         again from its evidence."
    );
    Reason::new("derived_altered", text).with("capture", id)
}

/// Why a capture does not count although it is there.
pub(crate) fn failed_reason(input: &str, message: Option<&str>) -> Reason {
    Reason::new(
        "analysis_failed",
        format!(
            "{input} could not be analysed and counts for nothing: {} (`reanalyse` tries again)",
            message.unwrap_or("nobody knows why").trim_end_matches('.')
        ),
    )
    .with("capture", input)
}
