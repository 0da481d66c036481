//! One spectrum over a stretch of time: the largest, the mean, a percentile, and that of a moment.

use super::grid::{Grid, Level};
use super::{Area, KeepGoing, Plane};
use crate::AnalyseError;
use spectrum::{code_from_power, power_from_code};

/// Most rows of time that are looked at for one.
const MOST_ROWS: u64 = 1024;

/// Which spectrum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CutAsk {
    /// From here on, seconds.
    pub from_s: f64,
    /// Up to here.
    pub until_s: f64,
    /// Lower edge.
    pub low_hz: f64,
    /// Upper edge.
    pub high_hz: f64,
    /// At most so many points.
    pub points: usize,
    /// Of the rows of time, so many in a hundred lie at or under `percentile`.
    pub percentile: f64,
    /// The moment that `now` is of; the last row without.
    pub at_s: Option<f64>,
}

/// The spectrum: codes, one a cell of frequency.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// The level that it was taken from.
    pub level: Level,
    /// Lower edge of the first cell.
    pub low_hz: f64,
    /// Width of a cell.
    pub cell_hz: f64,
    /// Length of a row.
    pub row_s: f64,
    /// Rows that were looked at.
    pub rows: usize,
    /// Noise bandwidth of the spectra under it.
    pub noise_bandwidth_hz: Option<f64>,
    /// The largest.
    pub max: Vec<u8>,
    /// The mean of the powers.
    pub mean: Vec<u8>,
    /// The percentile of the rows' means.
    pub percentile: Vec<u8>,
    /// The mean of the row at the moment asked for.
    pub now: Vec<u8>,
}

impl Plane {
    /// The spectrum over a stretch of time, as finely as `points` and bounded work allow. None if
    /// the stretch or the band lies outside the recording.
    ///
    /// # Errors
    /// If samples or overview cannot be read, or nobody waits any more.
    pub fn cut(
        &self,
        ask: &CutAsk,
        keep_going: KeepGoing<'_>,
    ) -> Result<Option<Cut>, AnalyseError> {
        let grid = &self.grid;
        let (from_s, until_s) = (ask.from_s.max(0.0), ask.until_s.min(self.duration_s()));
        let (low_hz, high_hz) =
            (ask.low_hz.max(grid.low_edge_hz(0)), ask.high_hz.min(grid.high_hz()));
        if !(from_s < until_s && low_hz < high_hz && ask.points > 0) {
            return Ok(None);
        }
        let Some((level, area)) = choose(grid, (low_hz, high_hz), (from_s, until_s), ask.points)
        else {
            return Ok(None);
        };
        let pixels = self.area(area, keep_going)?;
        let row_s = grid.row_at(level.time);
        let moment = ask.at_s.map_or(i64::MAX, |at_s| (at_s / row_s).floor() as i64);
        let moment = moment.clamp(area.top, area.top + area.height as i64 - 1) - area.top;
        let column = |codes: &[u8], x: usize| -> Vec<u8> {
            codes.iter().skip(x).step_by(area.width).copied().collect()
        };
        let columns = 0..area.width;
        let max = columns.clone().map(|x| column(&pixels.max, x).into_iter().max().unwrap_or(0));
        let means: Vec<Vec<u8>> = columns.map(|x| column(&pixels.mean, x)).collect();
        let now = means.iter().map(|rows| rows[moment as usize]);
        let levels = grid.levels();
        let described = levels.iter().find(|l| l.frequency == level.frequency);
        Ok(Some(Cut {
            level,
            low_hz: grid.low_edge_hz(level.frequency)
                + area.left as f64 * grid.cell_at(level.frequency),
            cell_hz: grid.cell_at(level.frequency),
            row_s,
            rows: area.height,
            noise_bandwidth_hz: described.and_then(|l| match level.is_stored() {
                true => l.noise_bandwidth_hz,
                false => l.fine_noise_bandwidth_hz,
            }),
            max: max.collect(),
            now: now.collect(),
            mean: means.iter().map(|rows| mean(rows)).collect(),
            percentile: means.iter().map(|rows| percentile(rows, ask.percentile)).collect(),
        }))
    }
}

/// The finest level that stays within the number of points, and the area of it.
fn choose(
    grid: &Grid,
    (low_hz, high_hz): (f64, f64),
    (from_s, until_s): (f64, f64),
    points: usize,
) -> Option<(Level, Area)> {
    let levels = (-20..=40).flat_map(|frequency| (-40..=40).map(move |time| (frequency, time)));
    levels.map(|(frequency, time)| Level { frequency, time }).find_map(|level| {
        let edge_hz = grid.low_edge_hz(level.frequency);
        let (left, right) =
            span((low_hz - edge_hz, high_hz - edge_hz), grid.cell_at(level.frequency));
        let (top, bottom) = span((from_s, until_s), grid.row_at(level.time));
        let (width, height) = (right - left, bottom - top);
        let fits = width <= points as f64
            && height <= MOST_ROWS as f64
            && grid.affords(level, height as u64);
        fits.then(|| {
            let area = Area {
                level,
                left: left as i64,
                width: width as usize,
                top: top as i64,
                height: height as usize,
            };
            (level, area)
        })
    })
}

/// The whole pixels that cover a span: first, and one past the last.
fn span((from, until): (f64, f64), pixel: f64) -> (f64, f64) {
    let first = (from / pixel + 1e-9).floor().max(0.0);
    (first, (until / pixel - 1e-9).ceil().max(first + 1.0))
}

fn mean(rows: &[u8]) -> u8 {
    let filled: Vec<f32> = rows.iter().filter(|c| **c > 0).map(|c| power_from_code(*c)).collect();
    code_from_power(filled.iter().sum::<f32>() / filled.len().max(1) as f32)
}

/// The code that so many in a hundred of the rows do not exceed; rows with nothing do not count.
fn percentile(rows: &[u8], percent: f64) -> u8 {
    let mut filled: Vec<u8> = rows.iter().copied().filter(|code| *code > 0).collect();
    filled.sort_unstable();
    let rank = (percent / 100.0 * filled.len() as f64).ceil().max(1.0) as usize - 1;
    filled.get(rank.min(filled.len().saturating_sub(1))).copied().unwrap_or(0)
}
