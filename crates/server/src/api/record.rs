//! The record: brief, authority, premises, chains, known devices, found items, notes.

use super::App;
use crate::call::{By, In, off, seen, tag};
use crate::contract;
use crate::problem::Problem;
use axum::Json;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, HeaderValue, header};
use serde::Serialize;
use serde_json::{Map, Value};
use survey::Record;
use utoipa::ToSchema;

/// The record.
#[utoipa::path(get, path = "/api/surveys/{survey}/record", tag = "record", params(In),
    responses((status = 200, description = "The record; its version is the ETag too.",
        body = contract::Record, headers(("etag" = String, description = "Version.")))))]
pub(crate) async fn show(
    State(app): State<App>,
    Path(of): Path<In>,
) -> Result<([(header::HeaderName, HeaderValue); 1], Json<Record>), Problem> {
    let open = app.open(&of).await?;
    off(move || {
        let record = open.survey.record()?;
        Ok(([(header::ETAG, tag(record.version))], Json(record)))
    })
    .await
}

/// One thing of the record that changed.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Difference {
    /// Kind of thing: `position`.
    kind: String,
    /// Its id.
    id: String,
    /// What it was; null if it is new.
    was: Option<Value>,
    /// What it is since; null if it is taken out.
    is: Option<Value>,
    /// The same in words.
    words: String,
}

/// Makes the survey say what some parts of the record say.
///
/// A part that is left out stays as it is; a thing left out of a part that is there is taken out; a
/// new thing has no id. Needs the record's version as If-Match, and is refused if one of the parts
/// given changed since.
#[utoipa::path(patch, path = "/api/surveys/{survey}/record", tag = "record",
    params(In, By, ("if-match" = String, Header, description = "Version of the record that was seen.")),
    request_body(content = Object, content_type = "application/json",
        description = "Parts of a Record, as GET gives them."),
    responses((status = 200, description = "What changed, each one entry of the journal.",
        body = Vec<Difference>)))]
pub(crate) async fn apply(
    State(app): State<App>,
    Path(of): Path<In>,
    Query(who): Query<By>,
    headers: HeaderMap,
    Json(parts): Json<Map<String, Value>>,
) -> Result<Json<Vec<Difference>>, Problem> {
    let (open, seen) = (app.open(&of).await?, seen(&headers)?);
    off(move || {
        let differences = open.survey.apply_parts(&parts, Some(seen), &who.by)?;
        // A movement or a chain's calibration changes what is derived.
        open.analyse()?;
        let told = differences.into_iter().map(|one| {
            let words = one.to_string();
            Difference { kind: one.kind, id: one.id, was: one.was, is: one.is, words }
        });
        Ok(Json(told.collect()))
    })
    .await
}
