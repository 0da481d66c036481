//! Long work: how it stands, cancelling it; checking evidence and journal.

use super::App;
use crate::call::{By, In, InWith, off};
use crate::jobs::{Job, Kind, Verification, Working};
use crate::problem::Problem;
use crate::surveys::Open;
use axum::Json;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use std::sync::Arc;

/// All jobs that are under way or ended of late, oldest first.
#[utoipa::path(get, path = "/api/surveys/{survey}/jobs", tag = "jobs", params(In),
    responses((status = 200, description = "The jobs.", body = Vec<Job>)))]
pub(crate) async fn list(
    State(app): State<App>,
    Path(of): Path<In>,
) -> Result<Json<Vec<Job>>, Problem> {
    Ok(Json(app.open(&of).await?.jobs.all()))
}

/// One job.
#[utoipa::path(get, path = "/api/surveys/{survey}/jobs/{id}", tag = "jobs", params(InWith),
    responses((status = 200, description = "The job.", body = Job)))]
pub(crate) async fn show(
    State(app): State<App>,
    Path(of): Path<InWith>,
) -> Result<Json<Job>, Problem> {
    Ok(Json(app.surveys.get(&of.survey).await?.jobs.get(&of.id)?))
}

/// Cancels a job: it stops at a safe place, and what was acknowledged stays.
#[utoipa::path(delete, path = "/api/surveys/{survey}/jobs/{id}", tag = "jobs", params(InWith),
    responses((status = 202, description = "Asked to stop; one that has ended stays as it is.",
        body = Job)))]
pub(crate) async fn cancel(
    State(app): State<App>,
    Path(of): Path<InWith>,
) -> Result<(StatusCode, Json<Job>), Problem> {
    let open = app.surveys.get(&of.survey).await?;
    Ok((StatusCode::ACCEPTED, Json(open.jobs.cancel(&of.id)?)))
}

/// A job that was started.
pub(super) type Begun = Result<(StatusCode, Json<Job>), Problem>;

/// Starts long work on a survey, and answers at once.
pub(super) fn begin(
    open: &Arc<Open>,
    kind: Kind,
    work: impl FnOnce(&Open, &Working) -> Result<(), Problem> + Send + 'static,
) -> Begun {
    let own = open.clone();
    let job = open.jobs.start(kind, move |job| work(&own, job))?;
    Ok((StatusCode::ACCEPTED, Json(job)))
}

/// Starts to check every evidence file and the journal.
#[utoipa::path(post, path = "/api/surveys/{survey}/verifications", tag = "jobs", params(In),
    responses((status = 202, description = "Under way.", body = Job)))]
pub(crate) async fn verify(State(app): State<App>, Path(of): Path<In>) -> Begun {
    let open = app.open(&of).await?;
    off(move || {
        begin(&open, Kind::Verification, |own, job| {
            let found = match own.survey.verify(job) {
                // To this question, damage is an answer.
                Err(error) if error.is_damage() => Verification {
                    ok: false,
                    faults: vec![error.damage()],
                    warnings: Vec::new(),
                    files: 0,
                    bytes: 0,
                    entries: 0,
                    journal_head: String::new(),
                },
                found => {
                    let found = found?;
                    Verification {
                        ok: found.ok,
                        faults: found.faults.iter().map(ToString::to_string).collect(),
                        warnings: found.warnings,
                        files: found.files,
                        bytes: found.bytes,
                        entries: found.entries,
                        journal_head: found.head,
                    }
                }
            };
            job.tell(|told| told.verification = Some(found));
            Ok(())
        })
    })
    .await
}

/// Starts to analyse again what another version of the program analysed, what failed, and what was
/// altered since; the job's `reanalysed` tells which rows appeared, are gone or changed.
#[utoipa::path(post, path = "/api/surveys/{survey}/reanalysis", tag = "jobs", params(In, By),
    responses((status = 202, description = "Under way.", body = Job)))]
pub(crate) async fn reanalyse(
    State(app): State<App>,
    Path(of): Path<In>,
    Query(who): Query<By>,
) -> Begun {
    let open = app.open(&of).await?;
    off(move || {
        if open.jobs.is_running(Kind::Reanalysis) {
            let remedy = "Wait for its end; the list of jobs tells how far it is.";
            return Err(Problem::conflict("it is being analysed again already", remedy));
        }
        begin(&open, Kind::Reanalysis, move |own, job| {
            let changes = own.survey.reanalyse(&who.by, job)?;
            job.tell(|told| told.reanalysed = Some(changes.into()));
            Ok(())
        })
    })
    .await
}
