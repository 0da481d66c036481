//! Work that is still to do: deriving from captures. What is needed follows from the record and
//! from what lies under derived/; table `job` only tells people and other programs how it stands.
//! One program works at a time (a lock on a file that dies with it); the others wait in words.

use crate::derive::{Derived, Task, parameters_of, stem_of};
use crate::parts::{self, Part};
use crate::survey::{Survey, head_of};
use crate::things::{Capture, Chain, Derivation};
use crate::{Progress, SurveyError, folder, record};
use rusqlite::{Connection, OptionalExtension, params};
use std::fs::TryLockError;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::{Arc, PoisonError};
use std::time::Duration;

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
    fn folder(&self, engine: u32) -> String {
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
            self.derive_all(&needs, PROGRAM, progress)?;
        }
    }

    /// What waits, without what failed.
    fn pending(&self) -> Result<Vec<Need>, SurveyError> {
        let engine = self.deriver.engine();
        let mut needs = self.read(wanted)?;
        needs.retain(|need| {
            need.now
                .as_ref()
                .is_none_or(|now| !self.folder.derived(&now.folder).join(FILE).exists())
        });
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
                        "another stillroom is analysing this survey; waiting for it",
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

    /// Derives from one part with this program's engine and lets it count. To be called by the
    /// one who holds the lock.
    pub(crate) fn derive_now(
        &self,
        need: &Need,
        by: &str,
        progress: &dyn Progress,
    ) -> Result<(), SurveyError> {
        let engine = self.deriver.engine();
        let name = need.folder(engine);
        let to = self.folder.derived(&name);
        self.tell(need, &name, "running", None)?;
        if !to.join(FILE).exists() {
            match self.derive_into(need, &to, progress) {
                Ok(()) => {}
                Err(e @ SurveyError::Recording { fault: crate::RecordingFault::Input, .. })
                | Err(e @ (SurveyError::Refused { .. } | SurveyError::Damaged { .. })) => {
                    return self.tell(need, &name, "failed", Some(&e.to_string()));
                }
                Err(e) => {
                    self.tell(need, &name, "pending", None)?;
                    return Err(e);
                }
            }
        }
        self.write(by, |pen| {
            // The record may have changed while this ran; then the result lies there unused.
            let wanted = wanted(pen.db)?;
            let still = wanted.iter().any(|w| w.part.id == need.part.id && w.stem == need.stem);
            if still {
                let derivation =
                    Derivation { id: need.part.id.clone(), folder: name.clone(), engine };
                let change = record::put(pen.db, &derivation)?;
                if change.differs() {
                    pen.append("derive", &[change])?;
                }
            }
            Ok(())
        })?;
        self.tell(need, &name, "done", None)
    }

    fn derive_into(
        &self,
        need: &Need,
        to: &Path,
        progress: &dyn Progress,
    ) -> Result<(), SurveyError> {
        let shown = self.folder.stage()?;
        let files = self.folder.show(&need.capture.files, &shown)?;
        let path = files.first().ok_or_else(|| SurveyError::Damaged {
            what: format!("capture {} has no evidence file", need.capture.id),
        })?;
        let made = self.folder.stage()?;
        let task = Task {
            path,
            sha256: &need.capture.recording,
            parameters: &need.parameters,
            folder: made.path(),
        };
        // A bug in the analysis of one recording must not make the whole survey unusable.
        let derived = catch_unwind(AssertUnwindSafe(|| self.deriver.derive(&task, progress)))
            .unwrap_or_else(|_| {
                Err(SurveyError::internal(format!("the analysis of {} broke off", need.part.id)))
            });
        // A message names the file as the person knows it, not where it was shown.
        let mut derived = derived.map_err(|e| e.without(&shown.path().join("")))?;
        derived.analysis.recording.path =
            need.capture.files.first().map(|file| file.name.clone()).unwrap_or_default();
        // Read back before it counts: what cannot be read would lock people out of the survey.
        let json = serde_json::to_vec(&derived).map_err(|e| e.to_string());
        let json = json.and_then(|json| match serde_json::from_slice::<Derived>(&json) {
            Ok(_) => Ok(json),
            Err(e) => Err(e.to_string()),
        });
        let json = json.map_err(|why| {
            SurveyError::internal(format!("the analysis of {} is no result: {why}", need.part.id))
        })?;
        folder::write_synced(&made.path().join(FILE), &json)?;
        folder::sync_folder(made.path())?;
        if to.exists() {
            std::fs::remove_dir_all(to)
                .map_err(|e| SurveyError::disk(to, "remove what was left here", e))?;
        }
        let parent = to.parent().unwrap_or(to);
        std::fs::create_dir_all(parent)
            .map_err(|e| SurveyError::disk(parent, "make the folder", e))?;
        std::fs::rename(made.path(), to).map_err(|e| SurveyError::disk(to, "move it here", e))?;
        folder::sync_folder(parent)
    }

    fn tell(
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

    /// Derived data by the name of its folder; kept, since what lies there never changes.
    pub(crate) fn derived(&self, name: &str) -> Result<Option<Arc<Derived>>, SurveyError> {
        let mut cache = self.cache.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(derived) = cache.get(name) {
            return Ok(Some(derived.clone()));
        }
        let path = self.folder.derived(name).join(FILE);
        let json = match std::fs::read(&path) {
            Ok(json) => json,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            Err(e) => return Err(SurveyError::disk(&path, "read it", e)),
        };
        let derived: Derived = serde_json::from_slice(&json).map_err(|e| {
            SurveyError::refused(
                format!("{}: this derived data cannot be read: {e}", path.display()),
                "Delete that folder: it is derived again, and nothing is lost.",
            )
        })?;
        let derived = Arc::new(derived);
        cache.insert(name.to_owned(), derived.clone());
        Ok(Some(derived))
    }

    pub(crate) fn fail(&self, doing: &str, e: rusqlite::Error) -> SurveyError {
        SurveyError::database(&self.folder.database(), doing, e)
    }
}

/// What a derived folder holds besides overview and bursts.
const FILE: &str = "analysis.json";
