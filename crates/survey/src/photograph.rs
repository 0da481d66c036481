//! Photographs of a found item: evidence files like any other, and one entry of the journal.

use crate::survey::Survey;
use crate::things::FoundItem;
use crate::{Progress, SurveyError, record};
use ledger::FileInfo;
use std::path::PathBuf;

impl Survey {
    /// Brings in photographs of a found item. One that it has already is left as it is.
    ///
    /// # Errors
    /// If there is no such item, a file cannot be read, or the disk will not.
    pub fn photograph(
        &self,
        item: &str,
        files: &[PathBuf],
        by: &str,
        progress: &dyn Progress,
    ) -> Result<Vec<FileInfo>, SurveyError> {
        let missing = || {
            SurveyError::refused(
                format!("the record has no found item {item}"),
                "Write it into the record first (`describe --apply`).",
            )
        };
        self.read(|db| record::get::<FoundItem>(db, item))?.ok_or_else(missing)?;
        let staging = self.folder.stage()?;
        let mut photographs = Vec::new();
        for file in files {
            let staged = self.folder.bring_in(file, &staging, &|bytes| {
                progress.step(bytes, bytes, "copying photographs");
                !progress.cancelled()
            })?;
            photographs.push(staged);
        }
        self.write(by, |pen| {
            let mut found = record::get::<FoundItem>(pen.db, item)?.ok_or_else(missing)?;
            let had = found.photographs.len();
            let mut kept = Vec::new();
            for staged in &photographs {
                self.folder.keep(staged)?;
                let photograph = FileInfo {
                    name: staged.name.clone(),
                    sha256: staged.sha256.clone(),
                    bytes: staged.bytes,
                };
                if !found.photographs.iter().any(|other| other.sha256 == photograph.sha256) {
                    found.photographs.push(photograph.clone());
                }
                kept.push(photograph);
            }
            if found.photographs.len() > had {
                pen.append("photograph", &[record::put(pen.db, &found)?])?;
            }
            Ok(kept)
        })
    }
}
