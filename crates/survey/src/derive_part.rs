//! Deriving from one part of a capture: shown to the analysis under its own name, put under derived/
//! whole or not at all, read back from there.

use crate::derive::{Derived, Task};
use crate::derived_files::{hashes_in, recorded};
use crate::evidence::hex;
use crate::jobs::{Need, wanted};
use crate::survey::Survey;
use crate::things::Derivation;
use crate::{Progress, SurveyError, folder, record};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::{Arc, PoisonError};

/// What a derived folder holds besides overview and bursts.
pub(crate) const FILE: &str = "analysis.json";

impl Survey {
    /// Derives from one part with this program's engine and lets it count. To be called by the
    /// one who holds the lock.
    pub(crate) fn derive_now(
        &self,
        need: &Need,
        by: &str,
        progress: &dyn Progress,
    ) -> Result<(), SurveyError> {
        let engine = self.deriver.engine();
        let name = need.folder(engine);
        let to = self.folder.derived(&name);
        self.tell(need, &name, "running", None)?;
        let files = match self.derived_before(&name)? {
            Some(files) => files,
            None => match self.derive_into(need, &to, progress) {
                Ok(files) => files,
                Err(e @ SurveyError::Recording { fault: crate::RecordingFault::Input, .. })
                | Err(e @ (SurveyError::Refused { .. } | SurveyError::Damaged { .. })) => {
                    return self.tell(need, &name, "failed", Some(&e.to_string()));
                }
                Err(e) => {
                    self.tell(need, &name, "pending", None)?;
                    return Err(e);
                }
            },
        };
        self.write(by, |pen| {
            // The record may have changed while this ran; then the result lies there unused.
            let wanted = wanted(pen.db)?;
            let still = wanted.iter().any(|w| w.part.id == need.part.id && w.stem == need.stem);
            if still {
                let derivation =
                    Derivation { id: need.part.id.clone(), folder: name.clone(), engine, files };
                let change = record::put(pen.db, &derivation)?;
                if change.differs() {
                    pen.append("derive", &[change])?;
                }
            }
            Ok(())
        })?;
        self.tell(need, &name, "done", None)
    }

    /// The hashes of what was derived into a folder before, if it lies there as it was derived.
    fn derived_before(&self, name: &str) -> Result<Option<BTreeMap<String, String>>, SurveyError> {
        let Some(before) = self.read(|db| recorded(db, name))? else { return Ok(None) };
        let lies = hashes_in(&self.folder.derived(name))?;
        Ok(Some(lies).filter(|lies| lies.contains_key(FILE) && *lies == before.files))
    }

    /// Derives, and gives the hashes of what was made.
    fn derive_into(
        &self,
        need: &Need,
        to: &Path,
        progress: &dyn Progress,
    ) -> Result<BTreeMap<String, String>, SurveyError> {
        let shown = self.folder.stage()?;
        let files = self.folder.show(&need.capture.files, &shown)?;
        let path = files.first().ok_or_else(|| SurveyError::Damaged {
            what: format!("capture {} has no evidence file", need.capture.id),
        })?;
        let made = self.folder.stage()?;
        let task = Task {
            path,
            sha256: &need.capture.recording,
            parameters: &need.parameters,
            folder: made.path(),
        };
        // A bug in the analysis of one recording must not make the whole survey unusable.
        let derived = catch_unwind(AssertUnwindSafe(|| self.deriver.derive(&task, progress)))
            .unwrap_or_else(|_| {
                Err(SurveyError::internal(format!("the analysis of {} broke off", need.part.id)))
            });
        // A message names the file as the person knows it, not where it was shown.
        let mut derived = derived.map_err(|e| e.without(&shown.path().join("")))?;
        derived.analysis.recording.path =
            need.capture.files.first().map(|file| file.name.clone()).unwrap_or_default();
        // Read back before it counts: what cannot be read would lock people out of the survey.
        let json = serde_json::to_vec(&derived).map_err(|e| e.to_string());
        let json = json.and_then(|json| match serde_json::from_slice::<Derived>(&json) {
            Ok(_) => Ok(json),
            Err(e) => Err(e.to_string()),
        });
        let json = json.map_err(|why| {
            SurveyError::internal(format!("the analysis of {} is no result: {why}", need.part.id))
        })?;
        folder::write_synced(&made.path().join(FILE), &json)?;
        folder::sync_folder(made.path())?;
        let files = hashes_in(made.path())?;
        if to.exists() {
            std::fs::remove_dir_all(to)
                .map_err(|e| SurveyError::disk(to, "remove what was left here", e))?;
        }
        let parent = to.parent().unwrap_or(to);
        std::fs::create_dir_all(parent)
            .map_err(|e| SurveyError::disk(parent, "make the folder", e))?;
        std::fs::rename(made.path(), to).map_err(|e| SurveyError::disk(to, "move it here", e))?;
        folder::sync_folder(parent)?;
        Ok(files)
    }

    /// What was derived, if it lies there as it was derived; kept once it was read.
    pub(crate) fn derived(&self, of: &Derivation) -> Result<Option<Arc<Derived>>, SurveyError> {
        let name = of.folder.as_str();
        let mut cache = self.cache.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(derived) = cache.get(name) {
            return Ok(Some(derived.clone()));
        }
        let path = self.folder.derived(name).join(FILE);
        let json = match std::fs::read(&path) {
            Ok(json) => json,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            Err(e) => return Err(SurveyError::disk(&path, "read it", e)),
        };
        if of.files.get(FILE).is_some_and(|sha256| hex(&Sha256::digest(&json)) != *sha256) {
            return Ok(None);
        }
        let derived: Derived = serde_json::from_slice(&json).map_err(|e| {
            SurveyError::refused(
                format!("{}: this derived data cannot be read: {e}", path.display()),
                "Delete that folder: it is derived again, and nothing is lost.",
            )
        })?;
        let derived = Arc::new(derived);
        cache.insert(name.to_owned(), derived.clone());
        Ok(Some(derived))
    }
}
