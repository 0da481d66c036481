//! When emissions were on: on-times of rows for a timeline, bursts of one.

use super::App;
use crate::call::{In, InWith, off, time};
use crate::contract;
use crate::problem::Problem;
use axum::Json;
use axum::extract::{Path, Query, State};
use serde::{Deserialize, Serialize};
use survey::{BurstsHeard, OnTimes, Window};
use utoipa::{IntoParams, ToSchema};

/// Rows of one answer.
const MOST_ROWS: usize = 200;
/// Cells of time, and bursts, where nobody says how many.
const CELLS: usize = 1000;
/// The most that can be asked for.
const MOST_CELLS: usize = 8000;

/// Which rows, which part of time, how finely.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct Wanted {
    /// Ids of rows, with commas between them; at most 200.
    ids: String,
    /// From when; from each capture's start without.
    from: Option<String>,
    /// Until when; until each capture's end without.
    until: Option<String>,
    /// Cells into which that time is cut, at most 8000; 1000 without.
    cells: Option<usize>,
}

/// On-times of a row.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RowTimes {
    /// Its id.
    id: String,
    /// When it was on, by the captures that heard it and overlap the time asked for.
    #[schema(value_type = Vec<contract::OnTimes>)]
    heard: Vec<OnTimes>,
}

/// When rows were on.
///
/// Each on-time is widened to the cells of time that it touches, so that none is lost however coarsely
/// it is told, and a row has no more on-times in a capture than there are cells.
#[utoipa::path(get, path = "/api/surveys/{survey}/on-times", tag = "ledger", params(In, Wanted),
    responses((status = 200, description = "By row, as asked.", body = Vec<RowTimes>)))]
pub(crate) async fn on_times(
    State(app): State<App>,
    Path(of): Path<In>,
    Query(wanted): Query<Wanted>,
) -> Result<Json<Vec<RowTimes>>, Problem> {
    let open = app.open(&of).await?;
    off(move || {
        let mut ids: Vec<String> =
            wanted.ids.split(',').map(|id| id.trim().to_uppercase()).collect();
        ids.retain(|id| !id.is_empty());
        if ids.len() > MOST_ROWS {
            let detail = format!("{} rows are too many at once", ids.len());
            return Err(Problem::input(detail, format!("Ask for at most {MOST_ROWS}.")));
        }
        let cells = cells(wanted.cells)?;
        let from = time(&open.survey, wanted.from.as_deref())?;
        let until = time(&open.survey, wanted.until.as_deref())?;
        let window = match (from, until) {
            (None, None) => None,
            (Some(from), Some(until)) if from < until => Some(Window { from, until, cells }),
            _ => {
                let remedy = "Give both, the earlier as `from`, or neither.";
                return Err(Problem::input("`from` and `until` bound no time", remedy));
            }
        };
        let found = open.survey.on_times_within(&ids, window)?;
        let told = ids
            .into_iter()
            .map(|id| RowTimes { heard: found.get(&id).cloned().unwrap_or_default(), id });
        Ok(Json(told.collect()))
    })
    .await
}

/// Which part of time, and how many at most.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct Part {
    /// From when; from each capture's start without.
    from: Option<String>,
    /// Until when; until each capture's end without.
    until: Option<String>,
    /// Bursts of one capture, at most 8000; 1000 without.
    most: Option<usize>,
}

/// The bursts of an emission, by the captures that heard it.
///
/// One by one where a capture has no more than `most` of them; else those that began in one cell of
/// time together, with their number.
#[utoipa::path(get, path = "/api/surveys/{survey}/ledger/{id}/bursts", tag = "ledger",
    params(InWith, Part),
    responses((status = 200, description = "By capture.", body = Vec<contract::BurstsHeard>)))]
pub(crate) async fn bursts(
    State(app): State<App>,
    Path(of): Path<InWith>,
    Query(part): Query<Part>,
) -> Result<Json<Vec<BurstsHeard>>, Problem> {
    let open = app.surveys.get(&of.survey).await?;
    off(move || {
        let most = cells(part.most)?;
        let from = time(&open.survey, part.from.as_deref())?;
        let until = time(&open.survey, part.until.as_deref())?;
        Ok(Json(open.survey.bursts(&of.id.to_uppercase(), from, until, most)?))
    })
    .await
}

fn cells(asked: Option<usize>) -> Result<usize, Problem> {
    match asked.unwrap_or(CELLS) {
        cells if (1..=MOST_CELLS).contains(&cells) => Ok(cells),
        _ => Err(Problem::input(
            "so many are not told at once",
            format!("Ask for 1 to {MOST_CELLS}."),
        )),
    }
}
