//! A survey, opened: its folder, its database, and the pen that writes into the journal.

use crate::SurveyError;
use crate::clock::{machine_zone, now, time_in, zone};
use crate::database;
use crate::derive::{Derived, Deriver};
use crate::floors::{Floors, check_region};
use crate::folder::Folder;
use crate::journal::{self, Change, Entry};
use crate::record;
use crate::things::{Head, Mapping, Thing};
use rusqlite::{Connection, Transaction, TransactionBehavior};
use serde_json::{Map, Value};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use units::Utc;

/// What a new survey is started with.
#[derive(Debug, Clone)]
pub struct NewSurvey {
    /// Name or code name; the folder's name without.
    pub name: Option<String>,
    /// Region for allocations; WORLD without.
    pub region: Option<String>,
    /// IANA time zone; the machine's without.
    pub time_zone: Option<String>,
    /// The technician; 'unstated' without.
    pub by: Option<String>,
}

/// A survey, opened. Opening twice is safe: every change is one transaction, and programs that
/// have the same survey open wait for each other.
pub struct Survey {
    pub(crate) folder: Folder,
    db: Mutex<Connection>,
    pub(crate) deriver: Box<dyn Deriver>,
    pub(crate) cache: Mutex<BTreeMap<String, Arc<Derived>>>,
    /// Not a byte is written.
    pub(crate) unwritten: bool,
}

/// Writes entries inside one transaction.
pub(crate) struct Pen<'a> {
    /// The transaction; reads see what was written.
    pub(crate) db: &'a Connection,
    by: String,
    now: Utc,
}

impl Pen<'_> {
    /// By whom.
    pub(crate) fn by(&self) -> &str {
        &self.by
    }
    /// When.
    pub(crate) fn now(&self) -> Utc {
        self.now
    }
    /// Appends one entry that makes these changes.
    pub(crate) fn append(&self, kind: &str, changes: &[Change]) -> Result<u64, SurveyError> {
        self.append_about(kind, Map::new(), changes)
    }
    /// The same, with more in its body.
    pub(crate) fn append_about(
        &self,
        kind: &str,
        about: Map<String, Value>,
        changes: &[Change],
    ) -> Result<u64, SurveyError> {
        journal::append(self.db, &self.now.to_string(), &self.by, kind, about, changes)
    }
    /// Number that the next entry will have.
    pub(crate) fn next_seq(&self) -> Result<u64, SurveyError> {
        Ok(journal::head(self.db)?.0 + 1)
    }
}

impl std::fmt::Debug for Survey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Survey").field("folder", &self.folder).finish_non_exhaustive()
    }
}

impl Survey {
    /// Starts a survey in a folder that is empty or not there yet.
    ///
    /// # Errors
    /// If something is there already, the region or time zone is not known, or the disk will not.
    pub fn create(dir: &Path, new: &NewSurvey) -> Result<Survey, SurveyError> {
        Self::create_with(dir, new, Box::new(Floors))
    }

    /// [`Survey::create`], with another analysis than this program's. For tests.
    #[doc(hidden)]
    pub fn create_with(
        dir: &Path,
        new: &NewSurvey,
        deriver: Box<dyn Deriver>,
    ) -> Result<Survey, SurveyError> {
        let folder = Folder::at(dir);
        if folder.database().exists() {
            return Err(SurveyError::refused(
                format!("{} holds a survey already", dir.display()),
                "Choose another folder, or work in that one.",
            ));
        }
        if dir.exists() && !dir.is_dir() {
            return Err(SurveyError::refused(
                format!("{} is a file, and a survey is a folder", dir.display()),
                "Choose another name.",
            ));
        }
        if dir.is_dir() && !is_left_over(dir)? {
            return Err(SurveyError::refused(
                format!("{} is not empty", dir.display()),
                "Choose a new folder, so that the survey's files stay among themselves.",
            ));
        }
        let time_zone = match &new.time_zone {
            Some(name) => zone(name)?.0,
            None => machine_zone(),
        };
        let region = new.region.clone().unwrap_or_else(|| "WORLD".into());
        check_region(&region)?;
        let fallback = dir.file_name().map(|name| name.to_string_lossy().into_owned());
        let said = |text: &Option<String>| {
            text.as_ref().map(|text| text.trim().to_owned()).filter(|text| !text.is_empty())
        };
        let name = said(&new.name).or(fallback).unwrap_or_else(|| "survey".into());
        let now = now();
        let technician = said(&new.by);
        let head = Head { id: String::new(), name, region, time_zone, technician, started: now };
        head.check()?;
        folder.make()?;
        database::create(&folder, |db| {
            let id = db
                .query_row("SELECT lower(hex(randomblob(16)))", [], |row| row.get(0))
                .map_err(|e| SurveyError::database(&folder.database(), "make an id", e))?;
            let by = writer(said(&new.by).as_deref().unwrap_or_default(), None);
            let change = Change {
                kind: "survey".into(),
                id: "survey".into(),
                was: None,
                is: Some(crate::canonical::value_of(&Head { id, ..head })?),
            };
            journal::append(db, &now.to_string(), &by, "new", Map::new(), &[change]).map(|_| ())
        })?;
        Self::open_with(dir, deriver)
    }

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
        let (db, cache) = (Mutex::new(db), Mutex::default());
        Ok(Survey { folder, db, deriver, cache, unwritten: false })
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
        let (db, cache) = (Mutex::new(database::open_unwritten(&folder)?), Mutex::default());
        Ok(Survey { folder, db, deriver, cache, unwritten: true })
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

    pub(crate) fn db(&self) -> MutexGuard<'_, Connection> {
        self.db.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Reads in one transaction: what it sees belongs together.
    pub(crate) fn read<R>(
        &self,
        see: impl FnOnce(&Connection) -> Result<R, SurveyError>,
    ) -> Result<R, SurveyError> {
        let mut db = self.db();
        let tx = self.begin(&mut db, TransactionBehavior::Deferred)?;
        see(&tx)
    }

    /// Writes in one transaction: all of it stands afterwards, or nothing.
    pub(crate) fn write<R>(
        &self,
        by: &str,
        act: impl FnOnce(&Pen<'_>) -> Result<R, SurveyError>,
    ) -> Result<R, SurveyError> {
        if self.unwritten {
            return Err(SurveyError::refused(
                format!("{} was opened to stay as it is", self.dir().display()),
                "Copy the folder to a disk that may be written, and work on the copy.",
            ));
        }
        let mut db = self.db();
        let tx = self.begin(&mut db, TransactionBehavior::Immediate)?;
        let technician = head_of(&tx)?.technician;
        let pen = Pen { db: &tx, by: writer(by, technician), now: now() };
        let result = act(&pen)?;
        tx.commit()
            .map_err(|e| SurveyError::database(&self.folder.database(), "write to it", e))?;
        Ok(result)
    }

    fn begin<'a>(
        &self,
        db: &'a mut Connection,
        how: TransactionBehavior,
    ) -> Result<Transaction<'a>, SurveyError> {
        db.transaction_with_behavior(how)
            .map_err(|e| SurveyError::database(&self.folder.database(), "begin", e))
    }
}

pub(crate) fn head_of(db: &Connection) -> Result<Head, SurveyError> {
    record::get::<Head>(db, "survey")?.ok_or_else(|| SurveyError::Damaged {
        what: "the record has no row for the survey itself".into(),
    })
}

/// Who writes: as given, else the technician, else 'unstated'.
fn writer(by: &str, technician: Option<String>) -> String {
    let by = by.trim();
    if by.is_empty() { technician.unwrap_or_else(|| "unstated".into()) } else { by.to_owned() }
}

/// Whether a folder holds only what a killed `new` leaves.
fn is_left_over(dir: &Path) -> Result<bool, SurveyError> {
    let list = |path: &Path| -> Result<Vec<PathBuf>, SurveyError> {
        std::fs::read_dir(path)
            .and_then(|entries| entries.map(|entry| entry.map(|e| e.path())).collect())
            .map_err(|e| SurveyError::disk(path, "list it", e))
    };
    for path in list(dir)? {
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned());
        let ours = match name.as_deref() {
            Some("evidence" | "derived") => path.is_dir() && list(&path)?.is_empty(),
            Some("staging" | "staging.lock") => true,
            _ => false,
        };
        if !ours {
            return Ok(false);
        }
    }
    Ok(true)
}
