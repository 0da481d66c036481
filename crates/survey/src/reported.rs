//! That a report was made, and of which state of the survey. It can be made again at any time, so this
//! lies under derived/ and may be deleted.

use crate::SurveyError;
use crate::folder::write_synced;
use crate::survey::Survey;
use serde::{Deserialize, Serialize};
use std::io::ErrorKind;
use units::Utc;

/// Its file under derived/.
const FILE: &str = "report.json";

/// The client's report that was made last.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reported {
    /// When.
    pub made: Utc,
    /// Hash of the journal's last entry as it was then.
    pub journal_head: String,
}

impl Survey {
    /// Remembers that the client's report was made.
    ///
    /// # Errors
    /// If the disk will not.
    pub fn remember_report(&self, reported: &Reported) -> Result<(), SurveyError> {
        let file = self.folder.derived(FILE);
        let text = serde_json::to_vec(reported)
            .map_err(|e| SurveyError::internal(format!("{FILE} is no JSON: {e}")))?;
        let staging = self.folder.stage()?;
        let new = staging.path().join(FILE);
        write_synced(&new, &text)?;
        std::fs::rename(&new, &file).map_err(|e| SurveyError::disk(&file, "move it here", e))
    }

    /// The report that was made last; `None` where none is remembered, or not in a way that this
    /// program reads: it is made again then.
    ///
    /// # Errors
    /// If the disk will not.
    pub fn last_report(&self) -> Result<Option<Reported>, SurveyError> {
        let file = self.folder.derived(FILE);
        match std::fs::read(&file) {
            Ok(text) => Ok(serde_json::from_slice(&text).ok()),
            Err(e) if e.kind() == ErrorKind::NotFound => Ok(None),
            Err(e) => Err(SurveyError::disk(&file, "read it", e)),
        }
    }
}
