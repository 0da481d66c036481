//! Complex samples: detect in one pass, search deeper where that is wanted, look closer, identify.

use crate::analyse::fill;
use crate::bursts::Keeper;
use crate::overview::OverviewWriter;
use crate::part::Part;
use crate::{
    AnalyseError, AnalyseOptions, Analysed, Progress, RecordingAnalysis, SegmentInfo, deeper,
    excerpts,
};
use capture::{CaptureError, IqRecording, not_scaled_to_one};
use detect::{DetectError, Hooks};
use units::{Iq, Samples, Segment};

pub(crate) fn analyse(
    iq: &IqRecording,
    mut analysis: RecordingAnalysis,
    options: &AnalyseOptions,
    progress: &dyn Progress,
) -> Result<Analysed, AnalyseError> {
    let part = options.range_s.map(|range_s| Part::new(iq, range_s));
    let samples: &dyn Samples = part.as_ref().map_or(iq, |part| part);
    describe(&mut analysis, samples, options);
    let mut keeper = options.bursts.then(|| Keeper::beside(&options.bursts_near));
    if samples.is_empty() {
        let bursts = keeper.map(|keeper| keeper.finish(&[])).transpose()?;
        return Ok(Analysed { analysis, events: Vec::new(), bursts });
    }
    let mut overview = match &options.overview {
        Some(folder) => Some(OverviewWriter::create(folder, samples, iq.bytes_per_sample())?),
        None => None,
    };
    let mut failed: Option<CaptureError> = None;
    let mut detection = detect::from_samples(
        samples,
        &chosen(samples, options)?,
        &mut Hooks {
            on_burst: &mut |burst| {
                if let Some(keeper) = &mut keeper {
                    keeper.push(&burst);
                }
            },
            on_progress: &mut |fraction| {
                progress.step((fraction * 1000.0) as u64, 1000, "detecting");
                !progress.cancelled()
            },
            on_samples: Some(&mut |segment: usize, iq: &[Iq]| {
                if failed.is_none()
                    && let Some(overview) = &mut overview
                {
                    failed = overview.push(segment, iq).err();
                }
            }),
        },
    )?;
    if let Some(error) = failed {
        return Err(error.into());
    }
    if let Some(overview) = overview {
        overview.finish()?;
    }
    if options.deep {
        analysis.warnings.extend(deeper::add(&mut detection, samples, options, progress)?);
    }
    let looks = excerpts::looks(samples, &detection.found, progress)?;
    analysis.recording.clipped_fraction = detection.clipped_fraction;
    if iq.is_float() {
        analysis.warnings.extend(not_scaled_to_one(detection.peak_rail));
    }
    let bursts = keeper.map(|keeper| keeper.finish(&detection.rows)).transpose()?;
    let centre_known = samples.segments().iter().all(|s| s.centre_hz.is_some());
    fill(&mut analysis, detection, &looks, centre_known, options);
    Ok(Analysed { analysis, events: Vec::new(), bursts })
}

/// What the detector is asked for.
fn chosen(
    samples: &dyn Samples,
    options: &AnalyseOptions,
) -> Result<detect::Options, AnalyseError> {
    let usual = detect::Options::default();
    let hours = samples.len() as f64 / samples.sample_rate_hz() / 3600.0;
    let false_rows = options.false_alarms_per_hour.map_or(usual.false_rows, |rate| rate * hours);
    if let Some(rate) = options.false_alarms_per_hour {
        let most = detect::MOST_FALSE * samples.len() as f64 / hours;
        if !(rate > 0.0 && rate <= most) {
            return Err(AnalyseError::Detect(DetectError::Option {
                option: "the number of false alarms an hour",
                value: rate,
                want: "it must be above zero, and one in a thousand samples at most",
            }));
        }
    }
    Ok(detect::Options { false_rows, full_scale: options.full_scale, faint: options.faint })
}

/// What the samples, or the part of them, are.
fn describe(analysis: &mut RecordingAnalysis, samples: &dyn Samples, options: &AnalyseOptions) {
    let info = &mut analysis.recording;
    info.sample_rate_hz = Some(samples.sample_rate_hz());
    info.samples = samples.len();
    info.segments = samples.segments().iter().map(segment_info).collect();
    info.centre_hz = samples.segments().first().and_then(|s| s.centre_hz);
    info.start = samples.segments().first().and_then(|s| s.start);
    if let Some((from, until)) = options.range_s {
        info.duration_s = (until.min(info.duration_s) - from.max(0.0)).max(0.0);
    }
}

fn segment_info(segment: &Segment) -> SegmentInfo {
    SegmentInfo {
        first_sample: segment.first_sample,
        samples: segment.samples,
        centre_hz: segment.centre_hz,
        start: segment.start,
    }
}
