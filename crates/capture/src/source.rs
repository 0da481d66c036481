//! Bytes that can be read at any place: a file on disk, or bytes in memory (tests, fuzzing).

use crate::CaptureError;
use std::fs::File;
use std::io;
use std::os::unix::fs::FileExt;
use std::path::Path;

/// Bytes that can be read at any place, from any thread.
pub trait ByteSource: Send + Sync {
    /// Reads some bytes from `at` on into `out`; 0 at the end.
    ///
    /// # Errors
    /// What the operating system says.
    fn read_at(&self, at: u64, out: &mut [u8]) -> io::Result<usize>;
    /// Number of bytes.
    fn size(&self) -> u64;

    /// Fills `out` from `at` on; returns how many bytes there were.
    ///
    /// # Errors
    /// What the operating system says.
    fn read_full(&self, at: u64, out: &mut [u8]) -> io::Result<usize> {
        let mut done = 0;
        while done < out.len() {
            match self.read_at(at.saturating_add(done as u64), &mut out[done..]) {
                Ok(0) => break,
                Ok(n) => done += n,
                Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
                Err(e) => return Err(e),
            }
        }
        Ok(done)
    }
}

/// A regular file; its size is that of the moment it was opened.
#[derive(Debug)]
pub struct FileSource {
    file: File,
    size: u64,
}

impl FileSource {
    /// Opens a regular file.
    ///
    /// # Errors
    /// If it is missing, a folder or no file at all, or cannot be read.
    pub fn open(path: &Path) -> Result<Self, CaptureError> {
        let fail = |e| CaptureError::disk(path, "read it", e);
        // Asked before it is opened: opening a pipe waits until somebody writes into it.
        let about = std::fs::metadata(path).map_err(fail)?;
        if about.is_dir() {
            return Err(CaptureError::folder(path));
        }
        if !about.is_file() {
            return Err(CaptureError::no_file(path));
        }
        let file = File::open(path).map_err(fail)?;
        let about = file.metadata().map_err(fail)?;
        Ok(FileSource { file, size: about.len() })
    }
}

impl ByteSource for FileSource {
    fn read_at(&self, at: u64, out: &mut [u8]) -> io::Result<usize> {
        self.file.read_at(out, at)
    }
    fn size(&self) -> u64 {
        self.size
    }
}

impl ByteSource for Vec<u8> {
    fn read_at(&self, at: u64, out: &mut [u8]) -> io::Result<usize> {
        let rest = usize::try_from(at).ok().and_then(|at| self.get(at..)).unwrap_or(&[]);
        let n = rest.len().min(out.len());
        out[..n].copy_from_slice(&rest[..n]);
        Ok(n)
    }
    fn size(&self) -> u64 {
        self.len() as u64
    }
}
