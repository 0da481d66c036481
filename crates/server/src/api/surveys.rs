//! The surveys that there are.

use super::App;
use crate::call::{In, off};
use crate::contract;
use crate::problem::Problem;
use axum::Json;
use axum::extract::{Path, State};
use axum::http::StatusCode;
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

/// Lists the surveys.
#[utoipa::path(get, path = "/api/surveys", tag = "surveys",
    responses((status = 200, description = "The surveys, by name.", body = Vec<Listed>)))]
pub(crate) async fn list(State(app): State<App>) -> Result<Json<Vec<Listed>>, Problem> {
    off(move || {
        let listed =
            app.surveys.names()?.into_iter().map(|survey| match app.surveys.head(&survey) {
                Ok(head) => Listed { survey, head: Some(head), problem: None },
                Err(problem) => Listed { survey, head: None, problem: Some(problem) },
            });
        Ok(Json(listed.collect()))
    })
    .await
}

/// Starts a survey in a new folder of the surveys' folder.
#[utoipa::path(post, path = "/api/surveys", tag = "surveys", request_body = Start,
    responses((status = 201, description = "Started.", body = contract::Head)))]
pub(crate) async fn start(
    State(app): State<App>,
    Json(start): Json<Start>,
) -> Result<(StatusCode, Json<Head>), Problem> {
    off(move || {
        let Start { survey, name, region, time_zone, by } = start;
        let open = app.surveys.create(&survey, &NewSurvey { name, region, time_zone, by })?;
        Ok((StatusCode::CREATED, Json(open.survey.head()?)))
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
