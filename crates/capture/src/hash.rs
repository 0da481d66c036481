//! SHA-256 and SHA-512 (FIPS 180-4) of files and parts of files, streamed.

use crate::source::{ByteSource, FileSource};
use crate::{CaptureError, Place};
use sha2::{Digest, Sha256, Sha512};
use std::fmt::Write;
use std::path::Path;

/// SHA-256 of a file, lower-case hexadecimal.
///
/// # Errors
/// If the file cannot be read.
pub fn sha256_file(path: &Path) -> Result<String, CaptureError> {
    let hash = sha256_file_while(path, &|| true)?;
    hash.ok_or_else(|| {
        CaptureError::refused(path, Place::Whole, "hashing stopped", "", "Try again.")
    })
}

/// SHA-256 of a file as long as `keep_going` says so, asked at least once a megabyte; `None` if
/// it was stopped.
///
/// # Errors
/// If the file cannot be read.
pub fn sha256_file_while(
    path: &Path,
    keep_going: &(dyn Fn() -> bool + Sync),
) -> Result<Option<String>, CaptureError> {
    let source = FileSource::open(path)?;
    // A file may grow while it is recorded: hash what there is to the end, not the size at opening.
    hash_range::<Sha256>(&source, path, 0, u64::MAX, keep_going)
}

/// SHA-512 of `bytes` bytes of a source from `first` on.
pub(crate) fn sha512_range(
    source: &dyn ByteSource,
    path: &Path,
    first: u64,
    bytes: u64,
) -> Result<Option<String>, CaptureError> {
    hash_range::<Sha512>(source, path, first, bytes, &|| true)
}

fn hash_range<D: Digest>(
    source: &dyn ByteSource,
    path: &Path,
    first: u64,
    bytes: u64,
    keep_going: &(dyn Fn() -> bool + Sync),
) -> Result<Option<String>, CaptureError> {
    let mut hash = D::new();
    let mut block = vec![0; 256 * 1024];
    let mut done = 0;
    while done < bytes {
        if !keep_going() {
            return Ok(None);
        }
        let want = (bytes - done).min(block.len() as u64) as usize;
        let n = source
            .read_full(first + done, &mut block[..want])
            .map_err(|e| CaptureError::disk(path, "read it", e))?;
        if n == 0 {
            break;
        }
        hash.update(&block[..n]);
        done += n as u64;
    }
    Ok(Some(hex(&hash.finalize())))
}

/// Lower-case hexadecimal.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(2 * bytes.len()), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}
