//! One file through the floors.

use crate::bursts::{BurstList, Keeper};
use crate::excerpts;
use crate::part::Part;
use crate::peak::Peaked;
use crate::{
    AnalyseError, AnalyseOptions, EmissionRow, Progress, RecordingAnalysis, RecordingInfo,
    SegmentInfo, round,
};
use almanac::Almanac;
use capture::{IqRecording, Opened, Recording, not_scaled_to_one};
use detect::{Detection, Hooks};
use identify::{Look, identify};
use std::path::Path;
use units::{Event, Samples, Segment};

/// What one recording gave.
#[derive(Debug)]
pub struct Analysed {
    /// What it shows, rounded as printed.
    pub analysis: RecordingAnalysis,
    /// A log's events, each with the index of its row in `analysis.emissions`.
    pub events: Vec<(Event, Option<u32>)>,
    /// Every burst, where they were asked for and the recording has samples.
    pub bursts: Option<BurstList>,
}

/// Opens a file and analyses what it holds.
///
/// # Errors
/// If it cannot be read, holds sound, or `progress` says stop.
pub fn analyse(
    path: &Path,
    options: &AnalyseOptions,
    progress: &dyn Progress,
) -> Result<Analysed, AnalyseError> {
    let opened = capture::open(path, &options.open)?;
    analyse_opened(path, opened, options, progress)
}

/// Analyses a file that was opened; `path` is what it is called in the result.
///
/// # Errors
/// As [`analyse`].
pub fn analyse_opened(
    path: &Path,
    opened: Opened,
    options: &AnalyseOptions,
    progress: &dyn Progress,
) -> Result<Analysed, AnalyseError> {
    check_range(path, options)?;
    let info = RecordingInfo {
        path: path.display().to_string(),
        sha256: String::new(),
        format: opened.format.clone(),
        sample_rate_hz: None,
        centre_hz: None,
        start: opened.start,
        duration_s: opened.duration_s,
        samples: 0,
        clipped_fraction: 0.0,
        segments: Vec::new(),
    };
    let analysis = RecordingAnalysis {
        recording: info,
        emissions: Vec::new(),
        listened: Vec::new(),
        warnings: opened.warnings,
        burst_list: None,
    };
    // Hashing reads the file beside the first pass over it, while the system still holds its
    // pages; so the disk gives each byte once.
    let (sha256, analysed) = std::thread::scope(|scope| {
        let hash = scope.spawn(|| sha256(&opened.data_file, options, progress));
        let analysed = match opened.recording {
            Recording::Iq(iq) => samples(&iq, analysis, options, progress),
            Recording::Traces(_) | Recording::Events(_) => {
                Err(refused(path, "tables are not analysed yet", "Leave it aside for now."))
            }
            Recording::Sound(_) => Err(refused(
                path,
                "this is sound, in which there is no emission to find",
                "If its two channels are I and Q of a receiver, say --as iq.",
            )),
        };
        let hash = hash.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        (hash, analysed)
    });
    let mut analysed = analysed?;
    analysed.analysis.recording.sha256 = sha256?;
    round::analysis(&mut analysed.analysis);
    Ok(analysed)
}

fn check_range(path: &Path, options: &AnalyseOptions) -> Result<(), AnalyseError> {
    match options.range_s {
        Some((from, until)) if !(from < until && from.is_finite() && until.is_finite()) => {
            let what = format!("a part from {from} s to {until} s is no part of it");
            Err(refused(path, &what, "Give two times, the earlier first."))
        }
        _ => Ok(()),
    }
}

fn refused(path: &Path, what: &str, remedy: &str) -> AnalyseError {
    AnalyseError::Refused {
        file: path.to_owned(),
        what: what.to_owned(),
        remedy: remedy.to_owned(),
    }
}

fn sha256(
    data_file: &Path,
    options: &AnalyseOptions,
    progress: &dyn Progress,
) -> Result<String, AnalyseError> {
    match &options.sha256 {
        Some(known) => Ok(known.clone()),
        None => {
            let hash = capture::sha256_file_while(data_file, &|| !progress.cancelled())?;
            hash.ok_or(AnalyseError::Cancelled)
        }
    }
}

/// Complex samples: detect in one pass, look closer in a second, identify.
fn samples(
    iq: &IqRecording,
    mut analysis: RecordingAnalysis,
    options: &AnalyseOptions,
    progress: &dyn Progress,
) -> Result<Analysed, AnalyseError> {
    let part = options.range_s.map(|range_s| Part::new(iq, range_s));
    let samples: &dyn Samples = part.as_ref().map_or(iq, |part| part);
    let info = &mut analysis.recording;
    info.sample_rate_hz = Some(samples.sample_rate_hz());
    info.samples = samples.len();
    info.segments = samples.segments().iter().map(segment_info).collect();
    info.centre_hz = samples.segments().first().and_then(|s| s.centre_hz);
    info.start = samples.segments().first().and_then(|s| s.start);
    if let Some((from, until)) = options.range_s {
        let whole_s = info.duration_s;
        info.duration_s = (until.min(whole_s) - from.max(0.0)).max(0.0);
    }
    if samples.is_empty() {
        return Ok(Analysed { analysis, events: Vec::new(), bursts: None });
    }
    let peaked = Peaked::new(samples);
    let mut keeper = options.bursts.then(Keeper::default);
    let detection = detect::from_samples(
        &peaked,
        &detect::Options { full_scale: options.full_scale, ..detect::Options::default() },
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
        },
    )?;
    let looks = excerpts::looks(&peaked, &detection.found, progress)?;
    analysis.recording.clipped_fraction = detection.clipped_fraction;
    analysis.warnings.extend(not_scaled_to_one(peaked.peak()));
    let bursts = keeper.map(|keeper| keeper.finish(&detection.rows)).transpose()?;
    let centre_known = samples.segments().iter().all(|s| s.centre_hz.is_some());
    fill(&mut analysis, detection, &looks, centre_known, options);
    Ok(Analysed { analysis, events: Vec::new(), bursts })
}

fn segment_info(segment: &Segment) -> SegmentInfo {
    SegmentInfo {
        first_sample: segment.first_sample,
        samples: segment.samples,
        centre_hz: segment.centre_hz,
        start: segment.start,
    }
}

/// What was found, as rows.
fn fill(
    analysis: &mut RecordingAnalysis,
    detection: Detection,
    looks: &[Vec<Look>],
    centre_known: bool,
    options: &AnalyseOptions,
) {
    let almanac = Almanac::load();
    let rows = detection.found.iter().enumerate().map(|(index, found)| EmissionRow {
        id: id_of(index),
        first_s: found.first_s,
        last_s: found.last_s,
        emission: identify(
            found,
            looks.get(index).map_or(&[], Vec::as_slice),
            centre_known,
            almanac,
            options.region,
        ),
        strength: found.strength,
    });
    analysis.emissions = rows.collect();
    analysis.listened = detection.listened;
    for warning in detection.warnings {
        if analysis.warnings.iter().all(|w| w.code != warning.code || w.text != warning.text) {
            analysis.warnings.push(warning);
        }
    }
}

/// The id of a row: R1 is the first.
pub(crate) fn id_of(index: usize) -> String {
    format!("R{}", index + 1)
}
