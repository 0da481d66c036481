//! The spectrum of a capture: what there is to look at, tiles of it at any zoom, and one trace over a
//! stretch of time. Nothing of it is stored by a browser: the answers say `no-store`, as all do.

use super::App;
use crate::call::{InWith, off};
use crate::planes::Waiting;
use crate::problem::Problem;
use axum::Json;
use axum::extract::{Path, Query, State};
use axum::http::header;
use axum::response::IntoResponse;
use serde::{Deserialize, Serialize};
use survey::SurveyError;
use survey::plane::{CutAsk, Level, Scale, TILE_CELLS, TILE_ROWS};
use utoipa::{IntoParams, ToSchema};

/// Points of a trace.
const MOST_POINTS: usize = 4096;

/// What there is to look at. Code c of a tile, from 1 on, is `level_of_1 + (c - 1) * step_db`; 0 is
/// nothing.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Spectrum {
    /// Changes with the picture: what was kept under another is of no use.
    key: String,
    /// Lower edge of all that was recorded.
    low_hz: f64,
    /// Upper edge.
    high_hz: f64,
    /// Whether frequencies are absolute; else they are offsets from a centre that nobody states.
    centre_known: bool,
    /// Time of the first sample or sweep, RFC 3339, clock corrected; null where nobody states it.
    start: Option<String>,
    /// From the first to the last.
    duration_s: f64,
    /// Samples a second; null for swept spectra.
    sample_rate_hz: Option<f64>,
    /// `dBFS` or `dBm`, per bin.
    unit: &'static str,
    /// Level of code 1.
    level_of_1: f64,
    /// From one code to the next.
    step_db: f64,
    /// Lower end of what is usual here, for a scale of colours.
    floor_db: f64,
    /// Upper end.
    ceiling_db: f64,
    /// Pixels of a tile along frequency.
    tile_cells: usize,
    /// Pixels of a tile along time.
    tile_rows: usize,
    /// Length of a row at time level 0; at level t it is 2^t times that.
    row_s: f64,
    /// Stretches with one centre frequency.
    segments: Vec<SpectrumSegment>,
    /// Zoom levels along frequency, finest first.
    levels: Vec<SpectrumLevel>,
}

/// A stretch with one centre frequency.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SpectrumSegment {
    /// Lower edge.
    low_hz: f64,
    /// Upper edge.
    high_hz: f64,
    /// Begins, seconds from the recording's start.
    start_s: f64,
    /// Lasts.
    duration_s: f64,
}

/// A zoom level along frequency.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SpectrumLevel {
    /// Its number.
    frequency_level: i32,
    /// Width of a cell.
    cell_hz: f64,
    /// Lower edge of the first cell of the first tile.
    low_hz: f64,
    /// Noise bandwidth of the spectra under it; null for swept spectra.
    noise_bandwidth_hz: Option<f64>,
    /// The same at time levels under 0, which are made from the samples.
    fine_noise_bandwidth_hz: Option<f64>,
    /// Time levels that go with it, rising.
    time_levels: Vec<i32>,
}

/// What a tile shows of what falls into a pixel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub(crate) enum Kept {
    /// The largest level.
    #[default]
    Max,
    /// The mean power.
    Mean,
}

/// Which tile.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct Which {
    /// Frequency level.
    frequency_level: i32,
    /// Time level.
    time_level: i32,
    /// Number along frequency.
    column: u64,
    /// Number along time.
    row: u64,
    /// Largest or mean.
    #[serde(default)]
    #[param(inline)]
    of: Kept,
}

/// Levels, one byte a pixel.
#[derive(Debug, ToSchema)]
#[schema(value_type = String, format = Binary)]
#[expect(dead_code, reason = "a name for the description of the API")]
pub(crate) struct TileBytes(Vec<u8>);

/// Which trace.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct Asked {
    /// From here on, seconds from the recording's start.
    from_s: f64,
    /// Up to here.
    until_s: f64,
    /// Lower edge.
    low_hz: f64,
    /// Upper edge.
    high_hz: f64,
    /// At most so many points, up to 4096.
    points: usize,
    /// Which percentile, 0 to 100; the median without.
    #[serde(default = "median")]
    percentile: f64,
    /// The moment that `now` is of; the end without.
    at_s: Option<f64>,
}

fn median() -> f64 {
    50.0
}

/// A trace: levels per bin, one a cell of frequency; null for nothing.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SpectrumTrace {
    /// Lower edge of the first cell.
    low_hz: f64,
    /// Width of a cell.
    cell_hz: f64,
    /// Length of a row of time.
    row_s: f64,
    /// Rows that it is of.
    rows: usize,
    /// Noise bandwidth of the spectra under it; null for swept spectra.
    noise_bandwidth_hz: Option<f64>,
    /// `dBFS` or `dBm`.
    unit: &'static str,
    /// Largest.
    max: Vec<Option<f64>>,
    /// Mean power.
    mean: Vec<Option<f64>>,
    /// So many in a hundred rows lie at or under it.
    percentile: Vec<Option<f64>>,
    /// The row at the moment asked for.
    now: Vec<Option<f64>>,
}

/// What there is to look at in a capture, or in one stay of it.
#[utoipa::path(get, path = "/api/surveys/{survey}/captures/{id}/spectrum", tag = "spectrum",
    operation_id = "show", params(InWith),
    responses((status = 200, description = "Spans, scale and zoom levels.", body = Spectrum)))]
pub(crate) async fn describe(
    State(app): State<App>,
    Path(of): Path<InWith>,
) -> Result<Json<Spectrum>, Problem> {
    let open = app.surveys.get(&of.survey).await?;
    off(move || {
        let seen = app.planes.get(&of.survey, &open, &of.id)?;
        let plane = &seen.plane;
        let ((low_hz, high_hz), scale) = (plane.span_hz(), plane.scale());
        let (floor_db, ceiling_db) = plane.range_db();
        let segments = plane.stretches().iter().map(|s| SpectrumSegment {
            low_hz: s.low_hz,
            high_hz: s.high_hz,
            start_s: s.start_s,
            duration_s: s.duration_s,
        });
        let levels = plane.levels().into_iter().map(|level| SpectrumLevel {
            frequency_level: level.frequency,
            cell_hz: level.cell_hz,
            low_hz: level.low_hz,
            noise_bandwidth_hz: level.noise_bandwidth_hz,
            fine_noise_bandwidth_hz: level.fine_noise_bandwidth_hz,
            time_levels: level.times,
        });
        let start = plane.start().map(|at| at.plus_seconds(seen.sight.clock_s()).to_string());
        Ok(Json(Spectrum {
            key: seen.sight.key().to_owned(),
            low_hz,
            high_hz,
            centre_known: plane.centre_known(),
            start,
            duration_s: plane.duration_s(),
            sample_rate_hz: plane.sample_rate_hz(),
            unit: scale.unit,
            level_of_1: scale.level_of_1,
            step_db: scale.step_db,
            floor_db,
            ceiling_db,
            tile_cells: TILE_CELLS,
            tile_rows: TILE_ROWS,
            row_s: plane.row_s(),
            segments: segments.collect(),
            levels: levels.collect(),
        }))
    })
    .await
}

/// A tile: rows of time from the earliest on, each from the lowest frequency on.
#[utoipa::path(get, path = "/api/surveys/{survey}/captures/{id}/spectrum/tile", tag = "spectrum",
    params(InWith, Which),
    responses((status = 200, description = "`tile_rows` times `tile_cells` codes.", body = TileBytes,
        content_type = "application/octet-stream")))]
pub(crate) async fn tile(
    State(app): State<App>,
    Path(of): Path<InWith>,
    Query(which): Query<Which>,
) -> Result<impl IntoResponse, Problem> {
    let open = app.surveys.get(&of.survey).await?;
    let waiting = Waiting::default();
    let _leaves = waiting.leaves();
    off(move || {
        let seen = app.planes.get(&of.survey, &open, &of.id)?;
        let level = Level { frequency: which.frequency_level, time: which.time_level };
        let place = (which.column, which.row);
        let pixels = app.planes.tile(&seen, level, place, &waiting)?.ok_or_else(|| {
            Problem::missing(
                format!(
                    "there is no tile {}, {} at level {}, {}",
                    place.0, place.1, level.frequency, level.time
                ),
                "The description of the spectrum lists the levels and what they span.",
            )
        })?;
        let codes = match which.of {
            Kept::Max => pixels.max.clone(),
            Kept::Mean => pixels.mean.clone(),
        };
        Ok(([(header::CONTENT_TYPE, "application/octet-stream")], codes))
    })
    .await
}

/// A trace over a stretch of time and frequency: largest, mean, a percentile, and that of a moment.
#[utoipa::path(get, path = "/api/surveys/{survey}/captures/{id}/spectrum/trace", tag = "spectrum",
    params(InWith, Asked),
    responses((status = 200, description = "The trace.", body = SpectrumTrace)))]
pub(crate) async fn trace(
    State(app): State<App>,
    Path(of): Path<InWith>,
    Query(asked): Query<Asked>,
) -> Result<Json<SpectrumTrace>, Problem> {
    let ask = checked(&asked)?;
    let open = app.surveys.get(&of.survey).await?;
    let waiting = Waiting::default();
    let _leaves = waiting.leaves();
    off(move || {
        let seen = app.planes.get(&of.survey, &open, &of.id)?;
        let cut = seen.plane.cut(&ask, &|| waiting.still()).map_err(SurveyError::from)?;
        let cut = cut.ok_or_else(|| {
            Problem::missing(
                "nothing was recorded in that band at that time",
                "The description of the spectrum says what was.",
            )
        })?;
        let scale = seen.plane.scale();
        Ok(Json(SpectrumTrace {
            low_hz: cut.low_hz,
            cell_hz: cut.cell_hz,
            row_s: cut.row_s,
            rows: cut.rows,
            noise_bandwidth_hz: cut.noise_bandwidth_hz,
            unit: scale.unit,
            max: levels(scale, &cut.max),
            mean: levels(scale, &cut.mean),
            percentile: levels(scale, &cut.percentile),
            now: levels(scale, &cut.now),
        }))
    })
    .await
}

fn levels(scale: Scale, codes: &[u8]) -> Vec<Option<f64>> {
    let rounded = |level: f64| (level * 1000.0).round() / 1000.0;
    codes.iter().map(|&code| scale.level(code).map(rounded)).collect()
}

fn checked(asked: &Asked) -> Result<CutAsk, Problem> {
    let refuse = |detail: String| {
        Err(Problem::input(detail, "The description of the spectrum says what there is."))
    };
    let finite = [asked.from_s, asked.until_s, asked.low_hz, asked.high_hz];
    if finite.iter().any(|x| !x.is_finite()) || asked.at_s.is_some_and(|s| !s.is_finite()) {
        return refuse("a time or frequency is no finite number".to_owned());
    }
    if asked.from_s >= asked.until_s || asked.low_hz >= asked.high_hz {
        return refuse("a span ends where it begins, or before".to_owned());
    }
    if !(1..=MOST_POINTS).contains(&asked.points) {
        return refuse(format!("{} points: give 1 to {MOST_POINTS}", asked.points));
    }
    if !(0.0..=100.0).contains(&asked.percentile) {
        return refuse(format!("the percentile {} is not within 0 to 100", asked.percentile));
    }
    Ok(CutAsk {
        from_s: asked.from_s,
        until_s: asked.until_s,
        low_hz: asked.low_hz,
        high_hz: asked.high_hz,
        points: asked.points,
        percentile: asked.percentile,
        at_s: asked.at_s,
    })
}
