//! Evidence: how bytes are brought in so that a crash at any moment leaves either all of a file under
//! its hash or nothing that anybody would believe, and how they are shown to the readers.
//!
//! A file comes in staged (copied and hashed in the same file system), made read-only, fsynced,
//! renamed to its hash, and the folder fsynced; only then may a row name it.

use crate::SurveyError;
use crate::folder::{Folder, Staging, sync_folder};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// A file that was brought in.
#[derive(Debug, Clone)]
pub(crate) struct Staged {
    /// Where it lies now.
    pub(crate) path: PathBuf,
    /// Name that it came in under.
    pub(crate) name: String,
    /// Lower-case hex.
    pub(crate) sha256: String,
    /// Size.
    pub(crate) bytes: u64,
}

impl Folder {
    /// Copies a file into a staging folder, hashing it on the way; fsynced and read-only.
    /// `keep_going` is asked every few megabytes.
    pub(crate) fn bring_in(
        &self,
        source: &Path,
        staging: &Staging,
        keep_going: &dyn Fn(u64) -> bool,
    ) -> Result<Staged, SurveyError> {
        let read = |doing: &'static str| move |e| SurveyError::disk(source, doing, e);
        let name = source
            .file_name()
            .map_or_else(|| "unnamed".to_owned(), |name| name.to_string_lossy().into_owned());
        let path = staging.path().join(&name);
        let write = |doing: &'static str| {
            let path = path.clone();
            move |e| SurveyError::disk(&path, doing, e)
        };
        let mut from = File::open(source).map_err(read("open it"))?;
        let before = from.metadata().map_err(read("look at it"))?;
        let mut to = File::create_new(&path).map_err(write("make it"))?;
        let (sha256, bytes) =
            copy_hashing(&mut from, &mut to, keep_going).map_err(|e| match e {
                CopyError::Read(e) => SurveyError::disk(source, "read it", e),
                CopyError::Write(e) => SurveyError::disk(&path, "write it", e),
                CopyError::Stopped => SurveyError::Cancelled,
            })?;
        let after = from.metadata().map_err(read("look at it"))?;
        if before.len() != bytes
            || after.len() != bytes
            || before.modified().ok() != after.modified().ok()
        {
            return Err(SurveyError::refused(
                format!("{} changed while it was copied", source.display()),
                "Let the recording end, then add it.",
            ));
        }
        let mut permissions = to.metadata().map_err(write("look at it"))?.permissions();
        permissions.set_readonly(true);
        to.set_permissions(permissions).map_err(write("make it read-only"))?;
        to.sync_all().map_err(write("write it to the disk"))?;
        Ok(Staged { path, name, sha256, bytes })
    }

    /// Puts a staged file under its hash. Afterwards it is on the disk to stay.
    pub(crate) fn keep(&self, staged: &Staged) -> Result<(), SurveyError> {
        let to = self.evidence(&staged.sha256);
        let folder = to.parent().unwrap_or(self.root());
        fs::create_dir_all(folder).map_err(|e| SurveyError::disk(folder, "make the folder", e))?;
        // A file that lies there already has these bytes, or is damaged: either way this one
        // replaces it whole.
        fs::rename(&staged.path, &to).map_err(|e| SurveyError::disk(&to, "move it here", e))?;
        sync_folder(folder)?;
        sync_folder(&self.root().join("evidence"))
    }

    /// Shows evidence under the names it came in with, in a staging folder: a data file finds its
    /// metadata beside it. Hard links where the disk has them, else copies.
    pub(crate) fn show(
        &self,
        files: &[ledger::FileInfo],
        staging: &Staging,
    ) -> Result<Vec<PathBuf>, SurveyError> {
        let mut shown = Vec::new();
        for file in files {
            let from = self.evidence(&file.sha256);
            let to = staging.path().join(&file.name);
            if !to.exists() {
                link_or_copy(&from, &to)?;
            }
            shown.push(to);
        }
        Ok(shown)
    }
}

fn link_or_copy(from: &Path, to: &Path) -> Result<(), SurveyError> {
    match fs::hard_link(from, to) {
        Ok(()) => Ok(()),
        Err(e) if e.kind() == io::ErrorKind::NotFound => Err(SurveyError::Damaged {
            what: format!("{}: this evidence file is missing", from.display()),
        }),
        // FAT and some network disks have no links.
        Err(_) => fs::copy(from, to).map(|_| ()).map_err(|e| SurveyError::disk(from, "copy it", e)),
    }
}

enum CopyError {
    Read(io::Error),
    Write(io::Error),
    Stopped,
}

fn copy_hashing(
    from: &mut impl Read,
    to: &mut impl Write,
    keep_going: &dyn Fn(u64) -> bool,
) -> Result<(String, u64), CopyError> {
    let mut hash = Sha256::new();
    let mut block = vec![0u8; 1 << 20];
    let mut bytes = 0u64;
    loop {
        let n = match from.read(&mut block) {
            Ok(0) => return Ok((hex(&hash.finalize()), bytes)),
            Ok(n) => n,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
            Err(e) => return Err(CopyError::Read(e)),
        };
        let part = block.get(..n).unwrap_or_default();
        hash.update(part);
        to.write_all(part).map_err(CopyError::Write)?;
        bytes += n as u64;
        if !keep_going(bytes) {
            return Err(CopyError::Stopped);
        }
    }
}

/// SHA-256 of a file's bytes, lower-case hex; `None` when `keep_going` said no.
pub(crate) fn sha256_of(
    path: &Path,
    keep_going: &dyn Fn(u64) -> bool,
) -> io::Result<Option<String>> {
    match copy_hashing(&mut File::open(path)?, &mut io::sink(), keep_going) {
        Ok((sha256, _)) => Ok(Some(sha256)),
        Err(CopyError::Read(e) | CopyError::Write(e)) => Err(e),
        Err(CopyError::Stopped) => Ok(None),
    }
}

/// Lower-case hex.
pub(crate) fn hex(bytes: &[u8]) -> String {
    let mut out = String::with_capacity(2 * bytes.len());
    for byte in bytes {
        let _ = write!(out, "{byte:02x}");
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-4 example values for SHA-256 ("abc", and one million 'a').
    #[test]
    fn bytes_are_hashed_as_the_standard_says() {
        let place = tempfile::tempdir().expect("a temporary folder");
        let folder = Folder::at(place.path());
        folder.make().expect("made");
        let source = place.path().join("x");
        for (bytes, sha256) in [
            (b"abc".to_vec(), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
            (
                vec![b'a'; 1_000_000],
                "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0",
            ),
        ] {
            fs::write(&source, &bytes).expect("written");
            let staging = folder.stage().expect("staging");
            let staged = folder.bring_in(&source, &staging, &|_| true).expect("brought in");
            assert_eq!((staged.sha256.as_str(), staged.bytes), (sha256, bytes.len() as u64));
            folder.keep(&staged).expect("kept");
            let kept = folder.evidence(sha256);
            assert_eq!(fs::read(&kept).expect("read"), bytes);
            assert!(kept.metadata().expect("there").permissions().readonly());
        }
    }
}
