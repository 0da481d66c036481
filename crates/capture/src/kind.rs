//! Files that are told by their first bytes, and what is said of those that have no reader.

use crate::{CaptureError, Place};
use std::path::Path;

/// What the first bytes say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Wav,
    Tar,
    Json,
    Refused(&'static Unread),
    Unknown,
}

/// A kind of file without a reader.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Unread {
    magic: &'static [u8],
    at: usize,
    is: &'static str,
    remedy: &'static str,
}

const FRAMES: &str = "Frames have no reader yet; leave it aside for now.";
const SOUND: &str = "Convert it to WAV with any sound tool, then add that.";
const UNPACK: &str = "Unpack it and name the files inside.";
const NOT_A_RECORDING: &str = "Name a recording.";
const SHOWN: &str = "Name a recording; what this shows can be noted with `note DIR --remark TEXT`.";
const CONVERT: &str = "Export the samples as SigMF, WAV or raw, and name that.";

const UNREAD: &[Unread] = &[
    unread(b"\xd4\xc3\xb2\xa1", "frames (pcap, little-endian)", FRAMES),
    unread(b"\xa1\xb2\xc3\xd4", "frames (pcap, big-endian)", FRAMES),
    unread(b"\x4d\x3c\xb2\xa1", "frames (pcap, nanoseconds, little-endian)", FRAMES),
    unread(b"\xa1\xb2\x3c\x4d", "frames (pcap, nanoseconds, big-endian)", FRAMES),
    unread(b"\x0a\x0d\x0d\x0a", "frames (pcapng)", FRAMES),
    unread(b"fLaC", "compressed sound (FLAC)", SOUND),
    unread(b"OggS", "compressed sound (Ogg)", SOUND),
    unread(b"ID3", "compressed sound (MP3)", SOUND),
    unread(b"\xff\xfb", "compressed sound (MP3)", SOUND),
    unread(b"\xff\xf3", "compressed sound (MP3)", SOUND),
    unread(b".snd", "sound (AU)", SOUND),
    unread(b"FORM", "sound (AIFF)", SOUND),
    unread(b"RIFX", "big-endian WAV (RIFX)", SOUND),
    Unread { magic: b"ftyp", at: 4, is: "an MP4 or M4A film or sound", remedy: SOUND },
    unread(b"\x1f\x8b", "a gzip archive", UNPACK),
    unread(b"PK\x03\x04", "a zip archive", UNPACK),
    unread(b"BZh", "a bzip2 archive", UNPACK),
    unread(b"\xfd7zXZ\x00", "an xz archive", UNPACK),
    unread(b"7z\xbc\xaf\x27\x1c", "a 7-zip archive", UNPACK),
    unread(b"\x28\xb5\x2f\xfd", "a zstd archive", UNPACK),
    unread(b"\x89PNG", "a picture (PNG)", SHOWN),
    unread(b"\xff\xd8\xff", "a picture (JPEG)", SHOWN),
    unread(b"GIF8", "a picture (GIF)", SHOWN),
    unread(b"%PDF", "a PDF document", SHOWN),
    unread(b"SQLite format 3\x00", "an SQLite database", NOT_A_RECORDING),
    unread(b"\x7fELF", "a program", NOT_A_RECORDING),
    unread(b"\x89HDF\r\n\x1a\n", "an HDF5 file", CONVERT),
    unread(b"\x93NUMPY", "a NumPy array", CONVERT),
    unread(b"MATLAB 5.0 MAT-file", "a MATLAB file", CONVERT),
];

const fn unread(magic: &'static [u8], is: &'static str, remedy: &'static str) -> Unread {
    Unread { magic, at: 0, is, remedy }
}

/// Tells the kind from the first bytes (4096 of them, or all there are).
pub(crate) fn kind_of(head: &[u8]) -> Kind {
    let is_at =
        |at: usize, magic: &[u8]| head.get(at..).is_some_and(|rest| rest.starts_with(magic));
    let riff = is_at(0, b"RIFF") || is_at(0, b"RF64") || is_at(0, b"BW64");
    if riff && (head.len() < 12 || is_at(8, b"WAVE")) {
        return Kind::Wav;
    }
    if let Some(unread) = UNREAD.iter().find(|u| is_at(u.at, u.magic)) {
        return Kind::Refused(unread);
    }
    if is_tar(head) {
        return Kind::Tar;
    }
    let text = head.strip_prefix(b"\xef\xbb\xbf").unwrap_or(head).trim_ascii_start();
    match text.first() {
        Some(b'{' | b'[') if !head.contains(&0) => Kind::Json,
        _ => Kind::Unknown,
    }
}

/// A tar header: its checksum is the sum of its bytes with the checksum itself as spaces
/// (POSIX.1-1988 ustar).
fn is_tar(head: &[u8]) -> bool {
    let Some(header) = head.get(..512) else { return false };
    let text = header[148..156].trim_ascii_start();
    let octal = text.iter().take_while(|b| (b'0'..=b'7').contains(b));
    let stated = octal.fold(0u32, |sum, b| sum * 8 + u32::from(b - b'0'));
    let sum: u32 = header.iter().map(|&b| u32::from(b)).sum();
    let own: u32 = header[148..156].iter().map(|&b| u32::from(b)).sum();
    header[0] != 0 && sum - own + 8 * 32 == stated
}

/// The refusal of a kind without a reader.
#[cold]
pub(crate) fn refuse(path: &Path, unread: &Unread) -> CaptureError {
    CaptureError::refused(
        path,
        Place::Byte(unread.at as u64),
        format!("this is {}", unread.is),
        "SigMF, WAV, a CSV table, or raw samples with --format",
        unread.remedy,
    )
}

/// The refusal of bytes that say nothing.
#[cold]
pub(crate) fn refuse_unknown(path: &Path) -> CaptureError {
    CaptureError::refused(
        path,
        Place::Byte(0),
        "nothing at its beginning says what it is",
        "SigMF, WAV, a CSV table, or raw samples with --format",
        "If it holds samples without a header, say --format cu8|ci8|ci16_le|cf32_le --rate HZ \
         [--centre HZ].",
    )
}
