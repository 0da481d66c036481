//! From stored numbers and what a file states to a recording: the person's rate, centre and start
//! are laid over the file's, each difference said in a warning.

use crate::iq::{IqRecording, Rails};
use crate::limits::{A_FREQUENCY, A_RATE, is_frequency, is_rate, told};
use crate::{CaptureError, OpenOptions, Place};
use std::path::Path;
use units::{Reason, Segment, Utc};

/// Checks what the person says before any file is opened.
pub(crate) fn check_options(path: &Path, options: &OpenOptions) -> Result<(), CaptureError> {
    let refuse = |word: &str, hz: f64, expected: &str| {
        Err(CaptureError::refused(
            path,
            Place::Whole,
            format!("the {word} given for it is {}", told(hz)),
            expected,
            "Correct what was said on the command line.",
        ))
    };
    match (options.rate_hz, options.centre_hz) {
        (Some(hz), _) if !is_rate(hz) => refuse("sample rate", hz, A_RATE),
        (_, Some(hz)) if !is_frequency(hz) => refuse("centre frequency", hz, A_FREQUENCY),
        _ => Ok(()),
    }
}

/// The rate to use: the person's, else the file's.
pub(crate) fn rate(
    stated_hz: Option<f64>,
    options: &OpenOptions,
    warnings: &mut Vec<Reason>,
) -> Option<f64> {
    if let (Some(said), Some(stated)) = (options.rate_hz, stated_hz)
        && said != stated
    {
        warnings.push(
            Reason::new(
                "rate_overridden",
                format!("sample rate {said} Hz as given; the file states {stated} Hz"),
            )
            .with("given_hz", said)
            .with("stated_hz", stated),
        );
    }
    options.rate_hz.or(stated_hz)
}

/// Builds the recording; `segments` must be in order, without gap or overlap in their samples.
pub(crate) fn recording(
    rails: Rails,
    rate_hz: f64,
    mut segments: Vec<Segment>,
    options: &OpenOptions,
    warnings: &mut Vec<Reason>,
) -> Result<IqRecording, CaptureError> {
    segments.retain(|s| s.samples > 0);
    if segments.is_empty() {
        return Err(CaptureError::refused(
            &rails.file,
            Place::Whole,
            "it holds no samples",
            "at least one",
            "The recorder stopped before it wrote any: look for another copy.",
        ));
    }
    if let Some(said) = options.centre_hz {
        override_centre(&rails.file, &mut segments, said, warnings)?;
    }
    if let Some(said) = options.start {
        override_start(&mut segments, said, warnings);
    }
    if segments.iter().any(|s| s.centre_hz.is_none()) {
        warnings.push(Reason::new(
            "centre_unknown",
            "no centre frequency is stated: frequencies are offsets from an unknown centre",
        ));
    }
    Ok(IqRecording { rails, rate_hz, segments })
}

fn override_centre(
    file: &Path,
    segments: &mut [Segment],
    said: f64,
    warnings: &mut Vec<Reason>,
) -> Result<(), CaptureError> {
    let stated: Vec<f64> = segments.iter().filter_map(|s| s.centre_hz).collect();
    if let (Some(first), true) = (stated.first(), stated.iter().any(|hz| *hz != stated[0])) {
        return Err(CaptureError::refused(
            file,
            Place::Whole,
            format!(
                "its {} segments have different centre frequencies, from {first} Hz on, but one was given",
                segments.len()
            ),
            "no --centre, or a recording with one centre frequency",
            "Leave --centre out, or correct the metadata.",
        ));
    }
    if let Some(&stated) = stated.first()
        && stated != said
    {
        warnings.push(
            Reason::new(
                "centre_overridden",
                format!("centre frequency {said} Hz as given; the file states {stated} Hz"),
            )
            .with("given_hz", said)
            .with("stated_hz", stated),
        );
    }
    for segment in segments {
        segment.centre_hz = Some(said);
    }
    Ok(())
}

/// Moves every stated time so that the first sample is at `said`.
fn override_start(segments: &mut [Segment], said: Utc, warnings: &mut Vec<Reason>) {
    let Some(first) = segments.first_mut() else { return };
    let stated = first.start.replace(said);
    let Some(stated) = stated else { return };
    let shift_ns = said.0.saturating_sub(stated.0);
    for segment in segments.iter_mut().skip(1) {
        segment.start = segment.start.map(|at| Utc(at.0.saturating_add(shift_ns)));
    }
    if shift_ns != 0 {
        warnings.push(
            Reason::new(
                "start_overridden",
                format!("starts {said} as given; the file states {stated}"),
            )
            .with("given", said.to_string())
            .with("stated", stated.to_string()),
        );
    }
}

/// Whole samples in `bytes` bytes of `width` each; a rest is said in a warning.
pub(crate) fn whole_samples(bytes: u64, width: usize, warnings: &mut Vec<Reason>) -> u64 {
    let width = width as u64;
    let rest = bytes % width;
    if rest != 0 {
        warnings.push(
            Reason::new(
                "partial_sample",
                format!("bytes at the end ({rest}) make no whole sample of {width}: left out"),
            )
            .with("bytes", rest as f64),
        );
    }
    bytes / width
}

/// The warning for float samples that were not scaled to full scale 1; `peak` is the largest
/// magnitude of a rail met. Levels in dBFS then compare within the recording only.
pub fn not_scaled_to_one(peak: f32) -> Option<Reason> {
    (peak > 1.0).then(|| {
        Reason::new(
            "not_scaled_to_1",
            format!(
                "samples reach {peak}, not scaled to 1: levels in dBFS are relative to 1 and compare \
                 only within this recording"
            ),
        )
        .with("peak", f64::from(peak))
    })
}
