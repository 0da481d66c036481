//! The chunks of a RIFF or RF64 file: where the format, the samples and the extras are.

use crate::source::ByteSource;
use crate::{CaptureError, Place};
use std::path::Path;
use units::Reason;

/// What the walk found.
pub(super) struct Chunks {
    pub(super) format: Vec<u8>,
    pub(super) format_at: u64,
    pub(super) data_at: u64,
    pub(super) data_bytes: u64,
    pub(super) auxi: Option<Vec<u8>>,
}

/// A size of 32 bits that stands for 'see ds64', or 'not known yet' in a streamed file.
const UNKNOWN_SIZE: u32 = u32::MAX;
const WRAP: u64 = 1 << 32;

/// Walks the chunks. Sizes beyond the end of the file are cut to it, with a warning.
pub(super) fn walk(
    source: &dyn ByteSource,
    path: &Path,
    warnings: &mut Vec<Reason>,
) -> Result<Chunks, CaptureError> {
    let size = source.size();
    let read = |at: u64, n: u64| -> Result<Vec<u8>, CaptureError> {
        let mut bytes = vec![0; n.min(size.saturating_sub(at)) as usize];
        let got = source
            .read_full(at, &mut bytes)
            .map_err(|e| CaptureError::disk(path, &format!("read it at byte {at}"), e))?;
        bytes.truncate(got);
        Ok(bytes)
    };
    let riff = read(0, 12)?;
    if riff.len() < 12 {
        return Err(cut(path, size, "its header of 12 bytes"));
    }
    let is_rf64 = &riff[..4] != b"RIFF";
    let mut format = None;
    let mut data = None;
    let mut auxi = None;
    let mut ds64_data = None;
    let mut at = 12;
    while at + 8 <= size {
        let header = read(at, 8)?;
        let (Some(id), Some(stated)) = (header.get(..4), u32_at(&header, 4)) else { break };
        let body = at + 8;
        let rest = size - body;
        let mut length = u64::from(stated);
        match id {
            b"ds64" => ds64_data = u64_at(&read(body, length.min(28))?, 8),
            b"fmt " => format = Some((body, read(body, length.min(64))?)),
            b"auxi" => auxi = Some(read(body, length.min(64 * 1024))?),
            b"data" => {
                if is_rf64 && stated == UNKNOWN_SIZE {
                    length = ds64_data.unwrap_or(u64::MAX);
                }
                let (bytes, warning) = data_size(length, rest);
                warnings.extend(warning);
                data = Some((body, bytes));
                length = bytes;
            }
            _ => {}
        }
        // Chunks begin at even bytes.
        at = body.saturating_add(length).saturating_add(length % 2);
        if data.is_some() && format.is_some() && !plausible_id(&read(at, 4)?) {
            break;
        }
    }
    let Some((format_at, format)) = format else {
        return Err(CaptureError::refused(
            path,
            Place::Byte(12),
            "no 'fmt ' chunk is in it",
            "one that says how samples are stored",
            "The file is damaged: if its samples can be trusted, say --format and --rate.",
        ));
    };
    let Some((data_at, data_bytes)) = data else {
        return Err(CaptureError::refused(
            path,
            Place::Byte(at.min(size)),
            "no 'data' chunk is in it",
            "one with the samples",
            "The file is cut short: look for another copy.",
        ));
    };
    Ok(Chunks { format, format_at, data_at, data_bytes, auxi })
}

/// Bytes of samples, where the header states `stated` and the file has `rest` after it.
fn data_size(stated: u64, rest: u64) -> (u64, Option<Reason>) {
    let says = |code: &str, text: String| {
        Some(
            Reason::new(code, text)
                .with("stated_bytes", stated as f64)
                .with("present_bytes", rest as f64),
        )
    };
    if stated == rest || stated + 1 == rest {
        return (stated, None);
    }
    if stated == 0 && rest > 0 {
        let text = format!(
            "its header states no samples, as if still being recorded: all {rest} bytes to the end are taken"
        );
        return (rest, says("data_size_missing", text));
    }
    if stated > rest {
        let text = if stated >= u64::from(UNKNOWN_SIZE) {
            format!("its header does not state its length: all {rest} bytes to the end are taken")
        } else {
            format!(
                "its header states {stated} bytes of samples, {rest} are there: it is cut short"
            )
        };
        return (rest, says("data_size_too_large", text));
    }
    if stated < WRAP && rest - stated >= WRAP && (rest - stated) % WRAP < 1 << 20 {
        let text = format!(
            "its header states {stated} bytes, which passed 4 GiB and began anew: all {rest} bytes to the end are taken"
        );
        return (rest, says("data_size_wrapped", text));
    }
    (stated, None)
}

/// Chunk names are printable ASCII; anything else after the samples is rubbish, not a chunk.
fn plausible_id(id: &[u8]) -> bool {
    id.len() == 4 && id.iter().all(|b| (0x20..0x7f).contains(b))
}

#[cold]
pub(super) fn cut(path: &Path, at: u64, what: &str) -> CaptureError {
    CaptureError::refused(
        path,
        Place::Byte(at),
        "the file ends here",
        what,
        "The file is cut short: look for another copy.",
    )
}

pub(super) fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    bytes.get(at..at + 2)?.try_into().ok().map(u16::from_le_bytes)
}
pub(super) fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..at + 4)?.try_into().ok().map(u32::from_le_bytes)
}
fn u64_at(bytes: &[u8], at: usize) -> Option<u64> {
    bytes.get(at..at + 8)?.try_into().ok().map(u64::from_le_bytes)
}
