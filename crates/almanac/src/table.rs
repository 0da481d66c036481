//! Reading a table of `data/`: a header line, then rows whose fields are fetched by column name.
//! Every message names the table, the line and the column. RFC 4180 quoting, UTF-8.

use crate::Provenance;

/// A table that cannot be used: which line and column, what was found, what was expected.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("data/{table}, line {line}, column {column}: found '{found}', expected {expected}")]
pub struct TableError {
    /// File name under data/.
    pub table: &'static str,
    /// Line, 1-based; the header is line 1.
    pub line: u64,
    /// Column name.
    pub column: String,
    /// The field's text.
    pub found: String,
    /// What would have been accepted.
    pub expected: String,
}

/// One row, its fields fetched by column name.
pub(crate) struct Row<'a> {
    pub table: &'static str,
    pub line: u64,
    header: &'a csv::StringRecord,
    record: &'a csv::StringRecord,
}

impl Row<'_> {
    pub fn bad(&self, column: &str, found: &str, expected: impl Into<String>) -> TableError {
        TableError {
            table: self.table,
            line: self.line,
            column: column.to_owned(),
            found: found.to_owned(),
            expected: expected.into(),
        }
    }

    /// The field, empty where there is none.
    pub fn text(&self, column: &str) -> Result<&str, TableError> {
        let at = self.header.iter().position(|name| name == column);
        let text = at.and_then(|at| self.record.get(at));
        let text = text.ok_or_else(|| self.bad(column, "", "a column of this name"))?;
        if text.trim() == text {
            Ok(text)
        } else {
            Err(self.bad(column, text, "no blanks around the field"))
        }
    }

    pub fn owned(&self, column: &str) -> Result<String, TableError> {
        self.text(column).map(str::to_owned)
    }

    /// A field that must not be empty.
    pub fn required(&self, column: &str) -> Result<String, TableError> {
        match self.text(column)? {
            "" => Err(self.bad(column, "", "some text")),
            text => Ok(text.to_owned()),
        }
    }

    /// A finite number, or `None` for an empty field.
    pub fn optional(&self, column: &str) -> Result<Option<f64>, TableError> {
        let text = self.text(column)?;
        if text.is_empty() {
            return Ok(None);
        }
        match text.parse::<f64>() {
            Ok(x) if x.is_finite() => Ok(Some(x)),
            _ => Err(self.bad(column, text, "a number")),
        }
    }

    pub fn number(&self, column: &str) -> Result<f64, TableError> {
        self.optional(column)?.ok_or_else(|| self.bad(column, "", "a number"))
    }

    pub fn whole(&self, column: &str) -> Result<i64, TableError> {
        let text = self.text(column)?;
        text.parse().map_err(|_| self.bad(column, text, "a whole number"))
    }

    /// Two fields that bound a range: both empty, or low not above high (below it if `strict`).
    pub fn range(
        &self,
        low: &str,
        high: &str,
        strict: bool,
    ) -> Result<Option<(f64, f64)>, TableError> {
        match (self.optional(low)?, self.optional(high)?) {
            (None, None) => Ok(None),
            (Some(a), Some(b)) if a < b || (a == b && !strict) => Ok(Some((a, b))),
            (a, b) => {
                let found = format!("{a:?} and {b:?}");
                Err(self.bad(high, &found, format!("{low} and {high} in rising order")))
            }
        }
    }

    /// A list parted by semicolons; empty for an empty field.
    pub fn list(&self, column: &str) -> Result<Vec<String>, TableError> {
        let text = self.text(column)?;
        Ok(text.split(';').filter(|part| !part.is_empty()).map(str::to_owned).collect())
    }

    /// One of a closed vocabulary.
    pub fn one_of<T: Copy>(
        &self,
        column: &str,
        words: &[(&'static str, T)],
    ) -> Result<T, TableError> {
        let text = self.text(column)?;
        word(text, words).ok_or_else(|| self.bad(column, text, alternatives(words)))
    }

    /// Words of a closed vocabulary, parted by semicolons, at least one.
    pub fn some_of<T: Copy>(
        &self,
        column: &str,
        words: &[(&'static str, T)],
    ) -> Result<Vec<T>, TableError> {
        let text = self.text(column)?;
        text.split(';')
            .map(|part| {
                word(part, words).ok_or_else(|| self.bad(column, text, alternatives(words)))
            })
            .collect()
    }

    pub fn provenance(&self) -> Result<Provenance, TableError> {
        Provenance::of(self)
    }
}

fn word<T: Copy>(text: &str, words: &[(&'static str, T)]) -> Option<T> {
    words.iter().find(|(name, _)| *name == text).map(|&(_, value)| value)
}

fn alternatives<T>(words: &[(&'static str, T)]) -> String {
    let names: Vec<&str> = words.iter().map(|&(name, _)| name).collect();
    format!("one of {}", names.join(", "))
}

/// Reads every row of a table with `row`, in file order.
pub(crate) fn rows<T>(
    table: &'static str,
    text: &str,
    mut row: impl FnMut(&Row<'_>) -> Result<T, TableError>,
) -> Result<Vec<T>, TableError> {
    let broken = |line: u64, found: String| TableError {
        table,
        line,
        column: "(whole line)".to_owned(),
        found,
        expected: "comma-separated text with as many fields as the header".to_owned(),
    };
    let mut reader = csv::ReaderBuilder::new().has_headers(true).from_reader(text.as_bytes());
    let header = reader.headers().map_err(|e| broken(1, e.to_string()))?.clone();
    let mut out = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|e| {
            let line = e.position().map_or(0, csv::Position::line);
            broken(line, e.to_string())
        })?;
        let line = record.position().map_or(0, csv::Position::line);
        out.push(row(&Row { table, line, header: &header, record: &record })?);
    }
    Ok(out)
}
