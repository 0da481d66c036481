//! The surveys that there are.

use super::App;
use crate::call::{In, off};
use crate::contract;
use crate::problem::Problem;
use axum::Json;
use axum::extract::{Path, State};
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use survey::{Head, NewSurvey};
use utoipa::ToSchema;

/// A survey in the list.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Listed {
    /// Name of its folder, by which it is addressed.
    survey: String,
    /// What it says of itself.
    #[schema(value_type = Option<contract::Head>)]
    head: Option<Head>,
    /// Why it cannot be opened, if so.
    problem: Option<Problem>,
}

/// A survey to start.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Start {
    /// Name of its folder: one plain name.
    survey: String,
    /// Name or code name; the folder's without.
    name: Option<String>,
    /// Region for allocations: WORLD, ITU1, ITU2, ITU3, CEPT, UK, US.
    region: Option<String>,
    /// IANA time zone; the machine's without.
    time_zone: Option<String>,
    /// The technician.
    by: Option<String>,
}

type Allowing<T> = Result<([(header::HeaderName, HeaderValue); 1], T), Problem>;

/// What may be done with the list of surveys: where one survey alone is served, none is started.
fn allowed(app: &App) -> [(header::HeaderName, HeaderValue); 1] {
    let methods = if app.surveys.takes_more() { "GET, HEAD, POST" } else { "GET, HEAD" };
    [(header::ALLOW, HeaderValue::from_static(methods))]
}

/// Lists the surveys.
///
/// The header Allow names POST where others can be started.
#[utoipa::path(get, path = "/api/surveys", tag = "surveys",
    responses((status = 200, description = "The surveys, by name.", body = Vec<Listed>,
        headers(("allow" = String, description = "Methods of this address, as things are.")))))]
pub(crate) async fn list(State(app): State<App>) -> Allowing<Json<Vec<Listed>>> {
    off(move || {
        let allow = allowed(&app);
        let listed =
            app.surveys.names()?.into_iter().map(|survey| match app.surveys.head(&survey) {
                Ok(head) => Listed { survey, head: Some(head), problem: None },
                Err(problem) => Listed { survey, head: None, problem: Some(problem) },
            });
        Ok((allow, Json(listed.collect())))
    })
    .await
}

/// Starts a survey in a new folder of the surveys' folder.
///
/// Refused with status 405 where one survey alone is served.
#[utoipa::path(post, path = "/api/surveys", tag = "surveys", request_body = Start,
    responses((status = 201, description = "Started.", body = contract::Head)))]
pub(crate) async fn start(
    State(app): State<App>,
    Json(start): Json<Start>,
) -> Result<Response, Problem> {
    if !app.surveys.takes_more() {
        return Ok((allowed(&app), crate::surveys::alone()).into_response());
    }
    off(move || {
        let Start { survey, name, region, time_zone, by } = start;
        let open = app.surveys.create(&survey, &NewSurvey { name, region, time_zone, by })?;
        Ok((StatusCode::CREATED, Json(open.survey.head()?)).into_response())
    })
    .await
}

/// What a survey says of itself.
#[utoipa::path(get, path = "/api/surveys/{survey}", tag = "surveys", params(In),
    responses((status = 200, description = "The survey.", body = contract::Head)))]
pub(crate) async fn head(
    State(app): State<App>,
    Path(of): Path<In>,
) -> Result<Json<Head>, Problem> {
    let open = app.open(&of).await?;
    off(move || Ok(Json(open.survey.head()?))).await
}
