//! What lies under evidence/ and belongs to nothing in the record: evidence of what was replaced or taken
//! out, left by an `add` that was cut short, or put there by somebody else. It counts for nothing, and
//! is told.

use crate::SurveyError;
use crate::evidence::sha256_of;
use crate::folder::Folder;
use crate::journal::Change;
use capture::one_line;
use ledger::FileInfo;
use serde_json::Value;
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

/// An evidence file that the record had and has no more: replaced, or taken out.
pub(crate) struct Former {
    file: FileInfo,
    /// What it was of.
    of: String,
    /// The entry of the journal that took it out.
    since: u64,
}

impl Former {
    /// The files that a change takes out of the record.
    pub(crate) fn of(change: &Change, seq: u64) -> Vec<Former> {
        let (mut had, mut has) = (Vec::new(), Vec::new());
        change.was.iter().for_each(|was| files_in(was, &mut had));
        change.is.iter().for_each(|is| files_in(is, &mut has));
        had.retain(|file| has.iter().all(|other| other.sha256 != file.sha256));
        let of = format!("{} {}", change.kind.replace('-', " "), change.id);
        had.into_iter().map(|file| Former { file, of: of.clone(), since: seq }).collect()
    }
}

/// The evidence files that a thing of the record names, wherever in it.
fn files_in(value: &Value, found: &mut Vec<FileInfo>) {
    match value {
        Value::Array(items) => items.iter().for_each(|item| files_in(item, found)),
        Value::Object(members) => match serde_json::from_value(value.clone()) {
            Ok(file) => found.push(file),
            Err(_) => members.values().for_each(|member| files_in(member, found)),
        },
        _ => {}
    }
}

/// What is to be told of a file that belongs to nothing in the record: evidence of a state that was
/// replaced, as it came in or not; or nobody's.
pub(crate) fn told(
    folder: &Folder,
    stray: &Path,
    former: &[Former],
    keep_going: &dyn Fn(u64) -> bool,
) -> Result<String, SurveyError> {
    let path = folder.root().join(stray);
    let was = former.iter().rev().find(|was| folder.evidence(&was.file.sha256) == path);
    let shown = one_line(&stray.to_string_lossy()).to_string();
    let Some(Former { file, of, since }) = was else {
        return Ok(format!(
            "{shown} belongs to nothing in the record and counts for nothing: left by an `add` that \
             was cut short, or put there by somebody else"
        ));
    };
    let is_link = path.symlink_metadata().is_ok_and(|found| found.is_symlink());
    let state = match sha256_of(&path, keep_going) {
        _ if is_link => "but it is a link to somewhere else now".to_owned(),
        Ok(Some(found)) if found == file.sha256 => "as it came in".to_owned(),
        Ok(Some(found)) => format!("but it is altered: its bytes hash to {found}"),
        Ok(None) => return Err(SurveyError::Cancelled),
        Err(e) => format!("but it cannot be read: {e}"),
    };
    Ok(format!(
        "{shown} ({}) was evidence of {of} until entry {since} of the journal replaced it or took it out; \
         it counts for nothing now and is kept, {state}",
        one_line(&file.name)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_change_takes_out_what_it_had_and_has_no_more() {
        let file = |c: &str| json!({"name": c, "sha256": c.repeat(64), "bytes": 3});
        let change = Change {
            kind: "found-item".into(),
            id: "F1".into(),
            was: Some(json!({"photographs": [file("a"), file("b")], "recording": "c".repeat(64)})),
            is: Some(json!({"photographs": [file("b"), file("d")]})),
        };
        let former = Former::of(&change, 7);
        let told: Vec<_> =
            former.iter().map(|was| (was.file.name.as_str(), was.of.as_str(), was.since)).collect();
        assert_eq!(told, [("a", "found item F1", 7)]);
    }
}
