//! The files of a report, as they were made last. They can be made again at any time, so they lie in
//! memory and go with the server.

use crate::problem::{Code, Problem};
use axum::body::Bytes;
use axum::http::StatusCode;
use report::{Attachment, Facts, FactsError, PdfError};
use std::time::{SystemTime, UNIX_EPOCH};
use survey::{Progress, Reported, Survey};
use units::Utc;

/// One file.
#[derive(Debug)]
pub(crate) struct File {
    /// Its name.
    pub(crate) name: &'static str,
    /// Media type.
    pub(crate) media_type: &'static str,
    /// Its bytes.
    pub(crate) bytes: Bytes,
}

/// A report that was made.
#[derive(Debug)]
pub(crate) struct Made {
    /// When.
    pub(crate) made: Utc,
    /// Hash of the journal's last entry as it was then.
    pub(crate) journal_head: String,
    /// Whether evidence and journal were as they were written.
    pub(crate) verified: bool,
    /// Its files.
    pub(crate) files: Vec<File>,
}

impl Made {
    /// Makes the report, the interim page and the hours of a survey as it stands.
    pub(crate) fn of(survey: &Survey, progress: &dyn Progress) -> Result<Made, Problem> {
        let made = now();
        let facts = Facts::gather(survey, env!("CARGO_PKG_VERSION"), made, progress)?;
        let attachments = [Attachment::ledger(&facts)?];
        let mut files = Vec::new();
        let mut add = |name, media_type, bytes: Vec<u8>| {
            files.push(File { name, media_type, bytes: bytes.into() });
        };
        for (content, pdf, html) in [
            (report::full(&facts)?, "report.pdf", "report.html"),
            (report::interim(&facts)?, "interim.pdf", "interim.html"),
        ] {
            progress.step(0, 0, "writing the report");
            if progress.cancelled() {
                return Err(survey::SurveyError::Cancelled.into());
            }
            add(pdf, "application/pdf", report::pdf(&content, &attachments)?);
            add(html, "text/html; charset=utf-8", report::html(&content).into_bytes());
        }
        survey
            .remember_report(&Reported { made, journal_head: facts.verification.head.clone() })?;
        add("hours.csv", "text/csv; charset=utf-8", report::hours(&facts)?.into_bytes());
        Ok(Made {
            made,
            journal_head: facts.verification.head.clone(),
            verified: facts.verification.ok,
            files,
        })
    }
}

/// This moment, to the second.
fn now() -> Utc {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    Utc(i64::try_from(since.as_secs()).unwrap_or(0).saturating_mul(1_000_000_000))
}

impl From<FactsError> for Problem {
    fn from(error: FactsError) -> Self {
        match error {
            FactsError::Survey(error) => error.into(),
            FactsError::Changing => Problem::new(
                StatusCode::SERVICE_UNAVAILABLE,
                Code::Busy,
                error.to_string(),
                "Try again when it is done.",
            ),
            FactsError::Zone { .. } => {
                Problem::input(error.to_string(), "Correct the survey's time zone.")
            }
            FactsError::Table(_) | FactsError::Json(_) => Problem::internal(&error.to_string()),
        }
    }
}

impl From<PdfError> for Problem {
    fn from(error: PdfError) -> Self {
        Problem::internal(&error.to_string())
    }
}
