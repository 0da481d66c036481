//! Pictures among the evidence: photographs, images of floor plans.

use super::App;
use super::imports::files;
use super::jobs::{Begun, begin};
use crate::call::{By, In, InWith, off, time};
use crate::jobs::{Job, Kind, Working};
use crate::problem::Problem;
use crate::surveys::Open;
use axum::Json;
use axum::body::{Body, Bytes};
use axum::extract::{Path, Query, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use futures_util::stream::try_unfold;
use ledger::FileInfo;
use serde::Deserialize;
use std::path::PathBuf;
use std::sync::Arc;
use survey::{ImageKind, PlaceOf, SurveyError};
use tokio::io::AsyncReadExt;
use utoipa::ToSchema;

/// Bytes of a picture that are sent at once.
const BLOCK: usize = 1 << 16;

/// Which files are pictures.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Pictures {
    /// The upload.
    upload: String,
    /// Which of its files; all without.
    files: Option<Vec<String>>,
}

/// Which files are photographs, and of what.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Photographs {
    /// The upload.
    upload: String,
    /// Which of its files; all without.
    files: Option<Vec<String>>,
    /// Position, by name; made when named for the first time.
    position: Option<String>,
    /// Room, by name, in place of a position.
    room: Option<String>,
    /// When they were taken, as a person states it.
    taken_at: Option<String>,
}

/// Starts to bring photographs of a found item in, kept as evidence unchanged.
#[utoipa::path(post, path = "/api/surveys/{survey}/found-items/{id}/photographs", tag = "record",
    params(InWith, By), request_body = Pictures, operation_id = "photograph-item",
    responses((status = 202, description = "Under way.", body = Job)))]
pub(crate) async fn of_item(
    State(app): State<App>,
    Path(of): Path<InWith>,
    Query(who): Query<By>,
    Json(said): Json<Pictures>,
) -> Begun {
    let open = app.surveys.get(&of.survey).await?;
    bring_in(open, said, move |open, files, job| {
        open.survey.photograph(&of.id.to_uppercase(), files, &who.by, job)
    })
    .await
}

/// Starts to bring photographs of a position or a room in: PNG or JPEG, kept as evidence unchanged.
#[utoipa::path(post, path = "/api/surveys/{survey}/photographs", tag = "record", params(In, By),
    request_body = Photographs, operation_id = "photograph-place",
    responses((status = 202, description = "Under way.", body = Job)))]
pub(crate) async fn of_place(
    State(app): State<App>,
    Path(of): Path<In>,
    Query(who): Query<By>,
    Json(said): Json<Photographs>,
) -> Begun {
    let open = app.open(&of).await?;
    let Photographs { upload, files, position, room, taken_at } = said;
    let place = match (position, room) {
        (Some(position), None) => PlaceOf::Position(position),
        (None, Some(room)) => PlaceOf::Room(room),
        _ => {
            let remedy = "Name one of the two.";
            return Err(Problem::input("a photograph is of a position or of a room", remedy));
        }
    };
    let taken_at = time(&open.survey, taken_at.as_deref())?;
    bring_in(open, Pictures { upload, files }, move |open, files, job| {
        open.survey.photograph_place(&place, taken_at, files, &who.by, job)
    })
    .await
}

/// Starts to bring the image of a floor's plan in: PNG, JPEG or SVG, one file, kept as evidence
/// unchanged.
///
/// It takes the place of an earlier one. Its scale and origin are then written into the record.
#[utoipa::path(post, path = "/api/surveys/{survey}/floors/{id}/image", tag = "record",
    params(InWith, By), request_body = Pictures, operation_id = "plan-image",
    responses((status = 202, description = "Under way.", body = Job)))]
pub(crate) async fn plan(
    State(app): State<App>,
    Path(of): Path<InWith>,
    Query(who): Query<By>,
    Json(said): Json<Pictures>,
) -> Begun {
    let open = app.surveys.get(&of.survey).await?;
    bring_in(open, said, move |open, files, job| {
        let [file] = files else {
            return Err(SurveyError::Refused {
                what: format!("{} files are no plan", files.len()),
                remedy: "Name one.".into(),
            });
        };
        Ok(vec![open.survey.plan_image(&of.id.to_uppercase(), file, &who.by, job)?])
    })
    .await
}

/// Brings files of an upload in as a job. The upload is discarded when all is in.
async fn bring_in(
    open: Arc<Open>,
    said: Pictures,
    keep: impl FnOnce(&Open, &[PathBuf], &Working) -> Result<Vec<FileInfo>, SurveyError>
    + Send
    + 'static,
) -> Begun {
    off(move || {
        let upload = open.uploads.get(&said.upload)?.take()?;
        let files = files(&upload, said.files.as_deref())?;
        begin(&open, Kind::Photographs, move |own, job| {
            let path = format!("{}/", upload.path().display());
            let kept = keep(own, &files, &job.hiding(path.clone()));
            let kept = kept.map_err(|error| Problem::from(error).without(&path))?;
            job.tell(|told| told.pictures = kept);
            drop(upload);
            // Somebody may have discarded it meanwhile.
            let _ = own.uploads.discard(&said.upload);
            Ok(())
        })
    })
    .await
}

/// A photograph or the image of a plan, by its SHA-256. Other evidence is not given out.
#[utoipa::path(get, path = "/api/surveys/{survey}/evidence/{id}", tag = "record", params(InWith),
    operation_id = "picture",
    responses((status = 200, description = "The picture: PNG, JPEG or SVG.",
        content((String = "image/png"), (String = "image/jpeg"), (String = "image/svg+xml")))))]
pub(crate) async fn show(
    State(app): State<App>,
    Path(of): Path<InWith>,
) -> Result<Response, Problem> {
    let open = app.surveys.get(&of.survey).await?;
    let image = off(move || Ok(open.survey.image(&of.id)?)).await?.ok_or_else(|| {
        let remedy = "The record names photographs and plans by their SHA-256.";
        Problem::missing("there is no picture of this hash", remedy)
    })?;
    let unreadable = |error| SurveyError::Disk {
        file: PathBuf::from(&image.name),
        doing: "read it".into(),
        cause: error,
    };
    let file = tokio::fs::File::open(&image.path).await.map_err(unreadable)?;
    let bytes = file.metadata().await.map_err(unreadable)?.len();
    let blocks = try_unfold(file, |mut file| async move {
        let mut block = vec![0; BLOCK];
        let n = file.read(&mut block).await?;
        block.truncate(n);
        Ok::<_, std::io::Error>((n > 0).then(|| (Bytes::from(block), file)))
    });
    let kind = match image.kind {
        ImageKind::Png => "image/png",
        ImageKind::Jpeg => "image/jpeg",
        ImageKind::Svg => "image/svg+xml",
    };
    let head =
        [(header::CONTENT_TYPE, kind.to_owned()), (header::CONTENT_LENGTH, bytes.to_string())];
    // Opened by itself an SVG is a document: it may run nothing and reach nothing.
    let policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox";
    Ok((head, [(header::CONTENT_SECURITY_POLICY, policy)], Body::from_stream(blocks))
        .into_response())
}
