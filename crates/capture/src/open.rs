//! Telling what a file is by its content, and opening it.

use crate::kind::{Kind, kind_of, refuse, refuse_unknown};
use crate::source::{ByteSource, FileSource};
use crate::{CaptureError, OpenOptions, Opened, Place, RawFormat, raw, sigmf, table, wav};
use std::path::Path;
use std::sync::Arc;
use units::Reason;

/// Bytes looked at to tell a kind.
const HEAD_BYTES: usize = 4096;

/// Opens a recording; what kind it is its content tells.
///
/// # Errors
/// If the file is missing, damaged, of a kind without a reader, or lacks what only a person can
/// say (a sample format, a rate, a mapping).
pub fn open(path: &Path, options: &OpenOptions) -> Result<Opened, CaptureError> {
    let source = FileSource::open(path)?;
    if options.format.is_none() {
        if let Some(metadata) = sigmf::metadata_beside(path) {
            return sigmf::open_pair(&metadata, &FileSource::open(&metadata)?, options);
        }
        let head = head(&source, path)?;
        match kind_of(&head) {
            Kind::Json if sigmf::is_metadata(path, &source)? => {
                return sigmf::open_pair(path, &source, options);
            }
            Kind::Unknown if sigmf::is_named_data(path) => return Err(sigmf::no_metadata(path)),
            _ => {}
        }
    }
    open_source(Arc::new(source), path, options)
}

/// Opens what stands in one file with all that it needs: WAV, a SigMF archive, a table, or raw
/// samples.
///
/// # Errors
/// As [`open`].
pub fn open_source(
    source: Arc<dyn ByteSource>,
    path: &Path,
    options: &OpenOptions,
) -> Result<Opened, CaptureError> {
    let head = head(&*source, path)?;
    if let Some(format) = options.format {
        return open_raw(source, path, format, &head, options);
    }
    match kind_of(&head) {
        Kind::Wav => wav::open(source, path, options),
        Kind::Tar => sigmf::open_archive(source, path, options),
        Kind::Refused(unread) => Err(refuse(path, unread)),
        Kind::Json => Err(CaptureError::refused(
            path,
            Place::Whole,
            "this is JSON, but no SigMF metadata",
            "the fields 'global' and 'captures', or 'collection'",
            "Name a recording.",
        )),
        Kind::Unknown if table::looks_like_table(&head) => table::open(source, path, options),
        Kind::Unknown => Err(refuse_unknown(path)),
    }
}

fn open_raw(
    source: Arc<dyn ByteSource>,
    path: &Path,
    format: RawFormat,
    head: &[u8],
    options: &OpenOptions,
) -> Result<Opened, CaptureError> {
    let mut opened = raw::open(source, path, format, options)?;
    if matches!(kind_of(head), Kind::Wav | Kind::Tar | Kind::Json) {
        opened.warnings.push(Reason::new(
            "header_read_as_samples",
            "it begins like a file with a header, which is read as samples because a format was given",
        ));
    }
    Ok(opened)
}

/// Whether a file would be opened as a table.
pub(crate) fn is_table(path: &Path) -> Result<bool, CaptureError> {
    let source = FileSource::open(path)?;
    if sigmf::metadata_beside(path).is_some() || sigmf::is_named_data(path) {
        return Ok(false);
    }
    let head = head(&source, path)?;
    Ok(kind_of(&head) == Kind::Unknown && table::looks_like_table(&head))
}

fn head(source: &dyn ByteSource, path: &Path) -> Result<Vec<u8>, CaptureError> {
    let mut head = vec![0; HEAD_BYTES];
    let n = source.read_full(0, &mut head).map_err(|e| CaptureError::disk(path, "read it", e))?;
    head.truncate(n);
    if n == 0 {
        return Err(CaptureError::refused(
            path,
            Place::Whole,
            "it is empty",
            "a recording",
            "The recorder stopped before it wrote anything, or the copy failed: copy it anew.",
        ));
    }
    Ok(head)
}
