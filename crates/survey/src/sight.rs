//! What is needed to look at the spectrum of a capture: its evidence, opened as the record says, and
//! the overview that was derived from it.

use crate::derive::{Parameters, Task, parameters_of};
use crate::survey::{Survey, head_of};
use crate::things::{Capture, Chain, Derivation};
use crate::{SurveyError, floors, parts, record};
use analyse::plane::Plane;
use ledger::CaptureKind;
use units::Band;

pub use almanac::Allocation;

/// Which recording is looked at, and as what.
#[derive(Debug, Clone, PartialEq)]
pub struct Sight {
    capture: Capture,
    parameters: Parameters,
    derivation: Derivation,
    clock_s: f64,
}

impl Sight {
    /// What must be added to the recording's own times, seconds.
    pub fn clock_s(&self) -> f64 {
        self.clock_s
    }
    /// The same text as long as it is the same picture: what was derived, from what, with what.
    pub fn key(&self) -> &str {
        &self.derivation.folder
    }
}

impl Survey {
    /// What a capture, or one stay of it (`C1.2`), is looked at as.
    ///
    /// # Errors
    /// If there is no such capture, it has no spectrum, or is not analysed yet.
    pub fn sight(&self, id: &str) -> Result<Sight, SurveyError> {
        self.read(|db| {
            let whole = id.split('.').next().unwrap_or(id);
            let missing = || {
                SurveyError::refused(format!("there is no capture {id}"), "Look at the captures.")
            };
            let capture = record::get::<Capture>(db, whole)?.ok_or_else(missing)?;
            if !matches!(capture.kind, CaptureKind::Iq | CaptureKind::Traces) {
                return Err(SurveyError::refused(
                    format!("{id} is a log or a sound: it has no spectrum"),
                    "Look at a recording of samples or of swept spectra.",
                ));
            }
            let region = head_of(db)?.region;
            let chains = record::all::<Chain>(db)?;
            let chain = chains.iter().find(|chain| chain.name == capture.chain);
            let clock_s = parts::clock_of(&capture, chain);
            let movements = parts::movements(db)?;
            let part = parts::parts_of(&capture, clock_s, &movements)
                .into_iter()
                .find(|part| part.id == id)
                .ok_or_else(|| {
                    SurveyError::refused(
                        format!("{id} was carried about: it is looked at stay by stay"),
                        format!("Name a stay: {whole}.1 is the first."),
                    )
                })?;
            let derivation = record::get::<Derivation>(db, id)?.ok_or_else(|| {
                SurveyError::refused(
                    format!("{id} is not analysed yet"),
                    "Wait until its analysis is done.",
                )
            })?;
            let parameters = parameters_of(&capture, &region, chain, clock_s, part.range_s);
            Ok(Sight { capture, parameters, derivation, clock_s })
        })
    }

    /// Opens what [`Survey::sight`] found.
    ///
    /// # Errors
    /// If evidence or overview cannot be read.
    pub fn plane(&self, sight: &Sight) -> Result<Plane, SurveyError> {
        let staging = self.folder.stage()?;
        let files = self.folder.show(&sight.capture.files, &staging)?;
        let path = files.first().ok_or_else(|| SurveyError::Damaged {
            what: format!("capture {} has no evidence file", sight.capture.id),
        })?;
        let folder = self.folder.derived(&sight.derivation.folder);
        let task = Task {
            path,
            sha256: &sight.capture.recording,
            parameters: &sight.parameters,
            folder: &folder,
        };
        floors::look_at(&task).map_err(|e| e.without(&staging.path().join("")))
    }
}

impl From<analyse::AnalyseError> for SurveyError {
    fn from(error: analyse::AnalyseError) -> Self {
        floors::from_analysis(error)
    }
}

/// What lives in a band where the premises are, by the almanac; overlapping rows all count.
///
/// # Errors
/// If the region is none.
pub fn allocations(band: Band, region: &str) -> Result<Vec<&'static Allocation>, SurveyError> {
    let region = floors::region_of(region)?;
    let almanac = almanac::Almanac::load();
    let touches = |a: &&Allocation| {
        a.band.overlap(&band).is_some_and(|part| part.width_hz() > 0.0 || a.band.width_hz() == 0.0)
    };
    let mut found: Vec<&Allocation> = almanac
        .allocations()
        .iter()
        .filter(|a| !a.is_noise && a.applies(region).is_some())
        .filter(touches)
        .collect();
    found.sort_by(|a, b| {
        let width = b.band.width_hz().total_cmp(&a.band.width_hz());
        a.band.low_hz.total_cmp(&b.band.low_hz).then(width)
    });
    Ok(found)
}
