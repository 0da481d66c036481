//! The 'fmt ' chunk.

use super::chunks::{cut, u16_at, u32_at};
use crate::number::{Number, NumberKind};
use crate::{CaptureError, Place};
use std::path::Path;

const PCM: u16 = 1;
const FLOAT: u16 = 3;
const EXTENSIBLE: u16 = 0xfffe;

/// How samples are stored.
pub(super) struct Format {
    pub(super) number: Number,
    pub(super) channels: u16,
    pub(super) rate_hz: f64,
}

impl Format {
    /// From the body of the chunk, which stands at byte `at`.
    pub(super) fn parse(body: &[u8], path: &Path, at: u64) -> Result<Self, CaptureError> {
        let (Some(tag), Some(channels), Some(rate), Some(align), Some(bits)) =
            (u16_at(body, 0), u16_at(body, 2), u32_at(body, 4), u16_at(body, 12), u16_at(body, 14))
        else {
            return Err(cut(path, at + body.len() as u64, "a 'fmt ' chunk of 16 bytes or more"));
        };
        // Extensible: the tag proper is the first word of the sub-format, 24 bytes in.
        let tag_at = if tag == EXTENSIBLE { 24 } else { 0 };
        let Some(tag) = u16_at(body, tag_at) else {
            return Err(cut(
                path,
                at + body.len() as u64,
                "an extensible 'fmt ' chunk of 40 bytes",
            ));
        };
        if channels == 0 {
            return Err(CaptureError::refused(
                path,
                Place::Byte(at + 2),
                "it has no channels",
                "two for IQ, one or more for sound",
                "The header is damaged: if its samples can be trusted, say --format and --rate.",
            ));
        }
        // Samples with odd widths (12, 20 bits) stand left-justified in whole bytes.
        let kind = match (tag, bits.div_ceil(8)) {
            (PCM, 1) => NumberKind::U8Wav,
            (PCM, 2) => NumberKind::I16,
            (PCM, 3) => NumberKind::I24,
            (PCM, 4) => NumberKind::I32,
            (FLOAT, 4) => NumberKind::F32,
            (FLOAT, 8) => NumberKind::F64,
            _ => return Err(unknown_encoding(path, at + tag_at as u64, tag, bits)),
        };
        let number = Number::little(kind);
        let frame = number.bytes() * usize::from(channels);
        if usize::from(align) != frame {
            return Err(CaptureError::refused(
                path,
                Place::Byte(at + 12),
                format!(
                    "a frame of {channels} channels of {bits} bits is said to take {align} bytes"
                ),
                format!("{frame}"),
                "The header is damaged: if its samples can be trusted, say --format and --rate.",
            ));
        }
        Ok(Format { number, channels, rate_hz: f64::from(rate) })
    }
}

#[cold]
fn unknown_encoding(path: &Path, at: u64, tag: u16, bits: u16) -> CaptureError {
    let name = match tag {
        PCM => "integers",
        FLOAT => "floats",
        2 | 0x11 => "ADPCM",
        6 => "A-law",
        7 => "mu-law",
        0x31 => "GSM 6.10",
        0x50 | 0x55 => "MPEG",
        _ => "an unknown encoding",
    };
    CaptureError::refused(
        path,
        Place::Byte(at),
        format!("its samples are {name} of {bits} bits (format tag {tag})"),
        "integers of 8, 16, 24 or 32 bits, or floats of 32 or 64",
        "Convert it to one of these with any sound tool.",
    )
}
