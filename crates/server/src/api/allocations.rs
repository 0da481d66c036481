//! What lives where: the rows of the table of allocations.

use super::App;
use crate::problem::Problem;
use axum::Json;
use axum::extract::{Query, State};
use serde::{Deserialize, Serialize};
use units::Band;
use utoipa::{IntoParams, ToSchema};

/// Which band, where.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct Where {
    /// Region: WORLD, ITU1, ITU2, ITU3, CEPT, UK, US.
    region: String,
    /// Lower edge.
    low_hz: f64,
    /// Upper edge.
    high_hz: f64,
}

/// A row of the table.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AllocationRow {
    /// Service or kind of use.
    service: String,
    /// What one meets there, in words; may be empty.
    what: String,
    /// Region of the row.
    region: String,
    /// Lower edge.
    low_hz: f64,
    /// Upper edge.
    high_hz: f64,
    /// Where the row comes from.
    source: String,
}

/// The allocations that touch a band, by their lower edges.
#[utoipa::path(get, path = "/api/allocations", tag = "allocations", params(Where),
    responses((status = 200, description = "The rows.", body = Vec<AllocationRow>)))]
pub(crate) async fn list(
    State(_): State<App>,
    Query(asked): Query<Where>,
) -> Result<Json<Vec<AllocationRow>>, Problem> {
    if !(asked.low_hz.is_finite() && asked.high_hz.is_finite() && asked.low_hz < asked.high_hz) {
        return Err(Problem::input(
            "the band ends where it begins, or before",
            "Give low_hz and high_hz as hertz.",
        ));
    }
    let rows = survey::allocations(Band::new(asked.low_hz, asked.high_hz), &asked.region)?;
    let rows = rows.into_iter().map(|row| AllocationRow {
        service: row.service.clone(),
        what: row.use_.clone(),
        region: row.region.to_string(),
        low_hz: row.band.low_hz,
        high_hz: row.band.high_hz,
        source: row.provenance.source.clone(),
    });
    Ok(Json(rows.collect()))
}
