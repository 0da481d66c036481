//! The floors below, as they are: `capture` opens, `analyse` derives.

use crate::derive::{Derived, Deriver, Look, Named, Parameters, Task};
use crate::things::Overrides;
use crate::{Progress, RecordingFault, SurveyError};
use almanac::Region;
use analyse::plane::Plane;
use analyse::{AnalyseError, AnalyseOptions, BurstList, Listening};
use capture::write::RowWriter;
use capture::{CaptureError, OpenOptions, Recording};
use ledger::CaptureKind;
use std::path::{Path, PathBuf};
use units::Dbm;

/// Raised whenever the same evidence and parameters may give other results than before.
const ENGINE: u32 = 1;

/// This program's own readers and analysis.
#[derive(Debug)]
pub(crate) struct Floors;

impl Deriver for Floors {
    fn engine(&self) -> u32 {
        ENGINE
    }

    fn recordings(&self, files: &[PathBuf]) -> Result<Vec<Named>, SurveyError> {
        let parts = capture::parts(files).map_err(from_capture)?;
        Ok(parts
            .into_iter()
            .map(|part| Named { path: part.path, inner: part.inner, warnings: part.warnings })
            .collect())
    }

    fn look(&self, path: &Path, overrides: &Overrides) -> Result<Look, SurveyError> {
        let opened = capture::open(path, &options(path, overrides)?).map_err(from_capture)?;
        let mut centre_unknown = false;
        let (mut places, mut rows) = (Vec::new(), Vec::new());
        let kind = match opened.recording {
            Recording::Iq(iq) => {
                let segments = units::Samples::segments(&iq);
                centre_unknown = segments.iter().any(|segment| segment.centre_hz.is_none());
                CaptureKind::Iq
            }
            Recording::Traces(_) => CaptureKind::Traces,
            Recording::Events(log) => {
                places = log.positions;
                rows = log.events.iter().map(|event| (event.start, event.band)).collect();
                if log.is_readings { CaptureKind::Readings } else { CaptureKind::EventLog }
            }
            Recording::Sound(_) => CaptureKind::Sound,
        };
        Ok(Look {
            kind,
            centre_unknown,
            places,
            rows,
            format: opened.format,
            files: opened.files,
            start: opened.start,
            duration_s: opened.duration_s,
            warnings: opened.warnings,
        })
    }

    fn derive(&self, task: &Task<'_>, progress: &dyn Progress) -> Result<Derived, SurveyError> {
        let options = analysis_options(task)?;
        let analysed = analyse::analyse(task.path, &options, progress).map_err(from_analysis)?;
        if let Some(bursts) = &analysed.bursts {
            write_bursts(bursts, &task.folder.join("bursts.csv"))?;
        }
        Ok(Derived { analysis: analysed.analysis, events: analysed.events })
    }
}

/// Opens evidence to be looked at, with the overview beside it.
pub(crate) fn look_at(task: &Task<'_>) -> Result<Plane, SurveyError> {
    let mut options = analysis_options(task)?;
    // What it says of itself was compared when it came in; `verify` compares what the survey says.
    options.open.again = true;
    Plane::open(task.path, &options, options.overview.as_deref()).map_err(from_analysis)
}

fn analysis_options(task: &Task<'_>) -> Result<AnalyseOptions, SurveyError> {
    let Parameters { overrides, region, calibration_db, from, until, bands, range_s } =
        task.parameters;
    Ok(AnalyseOptions {
        open: options(task.path, overrides)?,
        region: region_of(region)?,
        full_scale: calibration_db.map(Dbm),
        listening: Listening { from: *from, until: *until, bands: bands.clone() },
        range_s: *range_s,
        sha256: Some(task.sha256.to_owned()),
        faint: false,
        false_alarms_per_hour: None,
        bursts: true,
        bursts_near: task.folder.join("bursts.csv"),
        deep: false,
        overview: Some(task.folder.join("overview.zarr")),
    })
}

/// The table of bursts, one a row; none for a recording without any.
fn write_bursts(bursts: &BurstList, file: &Path) -> Result<(), SurveyError> {
    let mut table = None;
    bursts
        .each(|burst| -> Result<(), BurstsError> {
            if table.is_none() {
                let columns =
                    ["emission", "start_s", "stop_s", "centre_hz", "bandwidth_hz", "snr_db"];
                table = Some(RowWriter::create(file, &columns)?);
            }
            let number = |x: Option<f64>| x.map(|x| x.to_string()).unwrap_or_default();
            let row = [
                burst.emission,
                burst.start_s.to_string(),
                burst.stop_s.to_string(),
                burst.centre_hz.to_string(),
                number(burst.bandwidth_hz),
                number(burst.snr_db),
            ];
            if let Some(table) = &mut table {
                table.row(&row)?;
            }
            Ok(())
        })
        .and_then(|()| {
            table.take().map_or(Ok(()), |table| table.finish().map(drop).map_err(Into::into))
        })
        .map_err(|e| match e {
            BurstsError::Capture(e) => from_capture(e),
            BurstsError::Disk(e) => SurveyError::disk(file, "write it", e),
        })
}

#[derive(Debug, thiserror::Error)]
enum BurstsError {
    #[error(transparent)]
    Capture(#[from] CaptureError),
    #[error(transparent)]
    Disk(#[from] std::io::Error),
}

/// What the record says of a file, as the readers take it.
pub(crate) fn options(path: &Path, overrides: &Overrides) -> Result<OpenOptions, SurveyError> {
    let refused = |why: String, remedy: &str| {
        SurveyError::refused(format!("{}: {why}", path.display()), remedy)
    };
    Ok(OpenOptions {
        format: overrides
            .format
            .as_deref()
            .map(str::parse)
            .transpose()
            .map_err(|why| refused(why, "Give one of these with --format."))?,
        rate_hz: overrides.rate_hz,
        centre_hz: overrides.centre_hz,
        start: overrides.start,
        time_zone: overrides.time_zone.clone(),
        treat_as: match overrides.treat_as.as_deref() {
            None => None,
            Some("iq") => Some(capture::TreatAs::Iq),
            Some("sound") => Some(capture::TreatAs::Sound),
            Some(other) => {
                let why = format!("'{other}' is neither iq nor sound");
                return Err(refused(why, "Say --as iq or --as sound."));
            }
        },
        mapping: overrides.columns.as_deref().map(str::parse).transpose().map_err(
            |e: capture::table::MappingError| {
                refused(e.to_string(), "`add --help` says how columns are named.")
            },
        )?,
        inner: overrides.inner.clone(),
        again: false,
    })
}

pub(crate) fn from_capture(error: CaptureError) -> SurveyError {
    let fault = if error.is_disk() { RecordingFault::Disk } else { RecordingFault::Input };
    SurveyError::Recording { cause: Box::new(error), fault }
}

pub(crate) fn from_analysis(error: AnalyseError) -> SurveyError {
    match error {
        AnalyseError::Cancelled => SurveyError::Cancelled,
        AnalyseError::Capture(error) => from_capture(error),
        error => {
            let fault = if error.is_disk() { RecordingFault::Disk } else { RecordingFault::Input };
            SurveyError::Recording { cause: Box::new(error), fault }
        }
    }
}

pub(crate) fn region_of(region: &str) -> Result<Region, SurveyError> {
    region.parse().map_err(|_| {
        SurveyError::refused(
            format!("'{region}' is no region"),
            "Give one of WORLD, ITU1, ITU2, ITU3, CEPT, UK, US.",
        )
    })
}

/// Refuses a region that the almanac does not know.
pub(crate) fn check_region(region: &str) -> Result<(), SurveyError> {
    region_of(region).map(|_| ())
}
