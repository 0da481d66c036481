//! WAV as recorders of radio write it: two channels are I and Q, one is sound.
//!
//! RIFF/WAVE (Microsoft and IBM 1991; WAVEFORMATEXTENSIBLE 2001) and RF64 with its `ds64` chunk
//! for more than 4 GiB (EBU Tech 3306). Centre frequency and start come from the `auxi` chunk
//! that many receiver programs write (common practice, described in the documentation of several
//! of them: two SYSTEMTIME stamps in UTC, then 32-bit words of which the first is the centre in
//! hertz).

pub(crate) mod auxi;
mod chunks;
mod format;

use crate::assemble::{check_options, rate, recording, whole_samples};
use crate::iq::{Rails, Stretch};
use crate::source::ByteSource;
use crate::{CaptureError, OpenOptions, Opened, Place, Recording, SoundFile, TreatAs};
use auxi::Auxi;
use format::Format;
use std::path::Path;
use std::sync::Arc;
use units::{Reason, Segment};

pub(crate) fn open(
    source: Arc<dyn ByteSource>,
    path: &Path,
    options: &OpenOptions,
) -> Result<Opened, CaptureError> {
    check_options(path, options)?;
    let mut warnings = Vec::new();
    let chunks = chunks::walk(&*source, path, &mut warnings)?;
    let Format { number, channels, rate_hz } =
        Format::parse(&chunks.format, path, chunks.format_at)?;
    let frame_bytes = number.bytes() * usize::from(channels);
    let frames = whole_samples(chunks.data_bytes, frame_bytes, &mut warnings);
    let rate_hz = rate(Some(rate_hz), options, &mut warnings)
        .filter(|&hz| crate::limits::is_rate(hz))
        .ok_or_else(|| {
            CaptureError::refused(
                path,
                Place::Byte(chunks.format_at + 4),
                "its sample rate is 0",
                "a positive rate",
                "Say --rate HZ.",
            )
        })?;
    let count = frames * u64::from(channels);
    let stretches = vec![Stretch { first: 0, count, byte: chunks.data_at }];
    let rails = Rails { source, file: path.to_owned(), number, stretches };
    let aux = chunks.auxi.as_deref().map(Auxi::parse).unwrap_or_default();
    if chunks.auxi.is_some() && aux == Auxi::default() {
        warnings.push(Reason::new(
            "auxi_not_understood",
            "its auxi chunk is not of the known layout: centre frequency and start are not taken from it",
        ));
    }
    let as_iq = match (options.treat_as, channels) {
        (Some(TreatAs::Iq), 2) | (None, 2) => true,
        (Some(TreatAs::Iq), _) => return Err(not_two_channels(path, chunks.format_at, channels)),
        _ => false,
    };
    let opened = |recording, format, duration_s, start, warnings| Opened {
        recording,
        files: vec![path.to_owned()],
        data_file: path.to_owned(),
        format,
        duration_s,
        start,
        claims: Vec::new(),
        warnings,
    };
    if as_iq {
        let segment = Segment {
            first_sample: 0,
            samples: frames,
            centre_hz: aux.centre_hz,
            start: aux.start,
        };
        let iq = recording(rails, rate_hz, vec![segment], options, &mut warnings)?;
        let start = iq.segments.first().and_then(|s| s.start);
        let format = format!("wav {}", number.complex_name());
        let duration_s = iq.duration_s();
        return Ok(opened(Recording::Iq(iq), format, duration_s, start, warnings));
    }
    if frames == 0 {
        return Err(CaptureError::refused(
            path,
            Place::Byte(chunks.data_at),
            "it holds no samples",
            "at least one",
            "The recorder stopped before it wrote any: look for another copy.",
        ));
    }
    let sound = SoundFile { rails, channels, rate_hz, frames };
    let format = format!("wav sound {}", &number.complex_name()[1..]);
    let start = options.start.or(aux.start);
    Ok(opened(Recording::Sound(sound), format, frames as f64 / rate_hz, start, warnings))
}

#[cold]
fn not_two_channels(path: &Path, format_at: u64, channels: u16) -> CaptureError {
    CaptureError::refused(
        path,
        Place::Byte(format_at + 2),
        format!("it has {channels} channels"),
        "two, left I and right Q, to be taken as IQ",
        "Leave out --as iq, or export the recording as two-channel WAV or SigMF.",
    )
}
