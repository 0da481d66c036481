//! A file that is whole or not there: written beside its place under a temporary name, flushed to
//! the disk, then renamed; a killed program leaves nothing under the final name.

use crate::CaptureError;
use std::fs::File;
use std::io::{self, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// A file being written. Dropped without [`StagedFile::commit`], it is removed.
#[derive(Debug)]
pub struct StagedFile {
    temporary: tempfile::NamedTempFile,
    path: PathBuf,
}

impl StagedFile {
    /// Begins a file that will stand at `path`; its folder must be there.
    ///
    /// # Errors
    /// If the folder is missing or cannot be written to.
    pub fn create(path: &Path) -> Result<Self, CaptureError> {
        let folder = folder_of(path);
        let temporary = tempfile::Builder::new()
            .prefix(".stillroom-")
            .suffix(".partial")
            .permissions(std::os::unix::fs::PermissionsExt::from_mode(0o644))
            .tempfile_in(folder)
            .map_err(|e| CaptureError::disk(folder, "begin a file in it", e))?;
        Ok(StagedFile { temporary, path: path.to_owned() })
    }

    /// Flushes to the disk and renames into place, over whatever stood there.
    ///
    /// # Errors
    /// If the disk is full or refuses; then nothing stands under the name that did not before.
    pub fn commit(self) -> Result<(), CaptureError> {
        let fail = |e| CaptureError::disk(&self.path, "put it on the disk", e);
        self.temporary.as_file().sync_all().map_err(fail)?;
        self.temporary.persist(&self.path).map_err(|e| fail(e.error))?;
        sync_folder(folder_of(&self.path))
    }

    /// Where it will stand.
    pub fn path(&self) -> &Path {
        &self.path
    }
}

impl Write for StagedFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.temporary.write(bytes)
    }
    fn flush(&mut self) -> io::Result<()> {
        self.temporary.flush()
    }
}

impl Seek for StagedFile {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.temporary.seek(to)
    }
}

/// An unnamed temporary file, read and write, on the disk of `near`; it is gone when closed.
///
/// # Errors
/// If the folder of `near` is missing or cannot be written to.
pub fn scratch_file(near: &Path) -> Result<File, CaptureError> {
    let folder = folder_of(near);
    tempfile::tempfile_in(folder)
        .map_err(|e| CaptureError::disk(folder, "begin a temporary file in it", e))
}

/// Writes a whole small file, staged.
pub(crate) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), CaptureError> {
    let mut file = StagedFile::create(path)?;
    file.write_all(bytes).map_err(|e| CaptureError::disk(path, "write it", e))?;
    file.commit()
}

fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Makes a rename in `folder` last through a power cut.
pub(crate) fn sync_folder(folder: &Path) -> Result<(), CaptureError> {
    File::open(folder)
        .and_then(|f| f.sync_all())
        .map_err(|e| CaptureError::disk(folder, "put it on the disk", e))
}
