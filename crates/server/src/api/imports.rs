//! Bringing files of an upload in as captures.

use super::App;
use super::captures::Over;
use super::jobs::{Begun, begin};
use crate::call::{By, In, off, time};
use crate::contract;
use crate::jobs::{Imported, Job, Kind, Working};
use crate::problem::Problem;
use crate::surveys::Open;
use crate::uploads::Upload;
use crate::wording::reasons;
use axum::Json;
use axum::extract::{Path, Query, State};
use ledger::Role;
use serde::Deserialize;
use std::path::PathBuf;
use survey::AddOptions;
use units::{Band, Zone};
use utoipa::ToSchema;

/// What is said of the files of an upload.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Import {
    /// The upload.
    upload: String,
    /// Which of its files; all without.
    files: Option<Vec<String>>,
    /// Why they were recorded.
    #[schema(value_type = contract::Role)]
    role: Role,
    /// Position, by name; made when named for the first time.
    at: Option<String>,
    /// Zone of a position that is new.
    #[schema(value_type = Option<contract::Zone>)]
    zone: Option<Zone>,
    /// Chain, by name.
    chain: Option<String>,
    /// Gain ahead of the converter.
    gain_db: Option<f64>,
    /// Setting that changes what levels mean.
    setting: Option<String>,
    /// How the room was.
    condition: Option<String>,
    /// Listening began (logs).
    from: Option<String>,
    /// Listening ended (logs).
    until: Option<String>,
    /// Bands listened to (logs).
    #[serde(default)]
    #[schema(value_type = Vec<contract::Band>)]
    bands: Vec<Band>,
    /// What is said over the files' metadata.
    #[serde(default)]
    overrides: Over,
    /// The same recording may count at another position too.
    #[serde(default)]
    again: bool,
}

/// Starts to bring captures in.
///
/// Each is acknowledged by itself in the job's `imported`, then analysed; a cancelled or failed job
/// leaves what was acknowledged, and nothing of the rest. The upload is discarded when all is in.
#[utoipa::path(post, path = "/api/surveys/{survey}/imports", tag = "captures", params(In, By),
    request_body = Import, responses((status = 202, description = "Under way.", body = Job)))]
pub(crate) async fn import(
    State(app): State<App>,
    Path(of): Path<In>,
    Query(who): Query<By>,
    Json(said): Json<Import>,
) -> Begun {
    let open = app.open(&of).await?;
    off(move || {
        let upload = open.uploads.get(&said.upload)?.take()?;
        let files = files(&upload, said.files.as_deref())?;
        let survey = &open.survey;
        let options = AddOptions {
            at: said.at,
            zone: said.zone,
            chain: said.chain,
            gain_db: said.gain_db,
            setting: said.setting,
            condition: said.condition,
            from: time(survey, said.from.as_deref())?,
            until: time(survey, said.until.as_deref())?,
            bands: said.bands,
            overrides: said.overrides.read(survey)?,
            // Acknowledged first, then analysed.
            later: true,
            again: said.again,
            ..AddOptions::new(said.role)
        };
        let id = said.upload;
        begin(&open, Kind::Import, move |own, job| {
            let path = format!("{}/", upload.path().display());
            let stored = store(own, &files, &options, &who.by, &job.hiding(path.clone()));
            stored.map_err(|problem| problem.without(&path))?;
            drop(upload);
            // Somebody may have discarded it meanwhile.
            let _ = own.uploads.discard(&id);
            Ok(own.survey.finish_pending(job)?)
        })
    })
    .await
}

fn store(
    open: &Open,
    files: &[PathBuf],
    options: &AddOptions,
    by: &str,
    job: &Working,
) -> Result<(), Problem> {
    let added = open.survey.add(files, options, by, job)?;
    job.tell(|told| {
        told.imported = added
            .into_iter()
            .map(|one| Imported {
                capture: one.capture,
                file: one.file.file_name().unwrap_or_default().to_string_lossy().into_owned(),
                already: one.already,
                warnings: reasons(one.warnings),
            })
            .collect();
    });
    Ok(())
}

/// Paths of the files of an upload that are meant.
pub(super) fn files(upload: &Upload, named: Option<&[String]>) -> Result<Vec<PathBuf>, Problem> {
    let whole = upload.files();
    let mut files = Vec::new();
    match named {
        None => files.extend(whole.iter().map(|(name, _)| upload.path().join(name))),
        Some(named) => {
            for name in named {
                let there = whole.iter().find(|(other, _)| other == name).ok_or_else(|| {
                    Problem::missing(
                        "a file that is named is not in the upload",
                        "Send it first; the upload lists those that came whole.",
                    )
                })?;
                files.push(upload.path().join(&there.0));
            }
        }
    }
    if files.is_empty() {
        let remedy = "Send its files, then import it.";
        return Err(Problem::input("the upload holds no file", remedy));
    }
    Ok(files)
}
