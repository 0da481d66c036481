//! Telling what a file is by its content, and opening it.

use crate::source::{ByteSource, FileSource};
use crate::{CaptureError, OpenOptions, Opened, Place, table};
use std::path::Path;

/// Opens a recording; what kind it is its content tells.
///
/// # Errors
/// If the file is missing, damaged, of a kind without a reader, or lacks what only a person can
/// say (a sample format, a rate, a mapping).
pub fn open(path: &Path, options: &OpenOptions) -> Result<Opened, CaptureError> {
    let source = FileSource::open(path)?;
    let mut head = vec![0; 4096];
    let n = source.read_full(0, &mut head).map_err(|e| CaptureError::disk(path, "read it", e))?;
    head.truncate(n);
    if table::looks_like_table(&head) {
        return table::open(path, options);
    }
    Err(CaptureError::refused(path, Place::Whole, "an unknown kind of file", "", "Wait."))
}
