//! What can go wrong with a survey, and what to do about it. A message is whole by itself: what
//! the disk or the database said stands in it, so there is no chain of causes to print besides.

use crate::things::Flaw;
use capture::one_line;
use ledger::LedgerRow;
use std::io;
use std::path::{Path, PathBuf};

/// Why something could not be done.
#[derive(Debug, thiserror::Error)]
pub enum SurveyError {
    /// Bad use, bad input, or refused.
    #[error("{}. {remedy}", one_line(what))]
    Refused {
        /// What is wrong, and where.
        what: String,
        /// What a person can do: a whole sentence.
        remedy: String,
    },
    /// A file that was brought in, or its analysis.
    #[error("{cause}")]
    Recording {
        /// What the readers or the analysis said, a whole message.
        cause: Box<dyn std::error::Error + Send + Sync>,
        /// Whose fault it is.
        fault: RecordingFault,
    },
    /// A row changed between what the person saw and their decision.
    #[error("{} changed since version {seen}: nothing was decided. Look at it as it is now, then decide again.", row.id)]
    Changed {
        /// The ledger's version that the person saw.
        seen: u64,
        /// The row as it is now.
        row: Box<LedgerRow>,
    },
    /// A part of the record changed between what the person saw and what they wrote.
    #[error(
        "the record's {part} changed since version {seen}: nothing was changed. Look at them as they are now, then write again."
    )]
    RecordChanged {
        /// The record's version that the person saw.
        seen: u64,
        /// Key of the part.
        part: &'static str,
    },
    /// The disk would not.
    #[error("{}: could not {doing}: {cause}. {}", told(file), capture::disk::remedy(cause))]
    Disk {
        /// Which file or folder.
        file: PathBuf,
        /// What was tried, to follow 'could not'.
        doing: String,
        /// What the operating system said.
        cause: io::Error,
    },
    /// The database would not.
    #[error("{}: could not {doing}: {cause}. {remedy}", told(file))]
    Database {
        /// The database file.
        file: PathBuf,
        /// What was tried, to follow 'could not'.
        doing: String,
        /// What SQLite said.
        cause: Box<rusqlite::Error>,
        /// What a person can do.
        remedy: &'static str,
    },
    /// What the survey holds is not what it should be.
    #[error(
        "{}. Run `verify`, keep this folder as it is, and work on from a copy made earlier.",
        one_line(what)
    )]
    Damaged {
        /// What is damaged.
        what: String,
    },
    /// Stopped by the person.
    #[error("stopped; what was acknowledged is kept, and the rest is taken up again next time")]
    Cancelled,
}

/// Whose fault a recording's error is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RecordingFault {
    /// The file or what was said about it.
    Input,
    /// The disk.
    Disk,
}

impl SurveyError {
    /// Exit status of a command that ends with this error.
    pub fn exit_code(&self) -> u8 {
        match self {
            SurveyError::Refused { .. }
            | SurveyError::Changed { .. }
            | SurveyError::RecordChanged { .. } => 2,
            SurveyError::Recording { fault: RecordingFault::Input, .. } => 2,
            SurveyError::Recording { fault: RecordingFault::Disk, .. } => 3,
            SurveyError::Disk { .. } | SurveyError::Database { .. } => 3,
            SurveyError::Damaged { .. } => 3,
            SurveyError::Cancelled => 130,
        }
    }

    /// What to tell of a damage to one who runs `verify` already.
    pub fn damage(&self) -> String {
        self.to_string().replace("Run `verify`, keep", "Keep")
    }

    /// Whether the survey itself is damaged: to `verify`, that is an answer.
    pub fn is_damage(&self) -> bool {
        use rusqlite::ErrorCode::{DatabaseCorrupt, NotADatabase};
        match self {
            SurveyError::Damaged { .. } => true,
            SurveyError::Database { cause, .. } => {
                matches!(cause.sqlite_error_code(), Some(DatabaseCorrupt | NotADatabase))
            }
            _ => false,
        }
    }

    /// Whether another program holds what was needed, so that trying again may do.
    pub fn is_busy(&self) -> bool {
        use rusqlite::ErrorCode::{DatabaseBusy, DatabaseLocked};
        match self {
            SurveyError::Database { cause, .. } => {
                matches!(cause.sqlite_error_code(), Some(DatabaseBusy | DatabaseLocked))
            }
            _ => false,
        }
    }

    /// Whether nothing more fits on the disk.
    pub fn is_full(&self) -> bool {
        use io::ErrorKind::{QuotaExceeded, StorageFull};
        match self {
            SurveyError::Disk { cause, .. } => matches!(cause.kind(), StorageFull | QuotaExceeded),
            SurveyError::Database { cause, .. } => {
                cause.sqlite_error_code() == Some(rusqlite::ErrorCode::DiskFull)
            }
            _ => false,
        }
    }

    /// Whether the survey lies where nothing may be written, or nothing more fits.
    pub fn is_unwritable(&self) -> bool {
        use io::ErrorKind;
        use rusqlite::ErrorCode::{
            CannotOpen, DiskFull, PermissionDenied, ReadOnly, SystemIoFailure,
        };
        match self {
            SurveyError::Disk { cause, .. } => matches!(
                cause.kind(),
                ErrorKind::PermissionDenied
                    | ErrorKind::ReadOnlyFilesystem
                    | ErrorKind::StorageFull
                    | ErrorKind::QuotaExceeded
            ),
            SurveyError::Database { cause, .. } => matches!(
                cause.sqlite_error_code(),
                Some(ReadOnly | PermissionDenied | CannotOpen | DiskFull | SystemIoFailure)
            ),
            _ => false,
        }
    }

    /// A refusal with what to do, a whole sentence.
    #[cold]
    pub(crate) fn refused(what: impl Into<String>, remedy: impl Into<String>) -> Self {
        SurveyError::Refused { what: what.into(), remedy: remedy.into() }
    }

    /// Something that this program should never do.
    #[cold]
    pub(crate) fn internal(what: impl Into<String>) -> Self {
        SurveyError::refused(
            format!("the program itself is at fault: {}", what.into()),
            "Nothing was changed; please report it.",
        )
    }

    /// The same, its message without this folder in the paths that it names.
    pub(crate) fn without(self, folder: &Path) -> Self {
        let bare = |text: &str| text.replace(&folder.display().to_string(), "");
        match self {
            SurveyError::Recording { cause, fault } => {
                SurveyError::Recording { cause: bare(&cause.to_string()).into(), fault }
            }
            SurveyError::Refused { what, remedy } => {
                SurveyError::Refused { what: bare(&what), remedy }
            }
            other => other,
        }
    }

    #[cold]
    pub(crate) fn disk(file: &Path, doing: &str, cause: io::Error) -> Self {
        let (file, doing) = (file.to_owned(), doing.to_owned());
        SurveyError::Disk { file, doing, cause: capture::disk::plain(cause) }
    }

    #[cold]
    pub(crate) fn database(file: &Path, doing: &str, cause: rusqlite::Error) -> Self {
        use rusqlite::ErrorCode;
        let remedy = match cause.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
                "Another stillroom is writing to this survey; try again when it is done."
            }
            Some(ErrorCode::DiskFull) => "The disk is full; make room and try again.",
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied | ErrorCode::CannotOpen) => {
                "The folder may not be written; check its permissions, or copy it to a disk that may."
            }
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => {
                "The database is damaged; keep the folder as it is and work on from a copy made earlier."
            }
            _ => "Check that the disk is there, is not full and may be written.",
        };
        let (file, doing, cause) = (file.to_owned(), doing.to_owned(), Box::new(cause));
        SurveyError::Database { file, doing, cause, remedy }
    }
}

/// A path as it can be told within a line.
fn told(path: &Path) -> String {
    one_line(&path.to_string_lossy())
}

impl From<Flaw> for SurveyError {
    fn from(flaw: Flaw) -> Self {
        SurveyError::refused(flaw.what, flaw.remedy)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_say_what_and_what_to_do() {
        let io = io::Error::new(io::ErrorKind::StorageFull, "no space left");
        let full = SurveyError::disk(Path::new("/s/staging/x"), "write it", io);
        assert_eq!(full.exit_code(), 3);
        assert_eq!(
            full.to_string(),
            "/s/staging/x: could not write it: no space left. The disk is full: make room, then try \
             again."
        );
        let refused = SurveyError::refused("there is no capture C9", "`emissions` lists them.");
        assert_eq!(refused.exit_code(), 2);
        assert_eq!(refused.to_string(), "there is no capture C9. `emissions` lists them.");
        let busy = rusqlite::Error::SqliteFailure(rusqlite::ffi::Error::new(5), None);
        let busy = SurveyError::database(Path::new("survey.sqlite"), "write the journal", busy);
        assert_eq!(busy.exit_code(), 3);
        assert!(busy.to_string().contains("Another stillroom is writing"), "{busy}");
        // SQLITE_FULL (sqlite.org, result codes).
        let none = rusqlite::Error::SqliteFailure(rusqlite::ffi::Error::new(13), None);
        let none = SurveyError::database(Path::new("survey.sqlite"), "write the journal", none);
        assert!(none.is_full() && full.is_full() && !busy.is_full());
    }
}
