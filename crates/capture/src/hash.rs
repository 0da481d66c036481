//! SHA-256 (FIPS 180-4) of a file, streamed.

use crate::CaptureError;
use sha2::{Digest, Sha256, Sha512};
use std::fmt::Write;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// SHA-256 of a file, lower-case hexadecimal.
///
/// # Errors
/// If the file cannot be read.
pub fn sha256_file(path: &Path) -> Result<String, CaptureError> {
    hash_file::<Sha256>(path)
}

/// SHA-512 of a file, lower-case hexadecimal.
pub(crate) fn sha512_file(path: &Path) -> Result<String, CaptureError> {
    hash_file::<Sha512>(path)
}

fn hash_file<D: Digest>(path: &Path) -> Result<String, CaptureError> {
    let fail = |e| CaptureError::disk(path, "read it", e);
    let mut file = File::open(path).map_err(fail)?;
    let mut hash = D::new();
    let mut block = vec![0; 256 * 1024];
    loop {
        match file.read(&mut block) {
            Ok(0) => return Ok(hex(&hash.finalize())),
            Ok(n) => hash.update(&block[..n]),
            Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
            Err(e) => return Err(fail(e)),
        }
    }
}

pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(2 * bytes.len()), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}
