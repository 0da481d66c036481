//! What `verify` found, and how each fault is told.

use capture::one_line;
use std::fmt;

/// What `verify` found.
#[derive(Debug, Clone, PartialEq)]
pub struct Verification {
    /// Whether nothing is altered or missing.
    pub ok: bool,
    /// What is.
    pub faults: Vec<Fault>,
    /// Evidence files checked.
    pub files: u64,
    /// Their size in all.
    pub bytes: u64,
    /// What is odd and yet no fault: a clock that was set back, files that belong to nothing.
    pub warnings: Vec<String>,
    /// Entries of the journal.
    pub entries: u64,
    /// Hash of the last one: written down elsewhere, it shows later whether entries were cut off.
    pub head: String,
}

/// Something altered or missing.
#[derive(Debug, Clone, PartialEq)]
pub enum Fault {
    /// An evidence file is not there.
    EvidenceMissing {
        /// The capture or found item that it belongs to.
        of: String,
        /// Name that it came in under.
        name: String,
        /// Its hash, and so its place.
        sha256: String,
    },
    /// An evidence file has other bytes.
    EvidenceAltered {
        /// The capture or found item that it belongs to.
        of: String,
        /// Name that it came in under.
        name: String,
        /// What it should hash to.
        sha256: String,
        /// That it is altered and what it hashes to, or why it cannot be read.
        found: String,
    },
    /// What was derived is not as it was derived.
    DerivedAltered {
        /// The capture, or part of one, that it was derived from.
        of: String,
        /// The file, below the survey's folder.
        file: String,
    },
    /// A journal entry is altered or missing.
    Journal {
        /// Its number.
        seq: u64,
        /// What is wrong.
        what: String,
    },
    /// A thing of the record is not what the journal says.
    Record {
        /// Its kind.
        kind: String,
        /// Its id.
        id: String,
        /// What is wrong.
        what: String,
    },
    /// The database itself is damaged.
    Database {
        /// What SQLite, or the comparison of its schema, says.
        what: String,
    },
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Fault::EvidenceMissing { of, name, sha256 } => {
                write!(f, "evidence file {sha256} ({}, of {of}) is missing", one_line(name))
            }
            Fault::EvidenceAltered { of, name, sha256, found } => {
                write!(f, "evidence file {sha256} ({}, of {of}) {found}", one_line(name))
            }
            Fault::DerivedAltered { of, file } => write!(
                f,
                "{file} (derived from {of}) is not as it was derived: `reanalyse` makes it anew from \
                 the evidence, or delete its folder"
            ),
            Fault::Journal { seq, what } => write!(f, "journal entry {seq}: {what}"),
            Fault::Record { kind, id, what } => write!(f, "record of {kind} {id}: {what}"),
            Fault::Database { what } => write!(f, "survey.sqlite: {what}"),
        }
    }
}
