//! One file through the floors.

use crate::bursts::BurstList;
use crate::{
    AnalyseError, AnalyseOptions, EmissionRow, Progress, RecordingAnalysis, RecordingInfo, log,
    round, samples, traces,
};
use almanac::Almanac;
use capture::{Opened, Recording};
use detect::Detection;
use identify::{Look, identify};
use std::path::Path;
use units::Event;

/// What one recording gave.
#[derive(Debug)]
pub struct Analysed {
    /// What it shows, rounded as printed.
    pub analysis: RecordingAnalysis,
    /// A log's events, each with the index of its row in `analysis.emissions`.
    pub events: Vec<(Event, Option<u32>)>,
    /// Every burst, where they were asked for.
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
    let analysis = RecordingAnalysis {
        recording: RecordingInfo {
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
        },
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
            Recording::Iq(iq) => samples::analyse(&iq, analysis, options, progress),
            Recording::Events(events) => Ok(log::analyse(events, analysis, options)),
            Recording::Traces(file) => traces::analyse(file, analysis, options, progress),
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
    let (file, what, remedy) = (path.to_owned(), what.to_owned(), remedy.to_owned());
    AnalyseError::Refused { file, what, remedy }
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

/// Puts what was found into the analysis, as rows. `looks` are those of each found emission.
pub(crate) fn fill(
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
        label: None,
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
