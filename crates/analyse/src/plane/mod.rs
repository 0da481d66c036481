//! A recording as a plane of frequency and time, drawn at any zoom: from the overview down to its
//! base, below that from the samples at that place, of swept spectra from the sweeps themselves.
//!
//! A level has cells of a number of hertz (`frequency_level` f: 2^f cells of the overview, or under
//! 0 a transform 2^−f times as long) and rows of a number of seconds (`time_level` t: 2^t rows of
//! the overview). [`Plane::tiles`] gives pictures of [`TILE_CELLS`] × [`TILE_ROWS`] pixels,
//! [`Plane::picture`] one of the first rows, [`Plane::cut`] one spectrum over a stretch of time.

mod cut;
mod grid;
mod stored;
mod swept;
mod transformed;

pub use cut::{Cut, CutAsk};
pub use grid::{FrequencyLevel, Level};
pub use spectrum::Pixels;

use crate::part::{OwnedPart, starts_s};
use crate::{AnalyseError, AnalyseOptions};
use capture::Recording;
use grid::Grid;
use std::path::Path;
use stored::Stored;
use swept::Swept;
use transformed::Plans;
use units::{Samples, Utc};

/// Pixels of a tile along frequency.
pub const TILE_CELLS: usize = 256;
/// Pixels of a tile along time: few, since a transform costs the same for one cell as for all, and so
/// only rows beside the view are made in vain.
pub const TILE_ROWS: usize = 64;
/// Tiles along frequency that are made together.
const TOGETHER: u64 = 16;

/// Asked now and then while a picture is made; false when nobody waits for it any more.
pub type KeepGoing<'a> = &'a (dyn Fn() -> bool + Sync);

/// What a code of a picture is: code c from 1 on is `level_of_1 + (c − 1)·step_db`; 0 is nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// `dBFS` or `dBm`, per bin.
    pub unit: &'static str,
    /// Level of code 1.
    pub level_of_1: f64,
    /// From one code to the next, dB.
    pub step_db: f64,
}

impl Scale {
    /// Level of a code; none for nothing.
    pub fn level(&self, code: u8) -> Option<f64> {
        (code > 0).then(|| self.level_of_1 + f64::from(code - 1) * self.step_db)
    }
}

/// Where a stretch of the recording lies in the plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Centre frequency; offsets count from 0 where nobody states it.
    pub centre_hz: Option<f64>,
    /// Lower edge.
    pub low_hz: f64,
    /// Upper edge.
    pub high_hz: f64,
    /// Begins so many seconds after the recording.
    pub start_s: f64,
    /// Lasts.
    pub duration_s: f64,
}

/// A tile with its place.
#[derive(Debug, Clone)]
pub struct Tile {
    /// Number along frequency.
    pub column: u64,
    /// Number along time.
    pub row: u64,
    /// Its pixels.
    pub pixels: Pixels,
}

#[derive(Debug)]
enum Source {
    Samples { samples: OwnedPart, stored: Option<Stored>, plans: Plans },
    Swept(Swept),
}

/// A recording, open to be looked at.
#[derive(Debug)]
pub struct Plane {
    grid: Grid,
    source: Source,
    scale: Scale,
    stretches: Vec<Stretch>,
    start: Option<Utc>,
    range_db: (f64, f64),
}

impl Plane {
    /// Opens a recording whose overview, if it was made, lies in `overview`. Of the options, the
    /// part, the calibration and what is said over the file's metadata count.
    ///
    /// # Errors
    /// If it cannot be read, or is a log or sound, which have no spectrum.
    pub fn open(
        path: &Path,
        options: &AnalyseOptions,
        overview: Option<&Path>,
    ) -> Result<Plane, AnalyseError> {
        let opened = capture::open(path, &options.open)?;
        let mut plane = match opened.recording {
            Recording::Iq(iq) => Plane::of_samples(iq, options, overview)?,
            Recording::Traces(traces) => Plane::of_traces(traces, options)?,
            Recording::Events(_) | Recording::Sound(_) => {
                return Err(AnalyseError::Refused {
                    file: path.to_owned(),
                    what: "a log or a sound has no spectrum".to_owned(),
                    remedy: "Look at a recording of samples or of swept spectra.".to_owned(),
                });
            }
        };
        plane.range_db = plane.usual_range()?;
        Ok(plane)
    }

    fn of_samples(
        iq: capture::IqRecording,
        options: &AnalyseOptions,
        overview: Option<&Path>,
    ) -> Result<Plane, AnalyseError> {
        let bytes_per_sample = iq.bytes_per_sample();
        let samples = OwnedPart::new(iq, options.range_s);
        let stored = overview.filter(|folder| folder.exists()).map(Stored::open).transpose()?;
        let rate_hz = samples.sample_rate_hz();
        let starts = starts_s(&samples);
        let stretches: Vec<Stretch> = samples
            .segments()
            .iter()
            .zip(starts)
            .map(|(segment, start_s)| {
                let centre_hz = segment.centre_hz.unwrap_or(0.0);
                Stretch {
                    centre_hz: segment.centre_hz,
                    low_hz: centre_hz - rate_hz / 2.0,
                    high_hz: centre_hz + rate_hz / 2.0,
                    start_s,
                    duration_s: segment.samples as f64 / rate_hz,
                }
            })
            .collect();
        let longest = samples.segments().iter().map(|s| s.samples).max().unwrap_or(0);
        let grid =
            Grid::of_samples(rate_hz, bytes_per_sample, longest, &stretches, stored.as_ref());
        let calibration_db = options.full_scale.map(|full_scale| full_scale.0);
        let scale = Scale {
            unit: if calibration_db.is_some() { "dBm" } else { "dBFS" },
            level_of_1: spectrum::dbfs_from_code(1) + calibration_db.unwrap_or(0.0),
            step_db: spectrum::dbfs_from_code(2) - spectrum::dbfs_from_code(1),
        };
        let start = samples.segments().first().and_then(|segment| segment.start);
        let source = Source::Samples { samples, stored, plans: Plans::default() };
        Ok(Plane { grid, source, scale, stretches, start, range_db: (0.0, 0.0) })
    }

    fn of_traces(
        traces: capture::table::TraceFile,
        options: &AnalyseOptions,
    ) -> Result<Plane, AnalyseError> {
        let swept = Swept::read(traces, options.range_s)?;
        let grid = swept.grid();
        let stretch = Stretch {
            centre_hz: Some((grid.low_hz + grid.high_hz()) / 2.0),
            low_hz: grid.low_hz,
            high_hz: grid.high_hz(),
            start_s: 0.0,
            duration_s: grid.rows as f64 * grid.row_s,
        };
        let (scale, start) = (swept.scale(), swept.start);
        let source = Source::Swept(swept);
        Ok(Plane { grid, source, scale, stretches: vec![stretch], start, range_db: (0.0, 0.0) })
    }

    /// Lower and upper edge of all that was recorded, hertz.
    pub fn span_hz(&self) -> (f64, f64) {
        let low = self.stretches.iter().map(|s| s.low_hz).fold(f64::INFINITY, f64::min);
        let high = self.stretches.iter().map(|s| s.high_hz).fold(f64::NEG_INFINITY, f64::max);
        if low <= high { (low, high) } else { (0.0, 0.0) }
    }
    /// Seconds from the first to the last.
    pub fn duration_s(&self) -> f64 {
        self.stretches.iter().map(|s| s.start_s + s.duration_s).fold(0.0, f64::max)
    }
    /// Time of the first sample or sweep, where stated, by the recording's own clock.
    pub fn start(&self) -> Option<Utc> {
        self.start
    }
    /// Whether frequencies are absolute; else they are offsets from an unknown centre.
    pub fn centre_known(&self) -> bool {
        self.stretches.iter().all(|s| s.centre_hz.is_some())
    }
    /// What was recorded where.
    pub fn stretches(&self) -> &[Stretch] {
        &self.stretches
    }
    /// What a code is.
    pub fn scale(&self) -> Scale {
        self.scale
    }
    /// Levels between which all that is usual here lies: for a scale of colours.
    pub fn range_db(&self) -> (f64, f64) {
        self.range_db
    }
    /// Seconds of a row at time level 0.
    pub fn row_s(&self) -> f64 {
        self.grid.row_s
    }
    /// Samples a second; none of swept spectra.
    pub fn sample_rate_hz(&self) -> Option<f64> {
        match &self.source {
            Source::Samples { samples, .. } => Some(samples.sample_rate_hz()),
            Source::Swept(_) => None,
        }
    }
    /// The levels that there are.
    pub fn levels(&self) -> Vec<FrequencyLevel> {
        self.grid.levels()
    }

    /// The tile at `column`, `row` of a level, and those beside it that cost nothing more. None
    /// where there is no such level or tile.
    ///
    /// # Errors
    /// If samples or overview cannot be read, or nobody waits any more.
    pub fn tiles(
        &self,
        level: Level,
        column: u64,
        row: u64,
        keep_going: KeepGoing<'_>,
    ) -> Result<Option<Vec<Tile>>, AnalyseError> {
        let (columns, rows) = self.grid.tiles(level);
        if !self.grid.has(level) || column >= columns || row >= rows {
            return Ok(None);
        }
        let first = column / TOGETHER * TOGETHER;
        let end = (first + TOGETHER).min(columns);
        let area = Area {
            level,
            left: (first * TILE_CELLS as u64) as i64,
            width: (end - first) as usize * TILE_CELLS,
            top: (row * TILE_ROWS as u64) as i64,
            height: TILE_ROWS,
        };
        let pixels = self.area(area, keep_going)?;
        let cut = |column: u64| {
            let pixels = pixels.part((column - first) as usize * TILE_CELLS, TILE_CELLS);
            Tile { column, row, pixels }
        };
        Ok(Some((first..end).map(cut).collect()))
    }

    /// The first rows of a level, from cell `left` on, `width` wide. None where there is no such level,
    /// or so many rows would cost more than a picture may.
    ///
    /// # Errors
    /// If samples or overview cannot be read, or nobody waits any more.
    pub fn picture(
        &self,
        level: Level,
        (left, width): (u64, usize),
        rows: usize,
        keep_going: KeepGoing<'_>,
    ) -> Result<Option<Pixels>, AnalyseError> {
        if !(self.grid.has(level) && self.grid.affords(level, rows as u64)) {
            return Ok(None);
        }
        let area = Area { level, left: left as i64, width, top: 0, height: rows };
        self.area(area, keep_going).map(Some)
    }

    fn area(&self, area: Area, keep_going: KeepGoing<'_>) -> Result<Pixels, AnalyseError> {
        match &self.source {
            Source::Swept(swept) => Ok(swept.area(&self.grid, area)),
            Source::Samples { samples, stored, plans } => match stored {
                Some(stored) if area.level.is_stored() => {
                    stored.area(&self.grid, &self.stretches, area, keep_going)
                }
                _ => {
                    let (grid, stretches) = (&self.grid, &self.stretches);
                    transformed::area(samples, plans, grid, stretches, area, keep_going)
                }
            },
        }
    }

    /// From under the noise to over the loudest, of the coarsest picture of all.
    fn usual_range(&self) -> Result<(f64, f64), AnalyseError> {
        /// Of the mean levels, so many lie under the lower end.
        const QUIETEST: f64 = 0.05;
        /// Looked at along each side.
        const MOST_PIXELS: usize = 1024;
        let mut means = [0u64; 256];
        let mut loudest = 1;
        if let Some(level) = self.grid.coarsest() {
            let (columns, rows) = self.grid.tiles(level);
            let area = Area {
                level,
                left: 0,
                width: (columns as usize * TILE_CELLS).min(MOST_PIXELS),
                top: 0,
                height: (rows as usize * TILE_ROWS).min(MOST_PIXELS),
            };
            let pixels = self.area(area, &|| true)?;
            pixels.mean.iter().for_each(|&code| means[usize::from(code)] += 1);
            loudest = pixels.max.iter().copied().max().unwrap_or(1).max(1);
        }
        let all: u64 = means[1..].iter().sum();
        let mut under = 0;
        let quiet = (1u8..=255).find(|&code| {
            under += means[usize::from(code)];
            under as f64 > QUIETEST * all as f64
        });
        let level = |code: u8| self.scale.level_of_1 + f64::from(code - 1) * self.scale.step_db;
        let low = level(quiet.unwrap_or(1)) - 3.0;
        Ok((low, level(loudest).max(low + 30.0)))
    }
}

/// A part of a level, in pixels.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Area {
    pub(crate) level: Level,
    pub(crate) left: i64,
    pub(crate) width: usize,
    pub(crate) top: i64,
    pub(crate) height: usize,
}
