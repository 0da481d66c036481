//! The routes: one file for each resource, from a request to a call of the survey and back.

mod allocations;
mod captures;
mod decisions;
mod events;
mod imports;
mod jobs;
mod journal;
mod ledger;
mod movements;
mod notes;
mod overview;
mod pictures;
mod previews;
mod record;
mod report;
mod spectrum;
mod surveys;
mod times;
mod uploads;

use crate::call::In;
use crate::page;
use crate::planes::Planes;
use crate::problem::Problem;
use crate::prompt;
use crate::surveys::{Open, Surveys};
use axum::extract::State;
use axum::http::header;
use axum::middleware;
use axum::response::IntoResponse;
use axum::routing::get;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use utoipa::openapi::{InfoBuilder, OpenApiBuilder};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

/// The description of the API, as committed.
const DESCRIPTION: &str = include_str!("../../../../docs/openapi.json");

/// What every handler may use.
#[derive(Debug, Clone)]
pub(crate) struct App {
    /// The surveys.
    pub(crate) surveys: Arc<Surveys>,
    /// Recordings that are being looked at.
    pub(crate) planes: Arc<Planes>,
    /// Turns true when the server ends.
    pub(crate) ends: watch::Receiver<bool>,
}

impl App {
    async fn open(&self, of: &In) -> Result<Arc<Open>, Problem> {
        self.surveys.get(&of.survey).await
    }
}

/// All routes, with their description. A body that is no upload has come within `patience`.
pub(crate) fn routes(patience: Duration) -> OpenApiRouter<App> {
    let info = InfoBuilder::new()
        .title("Stillroom")
        .version("1")
        .description(Some(
            "The HTTP API of surveys, for a page on the same machine. Frequencies are hertz, levels dB, \
             times RFC 3339 (without an offset: in the survey's time zone).",
        ))
        .build();
    OpenApiRouter::with_openapi(OpenApiBuilder::new().info(info).build())
        .routes(routes!(surveys::list, surveys::start))
        .routes(routes!(surveys::head))
        .routes(routes!(overview::overview))
        .routes(routes!(overview::coverage))
        .routes(routes!(record::show, record::apply))
        .routes(routes!(captures::list))
        .routes(routes!(captures::show, captures::amend))
        .routes(routes!(spectrum::describe))
        .routes(routes!(spectrum::tile))
        .routes(routes!(spectrum::trace))
        .routes(routes!(allocations::list))
        .routes(routes!(uploads::list, uploads::begin))
        .routes(routes!(uploads::show, uploads::discard))
        .routes(routes!(previews::preview))
        .routes(routes!(imports::import))
        .routes(routes!(pictures::of_item))
        .routes(routes!(pictures::of_place))
        .routes(routes!(pictures::plan))
        .routes(routes!(pictures::show))
        .routes(routes!(jobs::list))
        .routes(routes!(jobs::show, jobs::cancel))
        .routes(routes!(jobs::verify))
        .routes(routes!(jobs::reanalyse))
        .routes(routes!(events::events))
        .routes(routes!(ledger::show))
        .routes(routes!(ledger::row))
        .routes(routes!(times::on_times))
        .routes(routes!(times::bursts))
        .routes(routes!(decisions::decide))
        .routes(routes!(decisions::join))
        .routes(routes!(decisions::split))
        .routes(routes!(notes::note))
        .routes(routes!(movements::note_all))
        .routes(routes!(report::show, report::make))
        .routes(routes!(report::file))
        .routes(routes!(journal::list))
        .routes(routes!(journal::undoable, journal::undo))
        .route("/", get(page::front))
        .route("/mark.svg", get(page::mark))
        .route("/assets/{name}", get(page::asset))
        .route("/api/openapi.json", get(description))
        .layer(middleware::from_fn_with_state(patience, prompt::check))
        .routes(routes!(uploads::receive))
}

async fn description(State(_): State<App>) -> impl IntoResponse {
    ([(header::CONTENT_TYPE, "application/json")], DESCRIPTION)
}
