//! The floors below, as they are: `capture` opens, `analyse` derives.

use crate::derive::{Derived, Deriver, Look, Named, Task};
use crate::things::Overrides;
use crate::{Progress, RecordingFault, SurveyError};
use almanac::Region;
use capture::{CaptureError, OpenOptions, Recording};
use ledger::CaptureKind;
use std::path::{Path, PathBuf};

/// This program's own readers and analysis.
#[derive(Debug)]
pub(crate) struct Floors;

impl Deriver for Floors {
    fn engine(&self) -> u32 {
        1
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
        let (kind, centre_unknown) = match &opened.recording {
            Recording::Iq(iq) => {
                let segments = units::Samples::segments(iq);
                (CaptureKind::Iq, segments.iter().any(|segment| segment.centre_hz.is_none()))
            }
            Recording::Traces(_) => (CaptureKind::Traces, false),
            Recording::Events(_) => (CaptureKind::EventLog, false),
            Recording::Sound(_) => (CaptureKind::Sound, false),
        };
        Ok(Look {
            kind,
            centre_unknown,
            places: Vec::new(),
            format: opened.format,
            files: opened.files,
            start: opened.start,
            duration_s: opened.duration_s,
            warnings: opened.warnings,
        })
    }

    fn derive(&self, task: &Task<'_>, _progress: &dyn Progress) -> Result<Derived, SurveyError> {
        let _ = options(task.path, &task.parameters.overrides)?;
        Err(SurveyError::refused("not landed", "Wait."))
    }
}

/// What the record says of a file, as the readers take it.
fn options(path: &Path, overrides: &Overrides) -> Result<OpenOptions, SurveyError> {
    let refused = |why: String| SurveyError::refused(format!("{}: {why}", path.display()), "");
    Ok(OpenOptions {
        format: overrides.format.as_deref().map(str::parse).transpose().map_err(refused)?,
        rate_hz: overrides.rate_hz,
        centre_hz: overrides.centre_hz,
        start: overrides.start,
        time_zone: overrides.time_zone.clone(),
        treat_as: match overrides.treat_as.as_deref() {
            None => None,
            Some("iq") => Some(capture::TreatAs::Iq),
            Some("sound") => Some(capture::TreatAs::Sound),
            Some(other) => return Err(refused(format!("'{other}' is neither iq nor sound"))),
        },
        mapping: None,
        inner: overrides.inner.clone(),
    })
}

fn from_capture(error: CaptureError) -> SurveyError {
    let fault = if error.is_disk() { RecordingFault::Disk } else { RecordingFault::Input };
    SurveyError::Recording { cause: Box::new(error), fault }
}

/// Refuses a region that the almanac does not know.
pub(crate) fn check_region(region: &str) -> Result<(), SurveyError> {
    region.parse::<Region>().map(|_| ()).map_err(|why| {
        SurveyError::refused(
            format!("'{region}' is no region: {why}"),
            "Give one of WORLD, ITU1, ITU2, ITU3, CEPT, UK, US.",
        )
    })
}
