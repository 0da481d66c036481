//! Rows out of text, streamed: one line (or quoted field over several) in memory at a time, split
//! at the separator (RFC 4180, with any separator). Comment lines ('#') and blank ones are passed
//! over.

use crate::source::ByteSource;
use crate::{CaptureError, Place};
use std::io::{self, BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The longest row that is taken: some 200,000 levels.
const MOST_BYTES: usize = 16 << 20;
/// The most fields of a row.
const MOST_FIELDS: usize = 1 << 20;
/// Comments kept, for the units that they may name.
const MOST_COMMENTS: usize = 64;

/// A byte source as a stream.
struct Stream {
    source: Arc<dyn ByteSource>,
    at: u64,
}

impl Read for Stream {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let n = self.source.read_at(self.at, out)?;
        self.at += n as u64;
        Ok(n)
    }
}

/// The rows of a table.
pub(crate) struct Rows {
    stream: BufReader<Stream>,
    file: PathBuf,
    separator: u8,
    /// The raw line, without its end.
    raw: Vec<u8>,
    /// The fields' text, where quotes had to be taken away.
    plain: Vec<u8>,
    fields: Vec<(usize, usize)>,
    line: u64,
    /// Rows up to this line are passed over.
    after: u64,
    /// Texts of the first comment lines.
    pub(crate) comments: Vec<String>,
}

/// One row.
#[derive(Clone, Copy)]
pub(crate) struct Row<'a> {
    /// Line that it begins on, counted from 1.
    pub(crate) line: u64,
    /// Whether the file ends in the middle of it, or at least without a line end.
    pub(crate) cut: bool,
    text: &'a [u8],
    fields: &'a [(usize, usize)],
}

impl<'a> Row<'a> {
    /// Number of fields.
    pub(crate) fn len(&self) -> usize {
        self.fields.len()
    }
    /// A field without the space around it; empty where the row has none.
    pub(crate) fn get(&self, index: usize) -> &'a [u8] {
        let Some(&(from, to)) = self.fields.get(index) else { return b"" };
        self.text.get(from..to).unwrap_or(b"").trim_ascii()
    }
    /// All its fields.
    pub(crate) fn fields(&self) -> impl Iterator<Item = &'a [u8]> + use<'a> {
        let row = *self;
        (0..row.len()).map(move |i| row.get(i))
    }
    /// Number of fields without the empty ones at the end.
    pub(crate) fn filled(&self) -> usize {
        (0..self.len()).rev().find(|i| !self.get(*i).is_empty()).map_or(0, |i| i + 1)
    }
}

impl Rows {
    /// From the beginning of a file.
    pub(crate) fn new(source: Arc<dyn ByteSource>, file: &Path, separator: u8) -> Self {
        let buffer = source.size().clamp(1024, 256 * 1024) as usize;
        Rows {
            stream: BufReader::with_capacity(buffer, Stream { source, at: 0 }),
            file: file.to_owned(),
            separator,
            raw: Vec::new(),
            plain: Vec::new(),
            fields: Vec::new(),
            line: 0,
            after: 0,
            comments: Vec::new(),
        }
    }

    /// The same without the rows up to a line.
    pub(crate) fn after(mut self, line: u64) -> Self {
        self.after = line;
        self
    }

    /// The next row that is neither blank nor a comment.
    pub(crate) fn next(&mut self) -> Result<Option<Row<'_>>, CaptureError> {
        loop {
            self.raw.clear();
            let first = self.line + 1;
            let Some(mut cut) = self.line()? else { return Ok(None) };
            if self.is_comment() {
                continue;
            }
            let quoted = self.raw.contains(&b'"');
            if !quoted {
                split(&self.raw, self.separator, &mut self.fields);
            } else {
                // Each line is looked at once, however many a quoted field goes on for.
                let mut quotes = Quotes::default();
                self.fields.clear();
                self.plain.clear();
                let mut from = 0;
                loop {
                    let piece = self.raw.get(from..).unwrap_or(b"");
                    quotes.split(piece, self.separator, &mut self.plain, &mut self.fields);
                    if !quotes.is_inside {
                        break;
                    }
                    self.raw.push(b'\n');
                    self.plain.push(b'\n');
                    from = self.raw.len();
                    match self.line()? {
                        Some(end) => cut = end,
                        None => {
                            return Err(self.fault(
                                first,
                                "a double quote is opened and not closed",
                                "a second one before the file ends",
                                "Correct the line, or leave it out.",
                            ));
                        }
                    }
                }
                self.fields.push((quotes.from, self.plain.len()));
            }
            if self.fields.len() > MOST_FIELDS {
                let found = format!("it has {} fields", self.fields.len());
                let expected = format!("at most {MOST_FIELDS}");
                return Err(self.fault(first, found, expected, "Check the separator."));
            }
            let text = if quoted { &self.plain } else { &self.raw };
            let row = Row { line: first, cut, text, fields: &self.fields };
            if row.filled() > 0 && first > self.after {
                // Borrowed anew: the borrow checker does not see that the loop ends here.
                let text = if quoted { &self.plain } else { &self.raw };
                return Ok(Some(Row { line: first, cut, text, fields: &self.fields }));
            }
        }
    }

    /// Appends the next line to `raw`, without its end; whether it had none. `None` at the end.
    fn line(&mut self) -> Result<Option<bool>, CaptureError> {
        let from = self.raw.len();
        let most = (MOST_BYTES + 2).saturating_sub(from) as u64;
        let n = (&mut self.stream)
            .take(most)
            .read_until(b'\n', &mut self.raw)
            .map_err(|e| CaptureError::disk(&self.file, "read it", e))?;
        if n == 0 && most > 0 {
            return Ok(None);
        }
        self.line += 1;
        if self.line == 1 && self.raw.starts_with(b"\xef\xbb\xbf") {
            self.raw.drain(..3);
        }
        let ended = self.raw.last() == Some(&b'\n');
        if ended {
            self.raw.pop();
            if self.raw.last() == Some(&b'\r') {
                self.raw.pop();
            }
        }
        if self.raw.len() > MOST_BYTES {
            return Err(self.fault(
                self.line,
                format!("the line is longer than {} MiB", MOST_BYTES >> 20),
                "the rows of a table",
                "If it holds samples, say --format and --rate; else check how it was exported.",
            ));
        }
        if self.raw.get(from..).is_some_and(|new| new.contains(&0)) {
            return Err(self.fault(
                self.line,
                "there is a zero byte in it",
                "text",
                "The recorder stopped in the middle of writing, perhaps: cut the file off before it.",
            ));
        }
        Ok(Some(!ended))
    }

    fn is_comment(&mut self) -> bool {
        let text = self.raw.trim_ascii_start();
        // A spreadsheet's note of the separator.
        if self.line == 1 && text.len() == 5 && text[..4].eq_ignore_ascii_case(b"sep=") {
            return true;
        }
        let Some(comment) = text.strip_prefix(b"#") else { return false };
        if self.comments.len() < MOST_COMMENTS {
            let short = comment.get(..comment.len().min(1024)).unwrap_or(comment);
            self.comments.push(String::from_utf8_lossy(short).into_owned());
        }
        true
    }

    #[cold]
    fn fault(
        &self,
        line: u64,
        found: impl Into<String>,
        expected: impl Into<String>,
        remedy: &str,
    ) -> CaptureError {
        CaptureError::refused(&self.file, Place::Line(line), found, expected, remedy)
    }
}

fn split(raw: &[u8], separator: u8, fields: &mut Vec<(usize, usize)>) {
    fields.clear();
    let mut from = 0;
    for (at, byte) in raw.iter().enumerate() {
        if *byte == separator {
            fields.push((from, at));
            from = at + 1;
        }
    }
    fields.push((from, raw.len()));
}

/// How far the splitting of a row with quotes in it has come.
#[derive(Default)]
struct Quotes {
    /// Where the field begins in the plain text.
    from: usize,
    /// Whether it has anything but space so far.
    is_begun: bool,
    is_inside: bool,
}

impl Quotes {
    /// Splits a line more: a field that begins with a quote ends after the next that is not doubled.
    fn split(
        &mut self,
        line: &[u8],
        separator: u8,
        plain: &mut Vec<u8>,
        fields: &mut Vec<(usize, usize)>,
    ) {
        let mut bytes = line.iter().peekable();
        while let Some(&byte) = bytes.next() {
            match byte {
                b'"' if self.is_inside => match bytes.peek() {
                    Some(b'"') => {
                        bytes.next();
                        plain.push(b'"');
                    }
                    _ => self.is_inside = false,
                },
                b'"' if !self.is_begun => (self.is_begun, self.is_inside) = (true, true),
                _ if byte == separator && !self.is_inside => {
                    fields.push((self.from, plain.len()));
                    (self.from, self.is_begun) = (plain.len(), false);
                }
                _ => {
                    self.is_begun |= !byte.is_ascii_whitespace();
                    plain.push(byte);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(text: &str, separator: u8) -> Vec<Vec<String>> {
        let mut rows = Rows::new(Arc::new(text.as_bytes().to_vec()), Path::new("t.csv"), separator);
        let mut out = Vec::new();
        while let Some(row) = rows.next().expect("rows") {
            out.push(row.fields().map(|f| String::from_utf8_lossy(f).into_owned()).collect());
        }
        out
    }

    #[test]
    fn quotes_comments_blanks_and_line_ends() {
        // RFC 4180, sections 2.5 to 2.7, and what exports add to it.
        let text =
            "\u{feff}a, b ,\"c,\"\"d\"\"\"\r\n# note\r\n\r\n,,\r\n1,\"two\nlines\",12\" pipe\n";
        let rows = all(text, b',');
        assert_eq!(rows, [["a", "b", "c,\"d\""], ["1", "two\nlines", "12\" pipe"]]);
    }

    #[test]
    fn a_quote_that_stays_open_is_an_error() {
        let mut rows = Rows::new(Arc::new(b"a,b\n1,\"2\n3".to_vec()), Path::new("t.csv"), b',');
        assert!(rows.next().expect("header").is_some());
        let error = rows.next().map(|r| r.is_some()).expect_err("open quote").to_string();
        assert!(error.contains("line 2"), "{error}");
    }
}
