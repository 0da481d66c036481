//! How a table is written, told by its content: the separator, and the decimal sign.

use super::rows::Rows;
use super::words::number_and_unit;
use crate::source::ByteSource;
use crate::{CaptureError, Place};
use std::path::Path;
use std::sync::Arc;

/// Rows looked at.
const ROWS: usize = 200;
/// Bytes of rows looked at; two rows at least.
const BYTES: usize = 1 << 20;
/// Separators, the surest first: a comma may be a decimal sign.
const SEPARATORS: [u8; 4] = [b'\t', b';', b'|', b','];

/// How a table is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Layout {
    pub(crate) separator: u8,
    pub(crate) decimal: u8,
}

/// Tells the layout from the first rows.
pub(crate) fn layout_of(source: &Arc<dyn ByteSource>, file: &Path) -> Result<Layout, CaptureError> {
    let mut best: Option<(usize, u8)> = None;
    for separator in SEPARATORS {
        let score = score(source, file, separator)?;
        if score > best.map_or(0, |b| b.0) {
            best = Some((score, separator));
        }
    }
    let Some((_, separator)) = best else {
        return Err(CaptureError::refused(
            file,
            Place::Whole,
            "this is text, but no table: no comma, semicolon, tab or | separates columns",
            "SigMF, WAV, a CSV table, or raw samples with --format",
            "Export it as CSV.",
        ));
    };
    Ok(Layout { separator, decimal: decimal_of(source, file, separator)? })
}

/// Which part of the rows a separator divides, in thousandths, rows of one width counting more; 0
/// where it is rare. Not how many: a wrong one finds rows within quoted text.
fn score(source: &Arc<dyn ByteSource>, file: &Path, separator: u8) -> Result<usize, CaptureError> {
    let mut widths: Vec<usize> = Vec::new();
    first_rows(source, file, separator, &mut |fields| widths.push(fields.len()))?;
    let divided = widths.iter().filter(|w| **w > 1).count();
    let same = widths.iter().all(|w| Some(w) == widths.first());
    if divided == 0 || 2 * divided < widths.len() {
        return Ok(0);
    }
    Ok(2000 * divided / widths.len() + usize::from(same))
}

/// A comma where numbers have one and no point; most numbers decide.
fn decimal_of(
    source: &Arc<dyn ByteSource>,
    file: &Path,
    separator: u8,
) -> Result<u8, CaptureError> {
    let (mut commas, mut points) = (0u64, 0u64);
    first_rows(source, file, separator, &mut |fields| {
        for field in fields.iter().take(1000) {
            let Ok(text) = std::str::from_utf8(field) else { continue };
            let figure = number_and_unit(text).0.as_bytes();
            commas += u64::from(is_number_with(figure, b','));
            points += u64::from(is_number_with(figure, b'.'));
        }
    })?;
    Ok(if commas > points { b',' } else { b'.' })
}

/// Digits, the sign once, digits.
fn is_number_with(field: &[u8], sign: u8) -> bool {
    let digits = field.strip_prefix(b"-").or(field.strip_prefix(b"+")).unwrap_or(field);
    let mut halves = digits.split(|b| *b == sign);
    let number = |half: Option<&[u8]>| {
        half.is_some_and(|h| !h.is_empty() && h.iter().all(u8::is_ascii_digit))
    };
    number(halves.next()) && number(halves.next()) && halves.next().is_none()
}

/// The fields of the first rows; an error beyond the first row ends it quietly, reading tells it.
pub(crate) fn first_rows(
    source: &Arc<dyn ByteSource>,
    file: &Path,
    separator: u8,
    see: &mut dyn FnMut(&[&[u8]]),
) -> Result<Vec<String>, CaptureError> {
    let mut rows = Rows::new(source.clone(), file, separator);
    let mut bytes = 0;
    for n in 0..ROWS {
        match rows.next() {
            Ok(Some(row)) => {
                let fields: Vec<&[u8]> = row.fields().collect();
                bytes += fields.iter().map(|f| f.len() + 1).sum::<usize>();
                see(&fields);
            }
            Err(e) if n == 0 || e.is_disk() => return Err(e),
            Ok(None) | Err(_) => break,
        }
        if bytes > BYTES && n > 0 {
            break;
        }
    }
    Ok(rows.comments)
}
