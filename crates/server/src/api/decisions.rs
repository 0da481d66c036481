//! What people decide: decisions, joins and splits by hand.

use super::{App, ledger::rows};
use crate::call::{By, In, off, seen, tag};
use crate::contract;
use crate::problem::Problem;
use ::ledger::{Ground, LedgerRow, State as Decided};
use axum::Json;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, HeaderValue, header};
use serde::{Deserialize, Serialize};
use survey::{Joining, Parting, Verdict};
use utoipa::ToSchema;

/// A decision on rows.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Decide {
    /// The rows: all or none.
    ids: Vec<String>,
    /// State.
    #[schema(value_type = contract::State)]
    state: Decided,
    /// Ground, for accounted.
    #[schema(value_type = Option<contract::Ground>)]
    ground: Option<Ground>,
    /// In the person's words; permanent, and may be read in court.
    reason: String,
}

/// Rows that are one.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Join {
    /// Two or more.
    ids: Vec<String>,
    /// In the person's words; permanent, and may be read in court.
    reason: String,
    /// They are one although their measurements say otherwise; the reason says why.
    #[serde(default)]
    although_apart: bool,
}

/// Receptions that leave a row.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Split {
    /// The row.
    id: String,
    /// Captures whose receptions leave it.
    captures: Vec<String>,
    /// In the person's words; permanent, and may be read in court.
    reason: String,
}

/// What was written, and the rows as they are since.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Written {
    /// Numbers of the journal's entries.
    entries: Vec<u64>,
    /// The ledger's version since.
    version: u64,
    /// The rows.
    #[schema(value_type = Vec<contract::LedgerRow>)]
    rows: Vec<LedgerRow>,
}

type Answer = Result<([(header::HeaderName, HeaderValue); 1], Json<Written>), Problem>;

/// Decides rows, all or none.
///
/// Needs the ledger's version as If-Match. If one of the rows changed since, nothing is decided and
/// the problem's `row` is that row as it is now.
#[utoipa::path(post, path = "/api/surveys/{survey}/decisions", tag = "ledger",
    params(In, By, ("if-match" = String, Header, description = "Version of the ledger that was seen.")),
    request_body = Decide,
    responses((status = 200, description = "Decided.", body = Written,
        headers(("etag" = String, description = "Version.")))))]
pub(crate) async fn decide(
    State(app): State<App>,
    Path(of): Path<In>,
    Query(who): Query<By>,
    headers: HeaderMap,
    Json(said): Json<Decide>,
) -> Answer {
    let (open, seen) = (app.open(&of).await?, seen(&headers)?);
    off(move || {
        let Decide { ids, state, ground, reason } = said;
        let verdict = Verdict { state, ground, reason };
        let entries = open.survey.decide(&ids, &verdict, Some(seen), &who.by)?;
        written(entries, rows(&open, &ids)?)
    })
    .await
}

/// Puts rows together by hand; every later ledger obeys.
///
/// Needs the ledger's version as If-Match, as a decision does. Rows that lie far apart, or that one
/// capture heard at once, are refused with the figures, unless `although_apart` is said.
#[utoipa::path(post, path = "/api/surveys/{survey}/joins", tag = "ledger",
    params(In, By, ("if-match" = String, Header, description = "Version of the ledger that was seen.")),
    request_body = Join,
    responses((status = 200, description = "Joined.", body = Written,
        headers(("etag" = String, description = "Version.")))))]
pub(crate) async fn join(
    State(app): State<App>,
    Path(of): Path<In>,
    Query(who): Query<By>,
    headers: HeaderMap,
    Json(said): Json<Join>,
) -> Answer {
    let (open, seen) = (app.open(&of).await?, seen(&headers)?);
    off(move || {
        let Join { ids, reason, although_apart } = said;
        let joining = Joining { ids, reason, although_apart };
        let entry = open.survey.join(&joining, Some(seen), &who.by)?;
        written(vec![entry], rows(&open, &joining.ids)?)
    })
    .await
}

/// Takes the receptions of some captures out of a row by hand.
///
/// Needs the ledger's version as If-Match, as a decision does.
#[utoipa::path(post, path = "/api/surveys/{survey}/splits", tag = "ledger",
    params(In, By, ("if-match" = String, Header, description = "Version of the ledger that was seen.")),
    request_body = Split,
    responses((status = 200, description = "Split; `rows` has both.", body = Written,
        headers(("etag" = String, description = "Version.")))))]
pub(crate) async fn split(
    State(app): State<App>,
    Path(of): Path<In>,
    Query(who): Query<By>,
    headers: HeaderMap,
    Json(said): Json<Split>,
) -> Answer {
    let (open, seen) = (app.open(&of).await?, seen(&headers)?);
    off(move || {
        let Split { id, captures, reason } = said;
        let parting = Parting { id, captures, reason };
        let (entry, new_id) = open.survey.split(&parting, Some(seen), &who.by)?;
        written(vec![entry], rows(&open, &[parting.id, new_id])?)
    })
    .await
}

fn written(entries: Vec<u64>, (version, rows): (u64, Vec<LedgerRow>)) -> Answer {
    Ok(([(header::ETAG, tag(version))], Json(Written { entries, version, rows })))
}
