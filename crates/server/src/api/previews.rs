//! What a file of an upload would be read as, before it is imported.

use super::App;
use super::captures::Over;
use crate::call::{InWith, off};
use crate::contract;
use crate::problem::Problem;
use crate::wording::{neutral, reasons};
use axum::Json;
use axum::extract::{Path, State};
use serde::Deserialize;
use utoipa::ToSchema;

/// Which file, and what is said over its metadata.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PreviewOf {
    /// Name of the file: of a SigMF recording either of the two.
    file: String,
    /// What is said over its metadata; `columns` or `map` for a table.
    #[serde(default)]
    overrides: Over,
}

/// What a file would be read as: kind, a table's proposed mapping and first rows as understood, rate
/// and centre of samples, and what is wrong.
///
/// Nothing is brought in. A table is read with the mapping said, else with the one proposed.
#[utoipa::path(post, path = "/api/surveys/{survey}/uploads/{id}/preview", tag = "uploads",
    params(InWith), request_body = PreviewOf,
    responses((status = 200, description = "As understood.", body = contract::Preview)))]
pub(crate) async fn preview(
    State(app): State<App>,
    Path(of): Path<InWith>,
    Json(wanted): Json<PreviewOf>,
) -> Result<Json<survey::Preview>, Problem> {
    let open = app.surveys.get(&of.survey).await?;
    off(move || {
        let upload = open.uploads.get(&of.id)?;
        if !upload.files().iter().any(|(name, _)| *name == wanted.file) {
            return Err(Problem::missing(
                "the file that is named is not in the upload",
                "Send it first; the upload lists those that came whole.",
            ));
        }
        let file = upload.path().join(&wanted.file);
        let said = wanted.overrides.read(&open.survey)?;
        let folder = format!("{}/", upload.path().display());
        let seen = open.survey.preview(&file, &said);
        let mut seen = seen.map_err(|error| Problem::from(error).without(&folder))?;
        for wrong in &mut seen.wrong {
            wrong.what = neutral(&wrong.what.replace(&folder, ""));
            wrong.remedy = neutral(&wrong.remedy.replace(&folder, ""));
        }
        seen.warnings = reasons(seen.warnings);
        Ok(Json(seen))
    })
    .await
}
