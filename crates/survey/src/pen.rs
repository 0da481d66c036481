//! Reading and writing in one transaction, and the pen that writes into the journal.

use crate::SurveyError;
use crate::clock::now;
use crate::journal::{self, Change};
use crate::survey::{Survey, head_of};
use rusqlite::{Connection, Transaction, TransactionBehavior};
use serde_json::{Map, Value};
use std::sync::{MutexGuard, PoisonError};
use units::Utc;

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

impl Survey {
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

/// Who writes: as given, else the technician, else 'unstated'.
pub(crate) fn writer(by: &str, technician: Option<String>) -> String {
    let by = by.trim();
    if by.is_empty() { technician.unwrap_or_else(|| "unstated".into()) } else { by.to_owned() }
}
