//! The arrivals of a whole walk, as a table.

use super::App;
use crate::call::{By, In, off};
use crate::problem::{Code, Problem};
use axum::Json;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// What refusals call the table.
const NAME: &str = "the table";

/// With what one went about.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct Carried {
    /// Chain that was carried, by name; any without.
    chain: Option<String>,
}

/// What was noted.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct NotedAll {
    /// The ids, in the order of the rows.
    ids: Vec<String>,
}

/// Notes every arrival of a table, all or none.
///
/// The body is CSV with the columns Arrived (a time) and Position (its name; made when named for the
/// first time), one arrival a row. A refusal names the line and the field.
#[utoipa::path(post, path = "/api/surveys/{survey}/movements", tag = "notes",
    params(In, By, Carried), request_body(content = String, content_type = "text/csv"),
    responses((status = 201, description = "Noted.", body = NotedAll)))]
pub(crate) async fn note_all(
    State(app): State<App>,
    Path(of): Path<In>,
    Query(who): Query<By>,
    Query(with): Query<Carried>,
    headers: HeaderMap,
    table: axum::body::Bytes,
) -> Result<(StatusCode, Json<NotedAll>), Problem> {
    let media = headers.get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok());
    let media = media.and_then(|media| media.split(';').next()).unwrap_or_default().trim();
    if !media.eq_ignore_ascii_case("text/csv") {
        let remedy = "Send the table as text/csv.";
        let status = StatusCode::UNSUPPORTED_MEDIA_TYPE;
        return Err(Problem::new(status, Code::Request, "the body is not said to be CSV", remedy));
    }
    let open = app.open(&of).await?;
    off(move || {
        let ids = open.survey.note_movements(&table, NAME, with.chain.as_deref(), &who.by)?;
        // A recording that was carried about is cut differently since.
        open.analyse()?;
        Ok((StatusCode::CREATED, Json(NotedAll { ids })))
    })
    .await
}
