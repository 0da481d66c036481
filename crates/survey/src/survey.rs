//! A survey, opened: its folder, its database, and what it says of itself.

use crate::SurveyError;
use crate::clock::{now, runs_back, time_in};
use crate::database;
use crate::derive::{Derived, Deriver};
use crate::evidence;
use crate::floors::Floors;
use crate::folder::Folder;
use crate::journal::{self, Entry};
use crate::record;
use crate::things::{Head, Mapping};
use ledger::{FileInfo, Input, Outcome};
use rusqlite::Connection;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use units::{Reason, Utc};

/// A survey, opened. Opening twice is safe: every change is one transaction, and programs that
/// have the same survey open wait for each other.
pub struct Survey {
    pub(crate) folder: Folder,
    pub(crate) db: Mutex<Connection>,
    pub(crate) deriver: Box<dyn Deriver>,
    pub(crate) cache: Mutex<BTreeMap<String, Arc<Derived>>>,
    /// The ledgers that were made last, and what each was made of; the latest first.
    pub(crate) made: Mutex<Vec<(Input, Outcome)>>,
    /// What was derived again since the last ledger because it was found altered.
    pub(crate) remade: Mutex<Vec<Reason>>,
    /// Not a byte is written.
    pub(crate) unwritten: bool,
}

impl std::fmt::Debug for Survey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Survey").field("folder", &self.folder).finish_non_exhaustive()
    }
}

impl Survey {
    /// Opens a survey, and clears away what killed programs left half done.
    ///
    /// # Errors
    /// If there is none, a newer program wrote it, or the disk will not.
    pub fn open(dir: &Path) -> Result<Survey, SurveyError> {
        Self::open_with(dir, Box::new(Floors))
    }

    /// [`Survey::open`], with another analysis than this program's. For tests.
    #[doc(hidden)]
    pub fn open_with(dir: &Path, deriver: Box<dyn Deriver>) -> Result<Survey, SurveyError> {
        let folder = Folder::at(dir);
        let db = database::open(&folder)?;
        folder.sweep()?;
        Ok(Survey::of(folder, db, deriver, false))
    }

    /// Opens a survey to read in it. Where nothing may be written (a locked stick, a disc) not a
    /// byte is, and what is not analysed stays so.
    ///
    /// # Errors
    /// As [`Survey::open`], and [`Survey::open_unwritten`].
    pub fn open_to_read(dir: &Path) -> Result<Survey, SurveyError> {
        match Self::open(dir) {
            Err(error) if error.is_unwritable() => Self::open_unwritten(dir),
            opened => opened,
        }
    }

    /// Opens a survey that is to stay as it is to the last byte (somebody else's copy, a medium
    /// that may not be written). It can be read and verified; what is not analysed stays so.
    ///
    /// # Errors
    /// If there is none, it is in use, another version wrote it, or the disk will not.
    pub fn open_unwritten(dir: &Path) -> Result<Survey, SurveyError> {
        Self::open_unwritten_with(dir, Box::new(Floors))
    }

    /// [`Survey::open_unwritten`], with another analysis than this program's. For tests.
    #[doc(hidden)]
    pub fn open_unwritten_with(
        dir: &Path,
        deriver: Box<dyn Deriver>,
    ) -> Result<Survey, SurveyError> {
        let folder = Folder::at(dir);
        let db = database::open_unwritten(&folder)?;
        Ok(Survey::of(folder, db, deriver, true))
    }

    fn of(folder: Folder, db: Connection, deriver: Box<dyn Deriver>, unwritten: bool) -> Survey {
        let db = Mutex::new(db);
        let (cache, made, remade) = (Mutex::default(), Mutex::default(), Mutex::default());
        Survey { folder, db, deriver, cache, made, remade, unwritten }
    }

    /// The survey's folder.
    pub fn dir(&self) -> &Path {
        self.folder.root()
    }

    /// Name, region, time zone, technician.
    ///
    /// # Errors
    /// If the record cannot be read.
    pub fn head(&self) -> Result<Head, SurveyError> {
        self.read(head_of)
    }

    /// Where an evidence file lies.
    pub fn evidence_path(&self, sha256: &str) -> PathBuf {
        self.folder.evidence(sha256)
    }

    /// The bytes of an evidence file; `None` where it is larger than `most`, missing, or no longer
    /// what was brought in.
    ///
    /// # Errors
    /// If it cannot be read.
    pub fn evidence(&self, file: &FileInfo, most: u64) -> Result<Option<Vec<u8>>, SurveyError> {
        let path = self.evidence_path(&file.sha256);
        if file.bytes > most || !path.exists() {
            return Ok(None);
        }
        let bytes = std::fs::read(&path).map_err(|e| SurveyError::disk(&path, "read it", e))?;
        let sha256 = evidence::hex(&Sha256::digest(&bytes));
        Ok((sha256 == file.sha256).then_some(bytes))
    }

    /// The journal, oldest first.
    ///
    /// # Errors
    /// If it cannot be read.
    pub fn journal(&self) -> Result<Vec<Entry>, SurveyError> {
        self.read(|db| {
            let mut entries = Vec::new();
            journal::each(db, None, |entry| {
                entries.push(entry);
                Ok::<_, SurveyError>(())
            })?;
            Ok(entries)
        })
    }

    /// Number of the journal's last entry: the version of everything in the survey.
    ///
    /// # Errors
    /// If the journal cannot be read.
    pub fn version(&self) -> Result<u64, SurveyError> {
        Ok(self.read(journal::head)?.0)
    }

    /// What to say if the machine's clock stands before the journal's latest entry: what is written
    /// now would look as if it had been done before.
    ///
    /// # Errors
    /// If the journal cannot be read.
    pub fn clock_runs_back(&self) -> Result<Option<Reason>, SurveyError> {
        let latest: Option<String> = self.read(|db| {
            db.query_row("SELECT max(time) FROM journal", [], |row| row.get(0))
                .map_err(|e| self.fail("read the journal", e))
        })?;
        let latest = latest.and_then(|time| Utc::parse(&time).ok());
        Ok(latest.filter(|latest| runs_back(*latest, now())).map(|latest| {
            let text = format!(
                "The machine's clock says {}, before the journal's latest entry ({latest}): set it \
                 right, else what is written now seems to have been done earlier.",
                now()
            );
            Reason::new("clock_runs_back", text)
        }))
    }

    /// A time as a person types it: RFC 3339, or without an offset in the survey's time zone.
    ///
    /// # Errors
    /// If it is neither.
    pub fn time(&self, text: &str) -> Result<Utc, SurveyError> {
        time_in(text, &self.head()?.time_zone)
    }

    /// A saved column mapping, as `add --columns` takes it.
    ///
    /// # Errors
    /// If there is none of that name.
    pub fn mapping(&self, name: &str) -> Result<String, SurveyError> {
        let saved = self.read(record::all::<Mapping>)?;
        if let Some(mapping) = saved.iter().find(|mapping| mapping.name == name) {
            return Ok(mapping.columns.clone());
        }
        let names: Vec<_> = saved.iter().map(|mapping| mapping.name.as_str()).collect();
        let known = if names.is_empty() { "none is saved".into() } else { names.join(", ") };
        Err(SurveyError::refused(
            format!("there is no saved mapping '{name}' ({known})"),
            "Save one in the record (`describe --apply`), or give the columns with --columns.",
        ))
    }
}

pub(crate) fn head_of(db: &Connection) -> Result<Head, SurveyError> {
    record::get::<Head>(db, "survey")?.ok_or_else(|| SurveyError::Damaged {
        what: "the record has no row for the survey itself".into(),
    })
}
