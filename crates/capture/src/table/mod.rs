//! Tables: swept spectra, event logs of hand-held detectors and readings as CSV. Separator and
//! decimal sign are told by content; what the columns mean the table says itself or a person says
//! it in a [`Mapping`]. Units are never guessed.

mod assume;
mod cells;
mod event_log;
mod figure;
mod forms;
mod grammar;
mod iso;
mod layout;
mod looks;
mod mapping;
mod named;
mod point;
mod propose;
mod rows;
mod segment;
mod sheet;
mod stamp;
mod sweep;
mod timeline;
mod traces;
mod unit;
mod words;

pub use event_log::EventLog;
pub use mapping::{Column, Mapping, MappingError, Shape, TimeForm};
pub use propose::Proposal;
pub use traces::TraceFile;
pub use unit::{CounterUnit, DurationUnit, FrequencyUnit};

use crate::source::{ByteSource, FileSource};
use crate::{CaptureError, OpenOptions, Opened, Place};
use layout::{Layout, layout_of};
use sheet::{Beginning, Sheet, beginning, columns_of};
use std::path::Path;
use std::sync::Arc;
use units::Reason;

/// Whether a file that begins so is text, and so may be a table.
pub fn looks_like_table(head: &[u8]) -> bool {
    if is_utf16(head) {
        return true;
    }
    let control = |b: &u8| (*b < b' ' && !matches!(b, b'\t' | b'\n' | b'\r')) || *b == 0x7f;
    // Letters with accents are few; samples are any byte.
    let high = head.iter().filter(|b| **b >= 0x80).count();
    let utf8 = match std::str::from_utf8(head) {
        Ok(_) => true,
        Err(e) => e.valid_up_to() + 4 > head.len(),
    };
    !head.iter().any(control) && (utf8 || 10 * high < head.len())
}

fn is_utf16(head: &[u8]) -> bool {
    head.starts_with(b"\xff\xfe") || head.starts_with(b"\xfe\xff")
}

/// What to ask a person about a table: `None` if the file is none, or is read as it is.
///
/// # Errors
/// If it cannot be read, or is text but no table that a mapping could be proposed for.
pub fn propose(path: &Path, options: &OpenOptions) -> Result<Option<Proposal>, CaptureError> {
    if options.mapping.is_some() || options.format.is_some() || !crate::open::is_table(path)? {
        return Ok(None);
    }
    let source: Arc<dyn ByteSource> = Arc::new(FileSource::open(path)?);
    let (layout, beginning) = look(&source, path)?;
    match propose::propose(&beginning, layout) {
        Some(proposal) if is_as_it_is(&proposal) => Ok(None),
        Some(proposal) => Ok(Some(proposal)),
        None => Err(no_proposal(path, &beginning)),
    }
}

/// How a table begins, as it stands there, and what it seems to be.
#[derive(Debug, Clone, PartialEq)]
pub struct TableHead {
    /// Its first rows, titles and header among them, each as its fields.
    pub rows: Vec<Vec<String>>,
    /// What it seems to be; `None` where nothing tells what the columns are.
    pub proposal: Option<Proposal>,
    /// Whether the proposal leaves nothing for a person to confirm.
    pub is_certain: bool,
}

/// How a table begins; `None` if the file is none.
///
/// # Errors
/// If it cannot be read.
pub fn head(path: &Path) -> Result<Option<TableHead>, CaptureError> {
    if !crate::open::is_table(path)? {
        return Ok(None);
    }
    let source: Arc<dyn ByteSource> = Arc::new(FileSource::open(path)?);
    let (layout, beginning) = look(&source, path)?;
    let proposal = propose::propose(&beginning, layout);
    let is_certain = proposal.as_ref().is_some_and(is_as_it_is);
    Ok(Some(TableHead { rows: beginning.rows, proposal, is_certain }))
}

/// Opens a table.
///
/// # Errors
/// If it cannot be read, needs a mapping, or is not what the mapping says.
pub(crate) fn open(
    source: Arc<dyn ByteSource>,
    path: &Path,
    options: &OpenOptions,
) -> Result<Opened, CaptureError> {
    let (layout, beginning) = look(&source, path)?;
    let mapping = match &options.mapping {
        Some(mapping) => mapping.clone(),
        None => match propose::propose(&beginning, layout) {
            Some(proposal) if is_as_it_is(&proposal) => proposal.mapping,
            Some(proposal) => return Err(unconfirmed(path, &proposal)),
            None => return Err(no_proposal(path, &beginning)),
        },
    };
    let mut opened = match mapping.shape {
        Some(shape) => {
            let sheet = sheet_of_traces(source, path, layout, &mapping, shape, &beginning)?;
            traces::open(sheet, &beginning, &mapping, shape, options)?
        }
        None => event_log::open(&Sheet::new(source, path, layout, &mapping)?, &mapping, options)?,
    };
    if options.rate_hz.is_some() || options.centre_hz.is_some() {
        opened.warnings.push(Reason::new(
            "not_of_tables",
            "a sample rate or centre frequency was given, which a table has no use for",
        ));
    }
    Ok(opened)
}

/// Tells the layout and reads the first rows.
fn look(source: &Arc<dyn ByteSource>, path: &Path) -> Result<(Layout, Beginning), CaptureError> {
    let mut mark = [0; 2];
    let n = source.read_full(0, &mut mark).map_err(|e| CaptureError::disk(path, "read it", e))?;
    if is_utf16(&mark[..n]) {
        return Err(CaptureError::refused(
            path,
            Place::Byte(0),
            "this is text in UTF-16",
            "UTF-8",
            "Save it anew as CSV in UTF-8.",
        ));
    }
    let layout = layout_of(source, path)?;
    let beginning = beginning(source, path, layout)?;
    if beginning.rows.is_empty() {
        return Err(CaptureError::refused(
            path,
            Place::Whole,
            "it has no row with anything in it",
            "a table",
            "Look for another copy.",
        ));
    }
    Ok((layout, beginning))
}

/// A table of traces that names its units and leaves nothing to assume.
fn is_as_it_is(proposal: &Proposal) -> bool {
    proposal.mapping.shape.is_some() && proposal.assumed.is_empty()
}

/// Where the shape has its header.
fn sheet_of_traces(
    source: Arc<dyn ByteSource>,
    path: &Path,
    layout: Layout,
    mapping: &Mapping,
    shape: Shape,
    beginning: &Beginning,
) -> Result<Sheet, CaptureError> {
    let is_named = mapping.columns().iter().any(|(_, c)| matches!(c, Column::Name(_)));
    if is_named || shape == Shape::Point {
        return Sheet::new(source, path, layout, &mapping.placed());
    }
    let sheet = Sheet::new(source, path, layout, &Mapping::default())?;
    let first = beginning.rows.first().cloned().unwrap_or_default();
    let is_header = match shape {
        Shape::Segment => {
            let low = first.get(2).map_or("", String::as_str);
            figure::hertz(low.as_bytes(), layout.decimal, Some(1.0)).is_none()
        }
        _ => true,
    };
    Ok(if is_header { sheet.with_header(first) } else { sheet })
}

#[cold]
fn unconfirmed(path: &Path, proposal: &Proposal) -> CaptureError {
    let assumed = proposal.assumed.join("; ");
    let found = if assumed.is_empty() {
        "a table does not say by itself what its columns are".to_owned()
    } else {
        format!("a table does not say by itself what its columns are ({assumed})")
    };
    let remedy = format!("If this is right, say it: {proposal}.");
    CaptureError::refused(path, Place::Whole, found, "--columns or --map", remedy)
}

#[cold]
fn no_proposal(path: &Path, beginning: &Beginning) -> CaptureError {
    let first = beginning.rows.first().map_or(&[][..], Vec::as_slice);
    CaptureError::refused(
        path,
        Place::Whole,
        format!("nothing tells what its columns are: {}", columns_of(first).join(", ")),
        "--columns or --map",
        "Say which is which: --columns time=COLUMN,frequency=COLUMN:MHz,strength=COLUMN/STEPS (or band=, \
         level=COLUMN:dBm, shape=…).",
    )
}
