//! The survey's folder: where things lie, what killed programs leave and how it is swept, and the
//! locks between programs that have the same survey open.

use crate::{SurveyError, incoming};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Paths inside one survey.
#[derive(Debug, Clone)]
pub(crate) struct Folder {
    root: PathBuf,
}

/// A folder under staging/ of one's own, removed when dropped; while it lives nobody sweeps.
#[derive(Debug)]
pub(crate) struct Staging {
    folder: tempfile::TempDir,
    _lock: File,
}

impl Staging {
    /// Its path.
    pub(crate) fn path(&self) -> &Path {
        self.folder.path()
    }
}

impl Folder {
    pub(crate) fn at(root: &Path) -> Self {
        Folder { root: root.to_owned() }
    }
    pub(crate) fn root(&self) -> &Path {
        &self.root
    }
    pub(crate) fn database(&self) -> PathBuf {
        self.root.join("survey.sqlite")
    }
    pub(crate) fn derived(&self, name: &str) -> PathBuf {
        self.root.join("derived").join(name)
    }
    pub(crate) fn evidence(&self, sha256: &str) -> PathBuf {
        self.root.join("evidence").join(sha256.get(..2).unwrap_or("xx")).join(sha256)
    }
    /// Whether any evidence lies there.
    pub(crate) fn has_evidence(&self) -> bool {
        fs::read_dir(self.root.join("evidence")).is_ok_and(|mut entries| entries.next().is_some())
    }
    /// Where what is not brought in yet lies.
    pub(crate) fn staging_root(&self) -> PathBuf {
        self.root.join("staging")
    }

    /// Makes the folders of a new survey; the root may be there already.
    pub(crate) fn make(&self) -> Result<(), SurveyError> {
        let inside = ["evidence", "derived", "staging"].map(|name| self.root.join(name));
        for path in std::iter::once(&self.root).chain(&inside) {
            fs::create_dir_all(path).map_err(|e| SurveyError::disk(path, "make the folder", e))?;
        }
        sync_folder(&self.root)
    }

    /// Removes what killed programs left under staging/, unless somebody is staging right now. Files
    /// that came whole from elsewhere stay for a while: nobody else may have them.
    pub(crate) fn sweep(&self) -> Result<(), SurveyError> {
        let lock = self.lock_file("staging.lock")?;
        match lock.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Ok(()),
            Err(TryLockError::Error(e)) => {
                return Err(SurveyError::disk(&self.root.join("staging.lock"), "lock it", e));
            }
        }
        let root = self.staging_root();
        let entries = match fs::read_dir(&root) {
            Ok(entries) => entries,
            Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(()),
            Err(e) => return Err(SurveyError::disk(&root, "list it", e)),
        };
        for entry in entries {
            let path = entry.map_err(|e| SurveyError::disk(&root, "list it", e))?.path();
            let removed = match incoming::is_incoming(&path).then(|| incoming::tidy(&path)) {
                Some(Ok(true)) => Ok(()),
                Some(Err(e)) => Err(e),
                _ if path.is_dir() => fs::remove_dir_all(&path),
                _ => fs::remove_file(&path),
            };
            removed.map_err(|e| SurveyError::disk(&path, "remove what was left here", e))?;
        }
        Ok(())
    }

    /// A folder to stage in.
    pub(crate) fn stage(&self) -> Result<Staging, SurveyError> {
        let lock = self.staging_lock()?;
        let root = self.staging_root();
        fs::create_dir_all(&root).map_err(|e| SurveyError::disk(&root, "make the folder", e))?;
        let folder = tempfile::Builder::new()
            .prefix("stage-")
            .tempdir_in(&root)
            .map_err(|e| SurveyError::disk(&root, "make a folder in it", e))?;
        Ok(Staging { folder, _lock: lock })
    }

    /// The lock of those who stage: while one has it nobody sweeps.
    pub(crate) fn staging_lock(&self) -> Result<File, SurveyError> {
        let lock = self.lock_file("staging.lock")?;
        lock.lock_shared()
            .map_err(|e| SurveyError::disk(&self.root.join("staging.lock"), "lock it", e))?;
        Ok(lock)
    }

    /// A lock file, opened.
    pub(crate) fn lock_file(&self, name: &str) -> Result<File, SurveyError> {
        let path = self.root.join(name);
        OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(&path)
            .map_err(|e| SurveyError::disk(&path, "open it", e))
    }
}

/// Makes a folder's entries (renames, new files) last. Where folders cannot be opened (Windows)
/// the file system's own journal has to do.
pub(crate) fn sync_folder(path: &Path) -> Result<(), SurveyError> {
    if cfg!(unix) {
        File::open(path)
            .and_then(|folder| folder.sync_all())
            .map_err(|e| SurveyError::disk(path, "write the folder to the disk", e))?;
    }
    Ok(())
}

/// Writes a whole file and fsyncs it.
pub(crate) fn write_synced(path: &Path, bytes: &[u8]) -> Result<(), SurveyError> {
    let write = |path: &Path| -> io::Result<()> {
        let mut file = File::create(path)?;
        file.write_all(bytes)?;
        file.sync_all()
    };
    write(path).map_err(|e| SurveyError::disk(path, "write it", e))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sweeping_waits_for_those_who_stage() {
        let place = tempfile::tempdir().expect("a temporary folder");
        let folder = Folder::at(place.path());
        folder.make().expect("made");
        let staging = folder.stage().expect("staging");
        fs::write(staging.path().join("half"), b"x").expect("written");
        folder.sweep().expect("swept");
        assert!(staging.path().join("half").exists());
        let left = staging.folder.keep(); // as a killed program leaves it
        drop(staging._lock);
        folder.sweep().expect("swept");
        assert!(!left.exists());
    }
}
