//! What every handler needs: calls of the survey off the threads that answer, who writes, and the
//! version that was seen.

use crate::problem::{Code, Problem};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use serde::Deserialize;
use survey::{Survey, SurveyError};
use units::Utc;
use utoipa::IntoParams;

/// Runs work that waits for the disk or computes where nobody waits for it.
pub(crate) async fn off<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Problem> + Send + 'static,
) -> Result<T, Problem> {
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => done,
        Err(_) => Err(Problem::internal("a call ended unexpectedly")),
    }
}

/// Which survey.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Path)]
pub(crate) struct In {
    /// Name of the survey's folder.
    pub(crate) survey: String,
}

/// Which thing of which survey.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Path)]
pub(crate) struct InWith {
    /// Name of the survey's folder.
    pub(crate) survey: String,
    /// Id of the thing.
    pub(crate) id: String,
}

/// Who writes.
#[derive(Debug, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct By {
    /// Who does this; written into the journal. The survey's technician without.
    #[serde(default)]
    pub(crate) by: String,
}

/// A time as a person types it, in the survey's time zone where it has no offset.
pub(crate) fn time(survey: &Survey, typed: Option<&str>) -> Result<Option<Utc>, SurveyError> {
    typed.map(|text| survey.time(text)).transpose()
}

/// A version as an entity tag.
pub(crate) fn tag(version: u64) -> HeaderValue {
    HeaderValue::from_str(&format!("\"{version}\"")).unwrap_or(HeaderValue::from_static("\"0\""))
}

/// The version that a request says it has seen.
pub(crate) fn seen(headers: &HeaderMap) -> Result<u64, Problem> {
    let Some(given) = headers.get(header::IF_MATCH) else {
        return Err(Problem::new(
            StatusCode::PRECONDITION_REQUIRED,
            Code::VersionNeeded,
            "the request does not say which version was seen",
            "Send the ETag of what was shown as If-Match, so that nobody overwrites another's work.",
        ));
    };
    let text = given.to_str().unwrap_or_default().trim();
    let number = text.strip_prefix('"').and_then(|t| t.strip_suffix('"')).map(str::parse);
    match number {
        // The journal counts in 63 bits.
        Some(Ok(version)) if version <= i64::MAX as u64 => Ok(version),
        _ => Err(Problem::new(
            StatusCode::BAD_REQUEST,
            Code::Request,
            "If-Match does not hold a version",
            "Send it as the ETag came: a number in double quotes.",
        )),
    }
}
