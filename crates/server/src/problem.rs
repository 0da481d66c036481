//! How every error is told: RFC 9457 problem details, with what to do.

use crate::contract;
use crate::wording::neutral;
use axum::Json;
use axum::body::to_bytes;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use ledger::LedgerRow;
use serde::Serialize;
use survey::{RecordingFault, SurveyError};
use utoipa::ToSchema;

const MEDIA_TYPE: &str = "application/problem+json";

/// What kind of problem, for a page that answers to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Code {
    /// The request is not one that is understood.
    Request,
    /// It comes from elsewhere than a page of this server.
    Foreign,
    /// It is not there.
    NotFound,
    /// The survey refuses it.
    Refused,
    /// The state of things does not allow it now.
    Conflict,
    /// It changed since it was seen; `row` is it now.
    Changed,
    /// A version must be named.
    VersionNeeded,
    /// Too large or too many.
    Limit,
    /// Another program writes; try again.
    Busy,
    /// The disk would not.
    Disk,
    /// The survey is damaged.
    Damaged,
    /// Stopped by a person.
    Cancelled,
    /// The program itself is at fault.
    Internal,
}

/// A problem (RFC 9457), with what to do.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct Problem {
    /// Always `about:blank`: the status and `code` say what it is.
    #[serde(rename = "type")]
    kind: &'static str,
    /// The status in words.
    title: &'static str,
    /// HTTP status.
    status: u16,
    /// What is wrong, and where.
    pub(crate) detail: String,
    /// What a person can do.
    pub(crate) remedy: String,
    /// What kind of problem, for a page that answers to it.
    code: Code,
    /// The row as it is now, where it changed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<contract::LedgerRow>)]
    row: Option<Box<LedgerRow>>,
}

impl Problem {
    pub(crate) fn new(
        status: StatusCode,
        code: Code,
        detail: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Problem {
            kind: "about:blank",
            title: status.canonical_reason().unwrap_or("Problem"),
            status: status.as_u16(),
            detail: detail.into(),
            remedy: remedy.into(),
            code,
            row: None,
        }
    }
    /// A request that cannot be meant so.
    pub(crate) fn input(detail: impl Into<String>, remedy: impl Into<String>) -> Self {
        Problem::new(StatusCode::UNPROCESSABLE_ENTITY, Code::Request, detail, remedy)
    }
    /// What is not there.
    pub(crate) fn missing(detail: impl Into<String>, remedy: impl Into<String>) -> Self {
        Problem::new(StatusCode::NOT_FOUND, Code::NotFound, detail, remedy)
    }
    /// What cannot be now.
    pub(crate) fn conflict(detail: impl Into<String>, remedy: impl Into<String>) -> Self {
        Problem::new(StatusCode::CONFLICT, Code::Conflict, detail, remedy)
    }
    /// What should never happen.
    pub(crate) fn internal(what: &str) -> Self {
        let detail = format!("the program itself is at fault: {what}");
        let remedy = "What was acknowledged is kept; please report it.";
        Problem::new(StatusCode::INTERNAL_SERVER_ERROR, Code::Internal, detail, remedy)
    }
    /// The same, its texts without this path.
    pub(crate) fn without(mut self, path: &str) -> Self {
        self.detail = self.detail.replace(path, "");
        self.remedy = self.remedy.replace(path, "");
        self
    }
    pub(crate) fn is_cancelled(&self) -> bool {
        self.code == Code::Cancelled
    }
}

impl From<SurveyError> for Problem {
    fn from(error: SurveyError) -> Self {
        let said = neutral(&error.to_string());
        let unwritten = "Nothing was changed.";
        let could_not = |code, detail: String| {
            Problem::new(StatusCode::INTERNAL_SERVER_ERROR, code, detail, unwritten)
        };
        match error {
            SurveyError::Refused { what, remedy } => {
                let (what, remedy) = (neutral(&what), neutral(&remedy));
                Problem::new(StatusCode::UNPROCESSABLE_ENTITY, Code::Refused, what, remedy)
            }
            SurveyError::Recording { fault: RecordingFault::Input, .. } => {
                Problem::new(StatusCode::UNPROCESSABLE_ENTITY, Code::Refused, said, unwritten)
            }
            SurveyError::Recording { fault: RecordingFault::Disk, .. } => {
                could_not(Code::Disk, said)
            }
            SurveyError::Changed { row, .. } => {
                let remedy = "Look at the row as it is now, then decide again.";
                let status = StatusCode::PRECONDITION_FAILED;
                let changed = Problem::new(status, Code::Changed, said, remedy);
                Problem { row: Some(row), ..changed }
            }
            SurveyError::RecordChanged { .. } => {
                let remedy = "Get the record as it is now, then write again.";
                Problem::new(StatusCode::PRECONDITION_FAILED, Code::Changed, said, remedy)
            }
            ref full if full.is_full() => {
                let status = StatusCode::INSUFFICIENT_STORAGE;
                Problem::new(status, Code::Disk, said, "Make room on the disk, then try again.")
            }
            SurveyError::Disk { .. } => could_not(Code::Disk, said),
            ref busy @ SurveyError::Database { .. } if busy.is_busy() => {
                let remedy = "Try again when the other program is done.";
                Problem::new(StatusCode::SERVICE_UNAVAILABLE, Code::Busy, said, remedy)
            }
            ref damaged if damaged.is_damage() => could_not(Code::Damaged, said),
            SurveyError::Database { .. } | SurveyError::Damaged { .. } => {
                could_not(Code::Disk, said)
            }
            SurveyError::Cancelled => {
                let remedy = "Start it again when you like.";
                Problem::new(StatusCode::CONFLICT, Code::Cancelled, said, remedy)
            }
        }
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let status = StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        let mut response = (status, Json(self)).into_response();
        let media = HeaderValue::from_static(MEDIA_TYPE);
        response.headers_mut().insert(header::CONTENT_TYPE, media);
        response
    }
}

/// Longest text of a refusal that is passed on, bytes.
const LONGEST_TEXT: usize = 4096;

/// Makes problems of the refusals that come before any handler: no such route, a method that is not
/// there, a body that is no JSON or too long.
pub(crate) async fn told(response: Response) -> Response {
    let status = response.status();
    let told = response.headers().get(header::CONTENT_TYPE).is_some_and(|t| t == MEDIA_TYPE);
    if told || !(status.is_client_error() || status.is_server_error()) {
        return response;
    }
    let allow = response.headers().get(header::ALLOW).cloned();
    let text = to_bytes(response.into_body(), LONGEST_TEXT).await.unwrap_or_default();
    let text = String::from_utf8_lossy(&text).trim().to_owned();
    let (code, detail) = match status {
        StatusCode::NOT_FOUND => (Code::NotFound, "there is nothing at this address".to_owned()),
        StatusCode::METHOD_NOT_ALLOWED => {
            (Code::Request, "this address does not take that method".to_owned())
        }
        StatusCode::PAYLOAD_TOO_LARGE => (Code::Limit, "the body is too long".to_owned()),
        _ if text.is_empty() => (Code::Request, "the request is not understood".to_owned()),
        _ => (Code::Request, text),
    };
    let remedy = "Correct the request; /api/openapi.json describes what is taken.";
    let mut response = Problem::new(status, code, detail, remedy).into_response();
    if let Some(allow) = allow {
        response.headers_mut().insert(header::ALLOW, allow);
    }
    response
}
