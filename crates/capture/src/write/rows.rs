//! Writing rows as CSV (RFC 4180): a hand-held detector's event log, a table of readings.

use super::StagedFile;
use crate::CaptureError;
use std::io::BufWriter;
use std::path::{Path, PathBuf};

/// A CSV file being written. Dropped without `finish`, nothing of it stays.
pub struct RowWriter {
    csv: csv::Writer<BufWriter<StagedFile>>,
    path: PathBuf,
}

impl RowWriter {
    /// Begins a file with a header.
    ///
    /// # Errors
    /// If the folder cannot be written to.
    pub fn create(path: &Path, header: &[&str]) -> Result<Self, CaptureError> {
        let csv = csv::Writer::from_writer(BufWriter::new(StagedFile::create(path)?));
        let mut writer = RowWriter { csv, path: path.to_owned() };
        writer.row(header)?;
        Ok(writer)
    }

    /// Appends a row of as many fields as the header has.
    ///
    /// # Errors
    /// If the number of fields differs, or the disk refuses.
    pub fn row<T: AsRef<[u8]>>(&mut self, fields: &[T]) -> Result<(), CaptureError> {
        self.csv
            .write_record(fields)
            .map_err(|e| CaptureError::disk(&self.path, "write a row", std::io::Error::other(e)))
    }

    /// Puts the file in place.
    ///
    /// # Errors
    /// If the disk is full or refuses; then nothing stands under the name that did not before.
    pub fn finish(self) -> Result<PathBuf, CaptureError> {
        let fail = |e| CaptureError::disk(&self.path, "write it", e);
        let buffered = self.csv.into_inner().map_err(|e| fail(e.into_error()))?;
        let file = buffered.into_inner().map_err(|e| fail(e.into_error()))?;
        file.commit()?;
        Ok(self.path)
    }
}
