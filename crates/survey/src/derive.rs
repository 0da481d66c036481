//! What the survey asks of the floors below: look at a file before it is brought in, and derive
//! from a capture what it shows. Everything derived lies under derived/ in a folder named by
//! evidence hash, hash of the parameters and engine number, so it can be deleted and made again.

use crate::evidence::hex;
use crate::things::{Capture, Chain, Overrides};
use crate::{Progress, SurveyError};
use ledger::CaptureKind;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};
use units::{Band, Event, Reason, TimeSpan, Utc};

/// One recording among files that were named.
#[derive(Debug, Clone)]
pub struct Named {
    /// The file to open.
    pub path: PathBuf,
    /// Its name inside an archive that holds several.
    pub inner: Option<String>,
    /// What is odd about how it is listed.
    pub warnings: Vec<Reason>,
}

/// What opening a file tells.
#[derive(Debug, Clone)]
pub struct Look {
    /// What was recorded.
    pub kind: CaptureKind,
    /// What the file holds, in words.
    pub format: String,
    /// The files that are evidence, data first.
    pub files: Vec<PathBuf>,
    /// Time of the first sample, trace or event, where stated.
    pub start: Option<Utc>,
    /// From the first to the last.
    pub duration_s: f64,
    /// Whether it holds samples whose centre frequency nobody states.
    pub centre_unknown: bool,
    /// Positions that its rows name.
    pub places: Vec<String>,
    /// Of a log: when each of its rows may have begun, by its own clock, and the row's band.
    pub rows: Vec<(TimeSpan, Option<Band>)>,
    /// What to distrust.
    pub warnings: Vec<Reason>,
}

/// What is to be derived from.
#[derive(Debug)]
pub struct Task<'a> {
    /// The data file, under the name it came in with, its metadata beside it.
    pub path: &'a Path,
    /// Its SHA-256.
    pub sha256: &'a str,
    /// All that the result depends on besides.
    pub parameters: &'a Parameters,
    /// An empty folder of its own for whatever else is made: overview, bursts.
    pub folder: &'a Path,
}

/// All that a result depends on, besides the evidence and the engine.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Parameters {
    /// What was said over the file's metadata.
    pub overrides: Overrides,
    /// Region for allocations.
    pub region: String,
    /// dBm = dBFS + this, where the chain is calibrated.
    pub calibration_db: Option<f64>,
    /// Listening began, by the log's own clock.
    pub from: Option<Utc>,
    /// Listening ended, by the log's own clock.
    pub until: Option<Utc>,
    /// Bands listened to (logs).
    pub bands: Vec<Band>,
    /// Part of the recording, seconds from its start (a walk's stay at one place).
    pub range_s: Option<(f64, f64)>,
}

/// What was derived.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Derived {
    /// What the recording shows.
    pub analysis: analyse::RecordingAnalysis,
    /// A log's events, each with the row it belongs to.
    pub events: Vec<(Event, Option<u32>)>,
}

/// The floors below, as the survey sees them; tests put another in its place.
pub trait Deriver: Send + Sync {
    /// Number of its results: another one may give other rows.
    fn engine(&self) -> u32;
    /// The recordings that some files are: metadata and data are one, an archive may be several.
    ///
    /// # Errors
    /// If a file cannot be read.
    fn recordings(&self, files: &[PathBuf]) -> Result<Vec<Named>, SurveyError>;
    /// Looks at a file before it is brought in.
    ///
    /// # Errors
    /// If it cannot be read or is of no kind that is read.
    fn look(&self, path: &Path, overrides: &Overrides) -> Result<Look, SurveyError>;
    /// Derives.
    ///
    /// # Errors
    /// If it cannot be read, the disk will not, or `progress` says that it is cancelled.
    fn derive(&self, task: &Task<'_>, progress: &dyn Progress) -> Result<Derived, SurveyError>;
}

/// The parameters of a capture, or of the part of it in `range_s`. A person states from when to
/// when a log listened in true time; its rows are in its own, `clock_s` behind.
pub(crate) fn parameters_of(
    capture: &Capture,
    region: &str,
    chain: Option<&Chain>,
    clock_s: f64,
    range_s: Option<(f64, f64)>,
) -> Parameters {
    let log = capture.is_log();
    let own = |at: Option<Utc>| at.filter(|_| log).map(|at| at.plus_seconds(-clock_s));
    let calibration_db = chain.and_then(|chain| chain.calibration_db);
    Parameters {
        overrides: capture.overrides.clone(),
        region: region.to_owned(),
        calibration_db: match capture.kind {
            CaptureKind::Iq => calibration_db.map(|db| db - capture.gain_db.unwrap_or(0.0)),
            _ => None,
        },
        from: own(capture.from),
        until: own(capture.until),
        bands: if log { capture.bands.clone() } else { Vec::new() },
        range_s,
    }
}

/// Name of the folder under derived/, without the engine's number: evidence hash and the first
/// 16 hex digits of the SHA-256 of the parameters in canonical form.
pub(crate) fn stem_of(sha256: &str, parameters: &Parameters) -> Result<String, SurveyError> {
    let text = crate::canonical::text_of(&crate::canonical::value_of(parameters)?);
    let digest = hex(&Sha256::digest(text.as_bytes()));
    Ok(format!("{sha256}-{}", digest.get(..16).unwrap_or(&digest)))
}
