//! Where the samples of each capture stand in the data, and when and at which centre they were
//! taken.

use super::fields::Fields;
use super::metadata::Metadata;
use crate::assemble::whole_samples;
use crate::iq::Stretch;
use crate::limits::{A_FREQUENCY, is_frequency, told};
use crate::number::Number;
use crate::{CaptureError, OpenOptions};
use std::path::Path;
use units::{Reason, Segment, Utc};

/// Segments and their bytes.
pub(super) struct Laid {
    pub(super) segments: Vec<Segment>,
    pub(super) stretches: Vec<Stretch>,
    /// Place of each segment's first sample in the receiver's unbroken count.
    pub(super) global_index: Vec<u64>,
    /// What to take from the metadata's sample numbers to count from the recording's first.
    pub(super) shift: u64,
}

/// One capture object, read.
struct Capture {
    start: u64,
    header_bytes: u64,
    centre_hz: Option<f64>,
    datetime: Option<Utc>,
    global_index: u64,
}

/// Lays the captures over `bytes` bytes of data from `first_byte` on.
pub(super) fn lay_out(
    metadata: &Metadata,
    path: &Path,
    number: Number,
    (first_byte, bytes): (u64, u64),
    options: &OpenOptions,
    warnings: &mut Vec<Reason>,
) -> Result<Laid, CaptureError> {
    let global = metadata.global(path);
    let captures = read_captures(metadata, path, options, warnings)?;
    let width = 2 * number.bytes();
    let trailing = global.index("core:trailing_bytes")?.unwrap_or(0);
    let headers = captures.iter().fold(0u64, |sum, c| sum.saturating_add(c.header_bytes));
    let Some(payload) = bytes.checked_sub(headers.saturating_add(trailing)) else {
        if headers > bytes || trailing == 0 {
            let longest = (0..captures.len()).max_by_key(|i| captures[*i].header_bytes);
            let key = format!("captures[{}].core:header_bytes", longest.unwrap_or(0));
            return Err(CaptureError::refused(
                path,
                crate::Place::Field(key),
                format!("headers of {headers} bytes are stated"),
                format!("no more than the {bytes} bytes that the data has"),
                "The data was cut short, or the metadata belongs to another file.",
            ));
        }
        return Err(global.refuse(
            "core:trailing_bytes",
            format!("headers of {headers} bytes and {trailing} trailing bytes are stated"),
            &format!("no more than the {bytes} bytes that the data has"),
            "The data was cut short, or the metadata belongs to another file.",
        ));
    };
    let total = whole_samples(payload, width, warnings);
    // Sample numbers count from core:offset where a recording is split over files.
    let offset = global.index("core:offset")?.unwrap_or(0);
    let offset = if captures.iter().all(|c| c.start >= offset) { offset } else { 0 };
    let shift = captures.first().map_or(0, |c| c.start);
    let skipped = shift - offset;
    if skipped > 0 {
        warnings.push(
            Reason::new(
                "samples_before_first_capture",
                format!(
                    "{skipped} samples before the first capture are described by nothing: left out"
                ),
            )
            .with("samples", skipped as f64),
        );
    }
    let mut laid = Laid { segments: vec![], stretches: vec![], global_index: vec![], shift };
    let mut headers_so_far = 0;
    for (i, capture) in captures.iter().enumerate() {
        headers_so_far += capture.header_bytes;
        let first = capture.start - offset;
        if first >= total {
            warnings.push(
                Reason::new(
                    "data_cut_short",
                    format!("capture {i} begins at sample {first}, but the data has {total}: it was cut short"),
                )
                .with("capture", i as f64)
                .with("samples", total as f64),
            );
            break;
        }
        let end = captures.get(i + 1).map_or(total, |next| (next.start - offset).min(total));
        let samples = end - first;
        if samples == 0 {
            continue;
        }
        let first_sample = first - skipped;
        laid.segments.push(Segment {
            first_sample,
            samples,
            centre_hz: capture.centre_hz,
            start: capture.datetime,
        });
        laid.stretches.push(Stretch {
            first: 2 * first_sample,
            count: 2 * samples,
            byte: first_byte + headers_so_far + first * width as u64,
        });
        laid.global_index.push(capture.global_index);
    }
    Ok(laid)
}

fn read_captures(
    metadata: &Metadata,
    path: &Path,
    options: &OpenOptions,
    warnings: &mut Vec<Reason>,
) -> Result<Vec<Capture>, CaptureError> {
    let mut captures: Vec<Capture> = Vec::with_capacity(metadata.captures.len().max(1));
    let mut no_offset = 0;
    for (i, map) in metadata.captures.iter().enumerate() {
        let fields = Fields { map, place: format!("captures[{i}]"), file: path };
        let start = fields.index("core:sample_start")?.unwrap_or(0);
        if captures.last().is_some_and(|before| before.start > start) {
            return Err(fields.refuse(
                "core:sample_start",
                format!("{start} comes before that of the capture above"),
                "captures in rising order",
                "Correct the metadata file with a text editor.",
            ));
        }
        let centre_hz = match options.centre_hz {
            Some(_) => fields.number("core:frequency").unwrap_or(None),
            None => fields.number("core:frequency")?,
        };
        if let (Some(hz), None) = (centre_hz.filter(|hz| !is_frequency(*hz)), options.centre_hz) {
            let remedy = "Correct the metadata file with a text editor, or say --centre HZ.";
            return Err(fields.refuse(
                "core:frequency",
                format!("it is {}", told(hz)),
                A_FREQUENCY,
                remedy,
            ));
        }
        let datetime = match (fields.text("core:datetime"), options.start) {
            (Ok(text), _) => read_time(text, &fields, options, &mut no_offset)?,
            (Err(_), Some(_)) => None,
            (Err(e), None) => return Err(e),
        };
        captures.push(Capture {
            start,
            header_bytes: fields.index("core:header_bytes")?.unwrap_or(0),
            centre_hz,
            datetime,
            global_index: fields.index("core:global_index")?.unwrap_or(start),
        });
    }
    if captures.is_empty() {
        // The specification: no captures imply one from sample 0.
        captures.push(Capture {
            start: 0,
            header_bytes: 0,
            centre_hz: None,
            datetime: None,
            global_index: 0,
        });
    }
    if no_offset > 0 {
        warnings.push(
            Reason::new(
                "time_without_offset",
                format!("{no_offset} stamps do not end in Z as SigMF wants: taken as UTC"),
            )
            .with("count", f64::from(no_offset)),
        );
    }
    Ok(captures)
}

/// RFC 3339 in UTC, as the specification wants it. Older files leave the Z out.
fn read_time(
    text: Option<&str>,
    fields: &Fields,
    options: &OpenOptions,
    no_offset: &mut u32,
) -> Result<Option<Utc>, CaptureError> {
    let Some(text) = text else { return Ok(None) };
    let read = match Utc::parse(text) {
        Ok(at) => return Ok(Some(at)),
        Err(e) => Utc::parse(&format!("{}Z", text.trim())).map_err(|_| e),
    };
    match (read, options.start) {
        (Ok(at), _) => {
            *no_offset += 1;
            Ok(Some(at))
        }
        (Err(_), Some(_)) => Ok(None),
        (Err(e), None) => Err(fields.refuse(
            "core:datetime",
            format!("{e}"),
            "a time like 2026-03-01T21:30:00Z",
            "Correct the field, or say --start TIME.",
        )),
    }
}

/// Fills in the times of segments that state none, from the nearest stated one before (else after)
/// and the receiver's sample count, which by the specification runs on where nothing is said.
/// Where no segment states a time, `said` is that of the first.
pub(super) fn with_times(
    mut segments: Vec<Segment>,
    global_index: &[u64],
    rate_hz: f64,
    said: Option<Utc>,
) -> Vec<Segment> {
    let untimed = segments.iter().all(|s| s.start.is_none());
    if let Some(first) = segments.first_mut()
        && untimed
    {
        first.start = said;
    }
    let stated: Vec<(u64, Utc)> = segments
        .iter()
        .zip(global_index)
        .filter_map(|(segment, &index)| Some((index, segment.start?)))
        .collect();
    let mut seen = 0;
    for (segment, &index) in segments.iter_mut().zip(global_index) {
        if segment.start.is_some() {
            seen += 1;
        } else if let Some(&(known, at)) = stated.get(seen.max(1) - 1) {
            segment.start = Some(at.plus_seconds((index as f64 - known as f64) / rate_hz));
        }
    }
    segments
}
