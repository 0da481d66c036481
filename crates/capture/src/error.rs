//! What can go wrong with a file: it is not what was expected, or the disk will not give or take
//! it. Every message says which file, where in it, what was found, what was expected, what to do.

use crate::disk;
use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

/// Why a file could not be read or written.
#[derive(Debug, thiserror::Error)]
pub enum CaptureError {
    /// The file, or what was said about it, is not usable as it is.
    #[error("{0}")]
    Refused(Box<Fault>),
    /// The operating system could not.
    #[error("{}: could not {doing}: {source}. {}", one_line(&.file.to_string_lossy()), disk::remedy(.source))]
    Disk {
        /// Which file or folder.
        file: PathBuf,
        /// What was being done, to follow 'could not'.
        doing: String,
        /// What the operating system said.
        #[source]
        source: io::Error,
    },
}

/// What is wrong with a file, and where.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// Which file.
    pub file: PathBuf,
    /// Where in it.
    pub place: Place,
    /// What is there.
    pub found: String,
    /// What should have been.
    pub expected: String,
    /// What a person can do, a whole sentence.
    pub remedy: String,
}

/// A name as it can be told within a line: what would end the line, or what a terminal obeys, is
/// written as Rust writes it in text (`\n`, `\u{1b}`).
pub fn one_line(name: &str) -> String {
    name.chars().fold(String::new(), |mut line, c| {
        if c.is_control() || matches!(c, '\u{2028}' | '\u{2029}') {
            line.extend(c.escape_default());
        } else {
            line.push(c);
        }
        line
    })
}

/// Where in a file.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Place {
    /// The whole of it.
    #[default]
    Whole,
    /// A byte, counted from 0.
    Byte(u64),
    /// A line, counted from 1.
    Line(u64),
    /// A field of a line; the field as a header name or `column N`.
    LineField(u64, String),
    /// A field of structured text, `captures[1].core:frequency`.
    Field(String),
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Place::Whole => Ok(()),
            Place::Byte(at) => write!(f, ", byte {at}"),
            Place::Line(line) => write!(f, ", line {line}"),
            Place::LineField(line, field) => write!(f, ", line {line}, {field}"),
            Place::Field(path) => write!(f, ", field {path}"),
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}{}: {}",
            one_line(&self.file.to_string_lossy()),
            self.place,
            one_line(&self.found)
        )?;
        if !self.expected.is_empty() {
            write!(f, "; expected {}", self.expected)?;
        }
        write!(f, ". {}", self.remedy)
    }
}

impl CaptureError {
    /// A refusal: `found` at `place` of `file`, `expected` instead (may be empty), and a whole
    /// sentence of what to do.
    #[cold]
    pub fn refused(
        file: &Path,
        place: Place,
        found: impl Into<String>,
        expected: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        CaptureError::Refused(Box::new(Fault {
            file: file.to_owned(),
            place,
            found: found.into(),
            expected: expected.into(),
            remedy: remedy.into(),
        }))
    }

    /// From an operating-system error while `doing` something ('read it'). A file that is not
    /// there, or a folder in its place, is bad use; anything else is the disk's.
    #[cold]
    pub fn disk(file: &Path, doing: &str, source: io::Error) -> Self {
        match source.kind() {
            io::ErrorKind::NotFound => CaptureError::refused(
                file,
                Place::Whole,
                "there is no such file",
                "",
                "Check the name and the folder.",
            ),
            io::ErrorKind::IsADirectory => CaptureError::folder(file),
            _ => CaptureError::Disk {
                file: file.to_owned(),
                doing: doing.to_owned(),
                source: disk::plain(source),
            },
        }
    }

    /// A folder where a file was expected.
    #[cold]
    pub(crate) fn folder(file: &Path) -> Self {
        CaptureError::refused(
            file,
            Place::Whole,
            "this is a folder",
            "a file",
            "Name the files in it.",
        )
    }

    /// A pipe or a device where a file was expected: it has no size, and cannot be read twice.
    #[cold]
    pub(crate) fn no_file(file: &Path) -> Self {
        CaptureError::refused(
            file,
            Place::Whole,
            "this is a pipe or a device",
            "a file",
            "Write what comes out of it into a file first.",
        )
    }

    /// Whether the disk failed (exit status 3), rather than the input (exit status 2).
    pub fn is_disk(&self) -> bool {
        matches!(self, CaptureError::Disk { .. })
    }

    /// The file that it is about.
    pub fn file(&self) -> &Path {
        match self {
            CaptureError::Refused(fault) => &fault.file,
            CaptureError::Disk { file, .. } => file,
        }
    }
}

impl From<CaptureError> for units::ReadError {
    fn from(error: CaptureError) -> Self {
        units::ReadError { what: error.to_string(), source: Some(Box::new(error)) }
    }
}
