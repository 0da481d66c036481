//! Whether derived data is still what was derived: the journal holds the hashes of the files that
//! the ledger and people read.

use crate::SurveyError;
use crate::derive_part::FILE;
use crate::evidence::sha256_of;
use crate::folder::Folder;
use crate::things::Derivation;
use rusqlite::Connection;
use std::collections::BTreeMap;
use std::path::Path;

/// The files whose hashes are in the journal. The overview is for the eye only.
const HASHED: [&str; 2] = [FILE, "bursts.csv"];

/// SHA-256 of those files in a folder, by name; one that is not there is left out.
pub(crate) fn hashes_in(folder: &Path) -> Result<BTreeMap<String, String>, SurveyError> {
    let mut hashes = BTreeMap::new();
    for name in HASHED {
        let path = folder.join(name);
        match sha256_of(&path, &|_| true) {
            Ok(Some(sha256)) => {
                hashes.insert(name.to_owned(), sha256);
            }
            Ok(None) => {}
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => {}
            Err(e) => return Err(SurveyError::disk(&path, "read it", e)),
        }
    }
    Ok(hashes)
}

impl Derivation {
    /// The first file that is not as it was derived. Data that was deleted is none (it is derived
    /// again), nor is data whose hashes an older program did not write down.
    pub(crate) fn altered(&self, folder: &Folder) -> Result<Option<String>, SurveyError> {
        let lies = hashes_in(&folder.derived(&self.folder))?;
        if self.files.is_empty() || !lies.contains_key(FILE) {
            return Ok(None);
        }
        let differs = |name: &&str| lies.get(*name) != self.files.get(*name);
        Ok(HASHED.into_iter().find(differs).map(str::to_owned))
    }
}

/// What the journal says last of a folder under derived/, whether or not it counts now.
pub(crate) fn recorded(db: &Connection, folder: &str) -> Result<Option<Derivation>, SurveyError> {
    let fail = |e| SurveyError::database(Path::new("survey.sqlite"), "read the journal", e);
    let mut query = db
        .prepare_cached(
            "SELECT value ->> '$.is' FROM journal, json_each(body, '$.changes') \
             WHERE kind = 'derive' AND value ->> '$.is.folder' = ?1 ORDER BY seq DESC LIMIT 1",
        )
        .map_err(fail)?;
    let mut rows = query.query([folder]).map_err(fail)?;
    let Some(row) = rows.next().map_err(fail)? else { return Ok(None) };
    let text: String = row.get(0).map_err(fail)?;
    // What an older program wrote otherwise is derived again.
    Ok(serde_json::from_str(&text).ok())
}
