//! What lies under evidence/ and belongs to nothing in the record: left by an `add` that was taken
//! back or cut short, or put there by somebody else. It counts for nothing, and is told.

use crate::SurveyError;
use crate::folder::Folder;
use std::fs;
use std::path::{Path, PathBuf};

/// Paths below the survey's folder of all that is no evidence of the record, sorted.
pub(crate) fn strays(
    folder: &Folder,
    is_evidence: &dyn Fn(&Path) -> bool,
) -> Result<Vec<PathBuf>, SurveyError> {
    let mut found = Vec::new();
    let mut to_list = vec![folder.root().join("evidence")];
    while let Some(dir) = to_list.pop() {
        let fail = |e| SurveyError::disk(&dir, "list it", e);
        let entries = match fs::read_dir(&dir) {
            Ok(entries) => entries,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => continue,
            Err(e) => return Err(fail(e)),
        };
        for entry in entries {
            let entry = entry.map_err(fail)?;
            // A link is not followed: it may lead anywhere.
            if entry.file_type().map_err(fail)?.is_dir() {
                to_list.push(entry.path());
            } else if !is_evidence(&entry.path()) {
                let path = entry.path();
                found.push(path.strip_prefix(folder.root()).unwrap_or(&path).to_owned());
            }
        }
    }
    found.sort();
    Ok(found)
}
