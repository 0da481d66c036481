//! A table as its readers see it: its layout, its header, which column is which, and refusals that
//! name line and field.

use super::layout::{Layout, first_rows};
use super::mapping::{Column, Mapping};
use super::rows::{Row, Rows};
use crate::source::ByteSource;
use crate::{CaptureError, Place};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A table whose header is known.
#[derive(Clone)]
pub(crate) struct Sheet {
    pub(crate) source: Arc<dyn ByteSource>,
    pub(crate) file: PathBuf,
    pub(crate) layout: Layout,
    /// Names of the columns, where it has them.
    pub(crate) header: Option<Vec<String>>,
    /// Line of the header; rows begin after it.
    header_line: u64,
    first_line: u64,
    /// Columns of the header, or of the first row.
    pub(crate) width: usize,
}

/// The beginning of a table, as text.
pub(crate) struct Beginning {
    pub(crate) rows: Vec<Vec<String>>,
    /// Its first comments.
    pub(crate) comments: Vec<String>,
}

/// Reads the first rows.
pub(crate) fn beginning(
    source: &Arc<dyn ByteSource>,
    file: &Path,
    layout: Layout,
) -> Result<Beginning, CaptureError> {
    let mut rows = Vec::new();
    let comments = first_rows(source, file, layout.separator, &mut |fields| {
        rows.push(fields.iter().map(|f| text_of(f).0).collect());
    })?;
    Ok(Beginning { rows, comments })
}

/// A field as text: UTF-8, else each byte as the character of its number (ISO 8859-1), and whether
/// that had to be.
pub(crate) fn text_of(field: &[u8]) -> (String, bool) {
    match std::str::from_utf8(field) {
        Ok(text) => (text.trim().to_owned(), false),
        Err(_) => {
            (field.iter().map(|b| char::from(*b)).collect::<String>().trim().to_owned(), true)
        }
    }
}

impl Sheet {
    /// Finds the header: the first row with all the names that the mapping uses; without names,
    /// the first row if none of the mapping's fields in it begins like a number.
    pub(crate) fn new(
        source: Arc<dyn ByteSource>,
        file: &Path,
        layout: Layout,
        mapping: &Mapping,
    ) -> Result<Self, CaptureError> {
        let mut sheet = Sheet {
            source,
            file: file.to_owned(),
            layout,
            header: None,
            header_line: 0,
            first_line: 0,
            width: 0,
        };
        let columns = mapping.columns();
        let named = columns.iter().any(|(_, column)| matches!(column, Column::Name(_)));
        let mut rows = Rows::new(sheet.source.clone(), file, layout.separator);
        let mut missing = None;
        for n in 0..100 {
            let Some(row) = rows.next()? else { break };
            let names: Vec<String> = row.fields().map(|f| text_of(f).0).collect();
            if n == 0 {
                (sheet.width, sheet.first_line) = (row.filled(), row.line);
            }
            let absent = columns.iter().find(|(_, c)| match c {
                Column::Name(name) => find(&names, name).is_none(),
                _ => false,
            });
            let header = match (named, absent) {
                (true, None) => true,
                (true, Some((key, column))) => {
                    if n == 0 {
                        missing = Some((*key, (*column).clone(), names.clone()));
                    }
                    continue;
                }
                (false, _) => {
                    !columns.iter().any(|(_, column)| match column {
                        Column::Number(n) => begins_like_a_number(row.get(n - 1)),
                        _ => false,
                    }) && !columns.is_empty()
                }
            };
            if header {
                (sheet.header_line, sheet.width) = (row.line, row.filled());
                sheet.header = Some(names);
            }
            return Ok(sheet);
        }
        let Some((key, column, names)) = missing else { return Ok(sheet) };
        Err(CaptureError::refused(
            file,
            Place::Line(1),
            format!("there is no {column}, which the mapping names as {key}"),
            format!("one of {}", columns_of(&names).join(", ")),
            "Name a column of the header, or its number counted from 1.",
        ))
    }

    /// Takes the first row as the header, for a shape that has one there.
    pub(crate) fn with_header(mut self, names: Vec<String>) -> Self {
        self.width = names.iter().rposition(|n| !n.is_empty()).map_or(0, |i| i + 1);
        self.header_line = self.first_line;
        self.header = Some(names);
        self
    }

    /// The rows after the header.
    pub(crate) fn rows(&self) -> Rows {
        Rows::new(self.source.clone(), &self.file, self.layout.separator).after(self.header_line)
    }

    /// Index of a column; `placed` is where the shape has it.
    pub(crate) fn index(
        &self,
        key: &str,
        column: &Column,
        placed: usize,
    ) -> Result<usize, CaptureError> {
        let refuse = |found: String, expected: String| {
            let remedy = "Name a column of the header, or its number counted from 1.";
            Err(CaptureError::refused(&self.file, Place::Whole, found, expected, remedy))
        };
        match column {
            Column::Placed => Ok(placed),
            Column::Number(n) if *n <= self.width => Ok(n - 1),
            Column::Number(n) => refuse(
                format!("there is no column {n}, which the mapping names as {key}"),
                format!("one of its {} columns", self.width),
            ),
            Column::Name(name) => {
                let names = self.header.as_deref().unwrap_or(&[]);
                match find(names, name) {
                    Some(index) if names.iter().filter(|n| *n == name).count() < 2 => Ok(index),
                    Some(_) => refuse(
                        format!(
                            "more than one column is called '{name}', which the mapping names as {key}"
                        ),
                        "the number of one of them, counted from 1".to_owned(),
                    ),
                    None => refuse(
                        format!("there is no {column}, which the mapping names as {key}"),
                        format!("one of {}", columns_of(names).join(", ")),
                    ),
                }
            }
        }
    }

    /// The header of a column, or nothing.
    pub(crate) fn name(&self, index: usize) -> &str {
        self.header.as_ref().and_then(|h| h.get(index)).map_or("", String::as_str)
    }

    /// A refusal of a field.
    #[cold]
    pub(crate) fn wrong(
        &self,
        row: &Row<'_>,
        index: usize,
        expected: impl Into<String>,
        remedy: &str,
    ) -> CaptureError {
        let found = format!("it says '{}'", short(row.get(index)));
        CaptureError::refused(&self.file, self.place(row.line, index), found, expected, remedy)
    }

    /// A refusal of a row.
    #[cold]
    pub(crate) fn wrong_row(
        &self,
        line: u64,
        found: impl Into<String>,
        expected: impl Into<String>,
        remedy: &str,
    ) -> CaptureError {
        CaptureError::refused(&self.file, Place::Line(line), found, expected, remedy)
    }

    fn place(&self, line: u64, index: usize) -> Place {
        let name = self.name(index);
        let name = if name.is_empty() { String::new() } else { format!(" '{name}'") };
        Place::LineField(line, format!("column {}{name}", index + 1))
    }

    /// Refuses a row that ends before one of its columns, or has more than the header.
    pub(crate) fn check_width(&self, row: &Row<'_>, needed: usize) -> Result<(), CaptureError> {
        if row.len() >= needed && row.filled() <= self.width {
            return Ok(());
        }
        let columns = if self.width == 1 { "column" } else { "columns" };
        let of = if self.header.is_some() { "as the header has" } else { "as the first row has" };
        Err(self.wrong_row(
            row.line,
            format!("the row has {} fields: '{}'", row.len(), short(row.get(0))),
            format!("{} {columns}, {of}", self.width),
            "If the line is no row of the table (a title, a sum), take it out; else mend it.",
        ))
    }
}

fn find(names: &[String], name: &str) -> Option<usize> {
    let wanted = name.trim();
    names.iter().position(|n| n == wanted).or_else(|| {
        let mut alike =
            names.iter().enumerate().filter(|(_, n)| n.to_lowercase() == wanted.to_lowercase());
        let first = alike.next();
        first.filter(|_| alike.next().is_none()).map(|(i, _)| i)
    })
}

/// The columns by number and name, for a person; the first of many.
pub(crate) fn columns_of(names: &[String]) -> Vec<String> {
    const MOST: usize = 20;
    let named = names.iter().take(MOST).enumerate();
    let mut columns: Vec<String> =
        named.map(|(i, name)| format!("{} '{}'", i + 1, short(name.as_bytes()))).collect();
    if names.len() > MOST {
        columns.push(format!("{} more", names.len() - MOST));
    }
    columns
}

/// A field for a message, cut short, in one line.
pub(crate) fn short(field: &[u8]) -> String {
    let text = String::from_utf8_lossy(field);
    let mut out: String =
        text.chars().take(40).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.chars().nth(40).is_some() {
        out.push('…');
    }
    out
}

/// Whether a field begins with a digit, after a sign perhaps.
pub(crate) fn begins_like_a_number(field: &[u8]) -> bool {
    let plain = field.strip_prefix(b"-").or(field.strip_prefix(b"+")).unwrap_or(field);
    plain.first().is_some_and(u8::is_ascii_digit)
}
