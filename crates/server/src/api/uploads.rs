//! Files on their way in.

use super::App;
use crate::call::{In, InWith, off};
use crate::problem::Problem;
use axum::Json;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// Files that are on their way in.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Upload {
    /// Its id: it outlives the server, and no other upload gets it.
    upload: String,
    /// The files that came whole.
    files: Vec<Received>,
}

/// A file that came whole.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Received {
    /// Its name.
    name: String,
    /// Its size.
    bytes: u64,
}

/// The bytes of a file.
#[derive(Debug, ToSchema)]
#[schema(value_type = String, format = Binary)]
#[expect(dead_code, reason = "a name for the description of the API; the body is streamed")]
pub(crate) struct Bytes(Vec<u8>);

/// Which file of which upload.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Path)]
pub(crate) struct File {
    /// Name of the survey's folder.
    survey: String,
    /// Id of the upload.
    id: String,
    /// Name of the file: one plain name.
    name: String,
}

/// The uploads that are neither imported nor discarded.
///
/// Those in which a file came whole outlive the server, for two weeks after the last one came.
#[utoipa::path(get, path = "/api/surveys/{survey}/uploads", tag = "uploads", params(In),
    responses((status = 200, description = "The uploads.", body = Vec<Upload>)))]
pub(crate) async fn list(
    State(app): State<App>,
    Path(of): Path<In>,
) -> Result<Json<Vec<Upload>>, Problem> {
    let open = app.open(&of).await?;
    let all = open.uploads.ids().into_iter().filter_map(|id| {
        let files = open.uploads.get(&id).ok()?.files();
        Some(told(id, files))
    });
    Ok(Json(all.collect()))
}

/// Begins an upload: files that belong together are sent into one.
#[utoipa::path(post, path = "/api/surveys/{survey}/uploads", tag = "uploads", params(In),
    responses((status = 201, description = "Begun.", body = Upload)))]
pub(crate) async fn begin(
    State(app): State<App>,
    Path(of): Path<In>,
) -> Result<(StatusCode, Json<Upload>), Problem> {
    let open = app.open(&of).await?;
    off(move || {
        let upload = open.uploads.begin(&open.survey)?;
        Ok((StatusCode::CREATED, Json(told(upload, Vec::new()))))
    })
    .await
}

/// What an upload holds.
#[utoipa::path(get, path = "/api/surveys/{survey}/uploads/{id}", tag = "uploads", params(InWith),
    responses((status = 200, description = "The upload.", body = Upload)))]
pub(crate) async fn show(
    State(app): State<App>,
    Path(of): Path<InWith>,
) -> Result<Json<Upload>, Problem> {
    let open = app.surveys.get(&of.survey).await?;
    let files = open.uploads.get(&of.id)?.files();
    Ok(Json(told(of.id, files)))
}

/// Discards an upload and its files.
#[utoipa::path(delete, path = "/api/surveys/{survey}/uploads/{id}", tag = "uploads",
    params(InWith), responses((status = 204, description = "Gone.")))]
pub(crate) async fn discard(
    State(app): State<App>,
    Path(of): Path<InWith>,
) -> Result<StatusCode, Problem> {
    let open = app.surveys.get(&of.survey).await?;
    off(move || open.uploads.discard(&of.id).map(|()| StatusCode::NO_CONTENT)).await
}

/// Sends one file of an upload: its bytes are the body.
#[utoipa::path(put, path = "/api/surveys/{survey}/uploads/{id}/{name}", tag = "uploads",
    params(File), request_body(content = Bytes, content_type = "application/octet-stream"),
    responses((status = 201, description = "It came whole.", body = Received)))]
pub(crate) async fn receive(
    State(app): State<App>,
    Path(of): Path<File>,
    headers: HeaderMap,
    body: Body,
) -> Result<(StatusCode, Json<Received>), Problem> {
    let open = app.surveys.get(&of.survey).await?;
    let upload = open.uploads.get(&of.id)?;
    let announced = headers.get(header::CONTENT_LENGTH).and_then(|v| v.to_str().ok()?.parse().ok());
    let bytes = upload.receive(&of.name, announced, body).await?;
    Ok((StatusCode::CREATED, Json(Received { name: of.name, bytes })))
}

fn told(upload: String, files: Vec<(String, u64)>) -> Upload {
    let files = files.into_iter().map(|(name, bytes)| Received { name, bytes }).collect();
    Upload { upload, files }
}
