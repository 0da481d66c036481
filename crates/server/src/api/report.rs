//! The client's report: made as long work, then fetched, to be shown in a frame or saved.

use super::App;
use super::jobs::{Begun, begin};
use crate::call::{In, off};
use crate::jobs::{Job, Kind};
use crate::problem::Problem;
use crate::report_files::Made;
use axum::Json;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// What a report that is shown may do: nothing but look as it does. It has no origin of its own
/// (sandbox), so that what stands in it reaches nothing here.
const SHOWN: &str = "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:; \
                     font-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'self'";

/// Which file of which survey.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Path)]
pub(crate) struct InFile {
    /// Name of the survey's folder.
    survey: String,
    /// `report.pdf`, `report.html`, `interim.pdf`, `interim.html` or `hours.csv`.
    file: String,
}

/// To look at, or to keep.
#[derive(Debug, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct How {
    /// Whether a browser should save it rather than show it.
    #[serde(default)]
    save: bool,
}

/// The report that was made last.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Report {
    /// When it was made: RFC 3339, UTC.
    made: String,
    /// Hash of the journal's last entry as it was then.
    journal_head: String,
    /// Whether anything was written into the journal since.
    stale: bool,
    /// Whether evidence and journal were as they were written.
    verified: bool,
    /// Its files.
    files: Vec<ReportFile>,
}

/// One file of a report.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReportFile {
    /// Its name, as asked for.
    file: String,
    /// Media type.
    media_type: String,
    /// Size.
    bytes: u64,
}

/// Starts to make the report, the interim page and the hours of the survey as it stands; what was
/// made before is given until they are there.
#[utoipa::path(post, path = "/api/surveys/{survey}/report", tag = "report", params(In),
    responses((status = 202, description = "Under way.", body = Job)))]
pub(crate) async fn make(State(app): State<App>, Path(of): Path<In>) -> Begun {
    let open = app.open(&of).await?;
    off(move || {
        begin(&open, Kind::Report, |own, job| {
            own.keep_report(Made::of(&own.survey, job)?);
            Ok(())
        })
    })
    .await
}

/// The report that was made last; null before one was made since the server began.
#[utoipa::path(get, path = "/api/surveys/{survey}/report", tag = "report", params(In),
    responses((status = 200, description = "What it is of, and its files.", body = Option<Report>)))]
pub(crate) async fn show(
    State(app): State<App>,
    Path(of): Path<In>,
) -> Result<Json<Option<Report>>, Problem> {
    let open = app.open(&of).await?;
    off(move || {
        let Some(made) = open.report() else { return Ok(Json(None)) };
        let head = open.survey.journal()?.last().map(|entry| entry.hash.clone());
        Ok(Json(Some(Report {
            made: made.made.to_string(),
            journal_head: made.journal_head.clone(),
            stale: head.is_none_or(|head| head != made.journal_head),
            verified: made.verified,
            files: made
                .files
                .iter()
                .map(|file| ReportFile {
                    file: file.name.to_owned(),
                    media_type: file.media_type.to_owned(),
                    bytes: file.bytes.len() as u64,
                })
                .collect(),
        })))
    })
    .await
}

/// One file of the report that was made last.
#[utoipa::path(get, path = "/api/surveys/{survey}/report/{file}", tag = "report",
    params(InFile, How), operation_id = "file",
    responses((status = 200, description = "The file.",
        content((Vec<u8> = "application/pdf"), (String = "text/html"), (String = "text/csv")))))]
pub(crate) async fn file(
    State(app): State<App>,
    Path(of): Path<InFile>,
    Query(how): Query<How>,
) -> Result<Response, Problem> {
    let made =
        app.surveys.get(&of.survey).await?.report().ok_or_else(|| {
            Problem::missing("no report was made yet", "POST …/report makes one.")
        })?;
    let Some(file) = made.files.iter().find(|file| file.name == of.file) else {
        return Err(Problem::missing(
            "a report has no file of this name",
            "GET …/report lists its files.",
        ));
    };
    let mut response = file.bytes.clone().into_response();
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(file.media_type));
    headers.insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(SHOWN));
    // Its own name only: that of the survey may be more than a code name.
    let disposition = if how.save { "attachment" } else { "inline" };
    let disposition = format!("{disposition}; filename=\"{}\"", file.name);
    if let Ok(value) = HeaderValue::from_str(&disposition) {
        headers.insert(header::CONTENT_DISPOSITION, value);
    }
    Ok(response)
}
