//! The ledger: every emission, with what was decided of it.

use super::App;
use crate::call::{In, InWith, off, tag};
use crate::contract;
use crate::problem::Problem;
use crate::surveys::Open;
use crate::wording::reasons;
use ::ledger::{Ledger, LedgerRow};
use axum::Json;
use axum::extract::{Path, State};
use axum::http::{HeaderValue, header};
use serde::Serialize;
use units::Reason;
use utoipa::ToSchema;

/// The ledger as it stands.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Standing {
    /// The ledger, stillroom.ledger/1.
    #[schema(value_type = contract::Ledger)]
    ledger: Ledger,
    /// What to distrust.
    #[schema(value_type = Vec<contract::Reason>)]
    warnings: Vec<Reason>,
    /// Captures and parts that wait to be analysed and do not count yet.
    waiting: u64,
}

/// The ledger of what was analysed so far; what waits is taken up.
#[utoipa::path(get, path = "/api/surveys/{survey}/ledger", tag = "ledger", params(In),
    responses((status = 200, description = "The ledger; its version is the ETag too.",
        body = Standing, headers(("etag" = String, description = "Version.")))))]
pub(crate) async fn show(
    State(app): State<App>,
    Path(of): Path<In>,
) -> Result<([(header::HeaderName, HeaderValue); 1], Json<Standing>), Problem> {
    let open = app.open(&of).await?;
    off(move || {
        open.analyse()?;
        let waiting = open.survey.waiting()? as u64;
        let outcome = open.survey.ledger_now()?;
        let version = tag(outcome.ledger.version);
        let (ledger, warnings) = (outcome.ledger, reasons(outcome.warnings));
        Ok(([(header::ETAG, version)], Json(Standing { ledger, warnings, waiting })))
    })
    .await
}

/// One emission, by its id or one that was merged into it.
#[utoipa::path(get, path = "/api/surveys/{survey}/ledger/{id}", tag = "ledger", params(InWith),
    responses((status = 200, description = "The row; the ledger's version is the ETag.",
        body = contract::LedgerRow, headers(("etag" = String, description = "Version.")))))]
pub(crate) async fn row(
    State(app): State<App>,
    Path(of): Path<InWith>,
) -> Result<([(header::HeaderName, HeaderValue); 1], Json<LedgerRow>), Problem> {
    let open = app.surveys.get(&of.survey).await?;
    off(move || {
        let (version, mut rows) = rows(&open, std::slice::from_ref(&of.id))?;
        let row = rows.pop().ok_or_else(|| {
            let remedy = "The ledger lists the rows that there are.";
            Problem::missing(format!("the ledger has no row {}", of.id), remedy)
        })?;
        Ok(([(header::ETAG, tag(version))], Json(row)))
    })
    .await
}

/// The rows that go by these ids now, and the ledger's version.
pub(super) fn rows(open: &Open, ids: &[String]) -> Result<(u64, Vec<LedgerRow>), Problem> {
    let mut ledger = open.survey.ledger_now()?.ledger;
    let named = |id: &String| ids.iter().any(|typed| typed.eq_ignore_ascii_case(id));
    ledger.emissions.retain(|row| named(&row.id) || row.aliases.iter().any(named));
    Ok((ledger.version, ledger.emissions))
}
