//! A survey at one glance, and what was listened to in it.

use super::App;
use crate::call::{In, off};
use crate::contract;
use crate::problem::Problem;
use axum::Json;
use axum::extract::{Path, State};
use survey::{Coverage, Overview};

/// The stages of the job, the balance, what lies outside the authority, what to do next.
#[utoipa::path(get, path = "/api/surveys/{survey}/overview", tag = "surveys", params(In),
    responses((status = 200, description = "The survey at one glance.", body = contract::Overview)))]
pub(crate) async fn overview(
    State(app): State<App>,
    Path(of): Path<In>,
) -> Result<Json<Overview>, Problem> {
    let open = app.open(&of).await?;
    off(move || {
        open.analyse()?;
        Ok(Json(open.survey.overview()?))
    })
    .await
}

/// Per place and band: listened how long, in which condition, the longest unbroken stretch, down to
/// which level; and how known test senders were received.
#[utoipa::path(get, path = "/api/surveys/{survey}/coverage", tag = "surveys", params(In),
    responses((status = 200, description = "What was listened to.", body = contract::Coverage)))]
pub(crate) async fn coverage(
    State(app): State<App>,
    Path(of): Path<In>,
) -> Result<Json<Coverage>, Problem> {
    let open = app.open(&of).await?;
    off(move || {
        open.analyse()?;
        Ok(Json(open.survey.coverage()?))
    })
    .await
}
