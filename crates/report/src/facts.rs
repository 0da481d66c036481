//! All that a report says, gathered from an opened survey at one moment.

use crate::model::Photograph;
use crate::photograph;
use ledger::{Ledger, State};
use std::collections::BTreeMap;
use survey::{
    Around, Capture, Entry, OnTimes, Progress, Record, Stay, Survey, SurveyError, Verification,
};
use units::{Reason, Utc};

/// Tries to read a survey while others write to it.
const TRIES: usize = 5;
/// Photographs of found items in one report, and the most bytes of each: a report has to go through the
/// post.
const PHOTOGRAPHS: usize = 24;
const PHOTOGRAPH_BYTES: u64 = 16 << 20;
/// The same of rooms and positions, and the most bytes of these together.
const OF_PLACES: usize = 12;
const OF_PLACE_BYTES: u64 = 4 << 20;
const OF_PLACES_BYTES: u64 = 16 << 20;

/// What a report is a function of.
#[derive(Debug, Clone)]
pub struct Facts {
    /// What people said.
    pub record: Record,
    /// What was recorded, set aside or not.
    pub captures: Vec<Capture>,
    /// Where captures were, from when to when; one that nobody can time is not in it.
    pub stays: Vec<Stay>,
    /// The emissions and their decisions.
    pub ledger: Ledger,
    /// What is to be distrusted of the ledger.
    pub warnings: Vec<Reason>,
    /// Everything that was done.
    pub journal: Vec<Entry>,
    /// Whether evidence and journal are as they were written.
    pub verification: Verification,
    /// When the rows that are reported as findings were on.
    pub on_times: BTreeMap<String, Vec<OnTimes>>,
    /// The spectrum around those rows and the ones that could not be resolved, where recordings of
    /// samples or of swept spectra received them.
    pub around: BTreeMap<String, Around>,
    /// Photographs of found items and of places as the report shows them, by SHA-256 of their evidence
    /// file; those that cannot be shown are not in it.
    pub photographs: BTreeMap<String, Photograph>,
    /// Version of the program.
    pub version: String,
    /// When the report was made.
    pub made: Utc,
}

/// Why nothing could be gathered.
#[derive(Debug, thiserror::Error)]
pub enum FactsError {
    /// The survey cannot be read.
    #[error(transparent)]
    Survey(#[from] SurveyError),
    /// Somebody writes to it all the time.
    #[error(
        "another program keeps writing to this survey, so no report of one moment can be made: try \
         again when it is done"
    )]
    Changing,
    /// The table of hours cannot be written.
    #[error("the table of hours cannot be written: {0}")]
    Table(#[from] csv::Error),
    /// The ledger cannot be written as JSON.
    #[error("the ledger cannot be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
    /// Its time zone is not known here.
    #[error("the survey's time zone '{name}' is not known: correct it with `describe --apply`")]
    Zone {
        /// As the record says.
        name: String,
    },
}

impl Facts {
    /// Finishes what waits to be analysed, checks every evidence file and the journal, and reads the
    /// whole survey as it stands then.
    ///
    /// # Errors
    /// If it cannot be read, or others keep writing to it.
    pub fn gather(
        survey: &Survey,
        version: &str,
        made: Utc,
        progress: &dyn Progress,
    ) -> Result<Facts, FactsError> {
        for _ in 0..TRIES {
            let outcome = survey.ledger(progress)?;
            let mut on_times = BTreeMap::new();
            for row in outcome.ledger.emissions.iter().filter(|row| is_finding(row.decision.state))
            {
                on_times.insert(row.id.clone(), survey.on_times(&row.id)?);
            }
            let record = survey.record()?;
            let (captures, stays) = (survey.captures()?, survey.stays()?);
            let journal = survey.journal()?;
            let verification = survey.verify(progress)?;
            let head = &outcome.ledger.survey.journal_head;
            let agree = journal.last().is_some_and(|entry| entry.hash == *head)
                && verification.head == *head;
            // A damaged journal never agrees with itself: the verification says why.
            if agree || !verification.ok {
                let photographs = photographs(survey, &record)?;
                let drawn = outcome.ledger.emissions.iter().filter(|row| {
                    is_finding(row.decision.state) || row.decision.state == State::Unresolved
                });
                let around = survey.around(&drawn.collect::<Vec<_>>(), progress)?;
                return Ok(Facts {
                    record,
                    captures,
                    stays,
                    ledger: outcome.ledger,
                    warnings: outcome.warnings,
                    journal,
                    verification,
                    on_times,
                    around,
                    photographs,
                    version: version.to_owned(),
                    made,
                });
            }
        }
        Err(FactsError::Changing)
    }

    /// The ledger as `stillroom.ledger/1`, to go with the report.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn ledger_json(&self) -> Result<Vec<u8>, FactsError> {
        Ok(serde_json::to_vec_pretty(&self.ledger)?)
    }
}

/// Photographs of found items, then those of places, each in the order of the record, until they are
/// too many.
fn photographs(
    survey: &Survey,
    record: &Record,
) -> Result<BTreeMap<String, Photograph>, SurveyError> {
    let mut shown = BTreeMap::new();
    let files = record.found_items.iter().flat_map(|item| &item.photographs);
    for file in files.take(PHOTOGRAPHS) {
        if let Some(bytes) = survey.evidence(file, PHOTOGRAPH_BYTES)?
            && let Some(photograph) = photograph::bare(&file.name, &bytes)
        {
            shown.insert(file.sha256.clone(), photograph);
        }
    }
    let (mut count, mut bytes_left) = (0, OF_PLACES_BYTES);
    for file in record.photographs.iter().filter_map(|one| one.file.as_ref()) {
        let most = OF_PLACE_BYTES.min(bytes_left);
        if count == OF_PLACES || shown.contains_key(&file.sha256) {
            continue;
        }
        if let Some(bytes) = survey.evidence(file, most)?
            && let Some(photograph) = photograph::bare(&file.name, &bytes)
        {
            count += 1;
            bytes_left -= (bytes.len() as u64).min(bytes_left);
            shown.insert(file.sha256.clone(), photograph);
        }
    }
    Ok(shown)
}

/// Whether a decision makes a row a finding of the report.
pub(crate) fn is_finding(state: State) -> bool {
    matches!(state, State::Suspect | State::Located | State::HandedOver)
}
