//! The journal: who did what when; and taking back.

use super::App;
use crate::call::{By, In, off};
use crate::contract;
use crate::problem::Problem;
use axum::Json;
use axum::extract::{Path, Query, State};
use serde::{Deserialize, Serialize};
use survey::Entry;
use utoipa::{IntoParams, ToSchema};

/// Entries of one answer.
const MOST: usize = 1000;

/// From which entry on.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct After {
    /// Number of the last entry that is known; from the first on without.
    #[serde(default)]
    after: u64,
}

/// An entry that can be taken back.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Undoable {
    /// Its number.
    entry: u64,
    /// When: RFC 3339, UTC.
    time: String,
    /// By whom.
    by: String,
    /// What it did, in words.
    what: String,
}

/// An entry to take back.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Undo {
    /// Its number.
    entry: u64,
}

/// What was taken back.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Undone {
    /// The entry that was taken back.
    undone: u64,
    /// The entry that does so.
    entry: u64,
}

/// The journal, oldest first, at most 1000 entries at once.
#[utoipa::path(get, path = "/api/surveys/{survey}/journal", tag = "journal", params(In, After),
    responses((status = 200, description = "The entries.", body = Vec<contract::Entry>)))]
pub(crate) async fn list(
    State(app): State<App>,
    Path(of): Path<In>,
    Query(from): Query<After>,
) -> Result<Json<Vec<Entry>>, Problem> {
    let open = app.open(&of).await?;
    off(move || {
        let entries = open.survey.journal()?.into_iter();
        Ok(Json(entries.filter(|entry| entry.seq > from.after).take(MOST).collect()))
    })
    .await
}

/// The entries that can be taken back as things stand, the newest first.
#[utoipa::path(get, path = "/api/surveys/{survey}/undo", tag = "journal", params(In),
    responses((status = 200, description = "The entries.", body = Vec<Undoable>)))]
pub(crate) async fn undoable(
    State(app): State<App>,
    Path(of): Path<In>,
) -> Result<Json<Vec<Undoable>>, Problem> {
    let open = app.open(&of).await?;
    off(move || {
        let listed = open.survey.undoable()?.into_iter();
        let told = listed.map(|e| Undoable { entry: e.seq, time: e.time, by: e.by, what: e.what });
        Ok(Json(told.collect()))
    })
    .await
}

/// Takes back what an entry did, with a new entry.
#[utoipa::path(post, path = "/api/surveys/{survey}/undo", tag = "journal", params(In, By),
    request_body = Undo, responses((status = 200, description = "Taken back.", body = Undone)))]
pub(crate) async fn undo(
    State(app): State<App>,
    Path(of): Path<In>,
    Query(who): Query<By>,
    Json(said): Json<Undo>,
) -> Result<Json<Undone>, Problem> {
    let open = app.open(&of).await?;
    off(move || {
        let entry = open.survey.undo(said.entry, &who.by)?;
        open.analyse()?;
        Ok(Json(Undone { undone: said.entry, entry }))
    })
    .await
}
