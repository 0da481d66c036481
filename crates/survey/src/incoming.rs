//! Files that arrive from elsewhere before they are brought in: a folder under staging/ for those that
//! belong together. What came whole is listed in it and outlives the program, however that ends; what
//! did not leaves nothing. The next program takes the folder up again, or sweeps it once it is old.

use crate::SurveyError;
use crate::folder::{Folder, sync_folder, write_synced};
use crate::survey::Survey;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, SystemTime};

const SCHEMA: &str = "stillroom.arrived/1";
/// How the folders begin.
const PREFIX: &str = "upload-";
/// The list of what came whole. No name that arrives begins with a dot.
const LIST: &str = ".arrived.json";
/// Locked by the program that has the folder.
const HELD: &str = ".held";
/// How long what nobody brought in is kept after the last of it came.
const KEPT: Duration = Duration::from_secs(14 * 24 * 3600);

/// The list as it lies on the disk.
#[derive(Debug, Serialize, Deserialize)]
struct Arrived {
    schema: String,
    id: String,
    /// Sizes of the whole files, bytes, by name.
    files: BTreeMap<String, u64>,
}

/// A folder of one's own on the survey's disk. Dropped, it stays for the next program if something in
/// it came whole, unless it was discarded.
#[derive(Debug)]
pub struct Incoming {
    id: String,
    path: PathBuf,
    files: Mutex<BTreeMap<String, u64>>,
    discarded: AtomicBool,
    _held: File,
    _lock: File,
}

impl Incoming {
    /// The name under which it was begun.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// Where files are to be put; [`Survey::add`] takes them from there.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What came whole: sizes in bytes, by name.
    pub fn files(&self) -> BTreeMap<String, u64> {
        self.listed().clone()
    }

    fn listed(&self) -> MutexGuard<'_, BTreeMap<String, u64>> {
        self.files.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Takes in a file that was written beside the others under a name that begins with a dot: from
    /// here on it is whole, and on the disk to stay.
    ///
    /// # Errors
    /// If the disk will not; then the file is gone.
    pub fn whole(&self, written: &Path, name: &str) -> Result<u64, SurveyError> {
        let to = self.path.join(name);
        let kept = match self.discarded.load(Ordering::SeqCst) {
            true => Err(SurveyError::refused(
                format!("{name} came into what was discarded meanwhile"),
                "Send it into another upload, if it is needed.",
            )),
            false => self.keep(written, &to, name),
        };
        if kept.is_err() {
            // What cannot be removed is not in the list, and swept by the next program.
            let _ = fs::remove_file(written);
            let _ = fs::remove_file(&to);
        }
        kept
    }

    fn keep(&self, written: &Path, to: &Path, name: &str) -> Result<u64, SurveyError> {
        let synced = File::open(written).and_then(|file| {
            file.sync_all()?;
            Ok(file.metadata()?.len())
        });
        let bytes = synced.map_err(|e| SurveyError::disk(written, "write it to the disk", e))?;
        fs::rename(written, to).map_err(|e| SurveyError::disk(to, "move it here", e))?;
        let mut files = self.listed();
        let mut new = files.clone();
        new.insert(name.to_owned(), bytes);
        let list = Arrived { schema: SCHEMA.to_owned(), id: self.id.clone(), files: new.clone() };
        let text = serde_json::to_vec(&list)
            .map_err(|e| SurveyError::internal(format!("the list of what came: {e}")))?;
        let (path, aside) = (self.path.join(LIST), self.path.join(".arrived.new"));
        write_synced(&aside, &text)?;
        fs::rename(&aside, &path).map_err(|e| SurveyError::disk(&path, "move it here", e))?;
        sync_folder(&self.path)?;
        *files = new;
        Ok(bytes)
    }

    /// Lets it go: its files are removed when nobody works with them any more.
    pub fn discard(&self) {
        self.discarded.store(true, Ordering::SeqCst);
    }
}

impl Drop for Incoming {
    fn drop(&mut self) {
        if self.discarded.load(Ordering::SeqCst) || self.listed().is_empty() {
            // Without its list it is nothing, should the rest not go.
            let _ = fs::remove_file(self.path.join(LIST));
            let _ = fs::remove_dir_all(&self.path);
        }
    }
}

impl Survey {
    /// A folder for files that arrive, under a name that no other has.
    ///
    /// # Errors
    /// If the disk will not.
    pub fn incoming(&self, id: &str) -> Result<Incoming, SurveyError> {
        let lock = self.folder.staging_lock()?;
        let path = self.folder.staging_root().join(format!("{PREFIX}{id}"));
        fs::create_dir_all(self.folder.staging_root())
            .and_then(|()| fs::create_dir(&path))
            .map_err(|e| SurveyError::disk(&path, "make the folder", e))?;
        let held = hold(&path)?.ok_or_else(|| SurveyError::internal(format!("two began {id}")))?;
        sync_folder(&self.folder.staging_root())?;
        Ok(taken(id.to_owned(), path, BTreeMap::new(), held, lock))
    }

    /// Takes up what came whole and was not brought in when the program ended. What another program
    /// that runs has stays with it.
    ///
    /// # Errors
    /// If the disk will not.
    pub fn arrived(&self) -> Result<Vec<Incoming>, SurveyError> {
        let mut all = Vec::new();
        for path in folders(&self.folder)? {
            let lock = self.folder.staging_lock()?;
            // It may be gone since it was listed.
            if !path.exists() {
                continue;
            }
            let Some(held) = hold(&path)? else { continue };
            let Some(list) = list(&path).filter(|list| !list.files.is_empty()) else { continue };
            all.push(taken(list.id, path, list.files, held, lock));
        }
        Ok(all)
    }
}

fn taken(
    id: String,
    path: PathBuf,
    files: BTreeMap<String, u64>,
    held: File,
    lock: File,
) -> Incoming {
    let (files, discarded) = (Mutex::new(files), AtomicBool::new(false));
    Incoming { id, path, files, discarded, _held: held, _lock: lock }
}

/// The lock that says that a running program has the folder; `None` if another has it.
fn hold(path: &Path) -> Result<Option<File>, SurveyError> {
    let path = path.join(HELD);
    let file = File::create(&path).map_err(|e| SurveyError::disk(&path, "open it", e))?;
    match file.try_lock() {
        Ok(()) => Ok(Some(file)),
        Err(fs::TryLockError::WouldBlock) => Ok(None),
        Err(fs::TryLockError::Error(e)) => Err(SurveyError::disk(&path, "lock it", e)),
    }
}

fn folders(folder: &Folder) -> Result<Vec<PathBuf>, SurveyError> {
    let root = folder.staging_root();
    let entries = match fs::read_dir(&root) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries.map_err(|e| SurveyError::disk(&root, "list it", e))?,
    };
    let mut paths: Vec<PathBuf> =
        entries.flatten().map(|entry| entry.path()).filter(|path| is_incoming(path)).collect();
    paths.sort();
    Ok(paths)
}

/// Whether files arrived there. A link is none: it leads elsewhere.
pub(crate) fn is_incoming(path: &Path) -> bool {
    let name = path.file_name().and_then(|name| name.to_str());
    name.is_some_and(|name| name.starts_with(PREFIX))
        && path.symlink_metadata().is_ok_and(|found| found.is_dir())
}

/// What is in the list and lies there in its whole size.
fn list(path: &Path) -> Option<Arrived> {
    let mut list: Arrived = serde_json::from_slice(&fs::read(path.join(LIST)).ok()?).ok()?;
    let is_own = path.file_name().is_some_and(|name| *name == *format!("{PREFIX}{}", list.id));
    list.files.retain(|name, bytes| is_whole(&path.join(name), name, *bytes));
    (is_own && list.schema == SCHEMA).then_some(list)
}

fn is_whole(path: &Path, name: &str, bytes: u64) -> bool {
    let plain = !name.starts_with('.') && !name.contains(['/', '\\']);
    plain && path.symlink_metadata().is_ok_and(|found| found.is_file() && found.len() == bytes)
}

/// Removes from a folder that no program has what did not come whole. Whether anything is left that
/// is still to be kept.
pub(crate) fn tidy(path: &Path) -> io::Result<bool> {
    let Some(list) = list(path).filter(|list| !list.files.is_empty()) else { return Ok(false) };
    let last = fs::metadata(path.join(LIST))?.modified()?;
    // A clock that was set back makes nothing old.
    if SystemTime::now().duration_since(last).is_ok_and(|age| age > KEPT) {
        return Ok(false);
    }
    for entry in fs::read_dir(path)? {
        let entry = entry?;
        let name = entry.file_name();
        let name = name.to_string_lossy();
        if name != LIST && !list.files.contains_key(&*name) {
            let path = entry.path();
            if entry.file_type()?.is_dir() {
                fs::remove_dir_all(path)?
            } else {
                fs::remove_file(path)?
            }
        }
    }
    Ok(true)
}

#[cfg(test)]
mod tests;
