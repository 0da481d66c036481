//! Swept spectra in a table, streamed: rows become sweeps, one sweep in memory at a time.

use super::mapping::{Column, Mapping, Shape};
use super::named::{Units, named};
use super::point::Points;
use super::rows::{Row, Rows};
use super::segment::{FIRST_LEVEL, FREQUENCIES, Segments};
use super::sheet::{Beginning, Sheet};
use super::sweep::Sweeps;
use super::timeline::{Moment, Timeline, last_row_cut};
use super::unit::{level_name, level_unit};
use crate::{CaptureError, OpenOptions, Opened, Place, Recording};
use std::fmt;
use std::sync::Arc;
use units::{LevelUnit, ReadError, Reason, Trace, Traces};

/// The most frequencies of one sweep.
pub(super) const MOST_POINTS: usize = 1 << 22;

/// Swept spectra in a table, read one after the other.
pub struct TraceFile {
    plan: Arc<Plan>,
    state: Box<State>,
}

/// How a table of traces is read.
struct Plan {
    sheet: Sheet,
    shape: Shape,
    unit: LevelUnit,
    /// As they are before the first row.
    times: Timeline,
    assembler: Assembler,
}

/// How far it has been read.
struct State {
    times: Timeline,
    assembler: Assembler,
    rows: Rows,
    rows_read: u64,
    cut_line: Option<u64>,
    is_over: bool,
}

/// Makes sweeps of rows.
#[derive(Clone)]
pub(super) enum Assembler {
    Sweep(Sweeps),
    Segment(Segments),
    Point(Points),
}

/// A sweep, put together.
pub(super) struct Sweep {
    pub(super) first: Moment,
    /// When its last row was, seconds from the recording's first.
    pub(super) last_s: f64,
    pub(super) frequencies_hz: Arc<[f64]>,
    pub(super) levels_db: Vec<f32>,
}

impl Assembler {
    /// Takes a row; gives the sweep that it completes.
    fn push(
        &mut self,
        sheet: &Sheet,
        row: &Row<'_>,
        moment: Moment,
        unit: LevelUnit,
    ) -> Result<Option<Sweep>, CaptureError> {
        match self {
            Assembler::Sweep(sweeps) => sweeps.push(sheet, row, moment, unit).map(Some),
            Assembler::Segment(segments) => segments.push(sheet, row, moment, unit),
            Assembler::Point(points) => points.push(sheet, row, moment, unit),
        }
    }
    /// Gives the last sweep.
    fn finish(&mut self) -> Option<Sweep> {
        match self {
            Assembler::Sweep(_) => None,
            Assembler::Segment(segments) => segments.finish(),
            Assembler::Point(points) => points.finish(),
        }
    }
}

impl TraceFile {
    fn new(plan: Arc<Plan>) -> Self {
        let state = State {
            times: plan.times.clone(),
            assembler: plan.assembler.clone(),
            rows: plan.sheet.rows(),
            rows_read: 0,
            cut_line: None,
            is_over: false,
        };
        TraceFile { plan, state: Box::new(state) }
    }

    /// How they lie in the table.
    pub fn shape(&self) -> Shape {
        self.plan.shape
    }

    /// The same from the first trace on, for a second reading.
    pub fn reopen(&self) -> TraceFile {
        TraceFile::new(self.plan.clone())
    }

    fn next(&mut self) -> Result<Option<Trace>, CaptureError> {
        let Plan { sheet, unit, .. } = &*self.plan;
        let State { times, assembler, rows, rows_read, cut_line, is_over } = &mut *self.state;
        while !*is_over {
            let Some(row) = rows.next()? else {
                *is_over = true;
                break;
            };
            let read =
                times.read(sheet, &row).and_then(|at| assembler.push(sheet, &row, at, *unit));
            match read {
                Ok(sweep) => {
                    *rows_read += 1;
                    if let Some(sweep) = sweep {
                        return Ok(Some(trace(sweep)));
                    }
                }
                Err(_) if row.cut && *rows_read > 0 => {
                    *cut_line = Some(row.line);
                    *is_over = true;
                }
                Err(e) => return Err(e),
            }
        }
        Ok(assembler.finish().map(trace))
    }
}

fn trace(sweep: Sweep) -> Trace {
    let took_s = sweep.last_s - sweep.first.from_first_s;
    Trace {
        start: sweep.first.at,
        start_s: sweep.first.from_first_s,
        sweep_s: (took_s > 0.0).then_some(took_s),
        frequencies_hz: sweep.frequencies_hz,
        levels_db: sweep.levels_db,
    }
}

impl Traces for TraceFile {
    fn unit(&self) -> LevelUnit {
        self.plan.unit
    }
    fn next_trace(&mut self) -> Result<Option<Trace>, ReadError> {
        Ok(self.next()?)
    }
}

impl fmt::Debug for TraceFile {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Plan { sheet, shape, unit, .. } = &*self.plan;
        let (shape, unit) = (shape.name(), level_name(*unit));
        write!(f, "traces ({shape}, {unit}) of {}", sheet.file.display())
    }
}

/// Opens a table of traces and reads it once through: what is wrong in it is said now.
pub(super) fn open(
    sheet: Sheet,
    beginning: &Beginning,
    mapping: &Mapping,
    shape: Shape,
    options: &OpenOptions,
) -> Result<Opened, CaptureError> {
    let words = Units::new(&sheet, beginning);
    let unit = mapping.level.as_ref().and_then(|l| l.1);
    let (times, assembler, unit) = match shape {
        Shape::Sweep => {
            let (sweeps, times) = Sweeps::new(&sheet, mapping, &words)?;
            let levels = sweeps.first..usize::MAX;
            (times, Assembler::Sweep(sweeps), unit.or_else(|| words.level_of(levels)))
        }
        Shape::Segment => {
            let factor = words.frequency_in(&sheet, mapping, None, FREQUENCIES)?;
            let mut times = mapping.clone();
            times.date.get_or_insert((Column::Placed, None));
            times.time.get_or_insert((Column::Placed, None));
            let unit = unit.or_else(|| words.level_of(FIRST_LEVEL..usize::MAX));
            (times, Assembler::Segment(Segments::new(factor)), unit)
        }
        Shape::Point => {
            let points = Points::new(&sheet, mapping, &words)?;
            let column = unit.or(named(sheet.name(points.level), level_unit));
            let column = column.or_else(|| words.level_of(points.level..points.level + 1));
            let mut times = mapping.clone();
            if times.date.is_none() && matches!(mapping.frequency, Some((Column::Placed, _)) | None)
            {
                times.time.get_or_insert((Column::Placed, None));
            }
            (times, Assembler::Point(points), column)
        }
    };
    let Some(unit) = unit else {
        return Err(CaptureError::refused(
            &sheet.file,
            Place::Whole,
            "nothing names the unit of its levels",
            "dBm, dBFS or dBuV",
            "Say it in the mapping: level=:dBm (or level=COLUMN:dBm).",
        ));
    };
    let times = Timeline::new(&sheet, &times, options)?;
    survey(TraceFile::new(Arc::new(Plan { sheet, shape, unit, times, assembler })))
}

/// Reads all of it for what `Opened` says.
fn survey(mut file: TraceFile) -> Result<Opened, CaptureError> {
    let (mut start, mut duration_s, mut traces) = (None, 0f64, 0u64);
    while let Some(trace) = file.next()? {
        start = if traces == 0 { trace.start } else { start };
        duration_s = duration_s.max(trace.start_s + trace.sweep_s.unwrap_or(0.0));
        traces += 1;
    }
    let Plan { sheet, shape, .. } = &*file.plan;
    if traces == 0 {
        return Err(CaptureError::refused(
            &sheet.file,
            Place::Whole,
            "it holds a header and no sweep",
            "at least one",
            "The recorder stopped before it wrote any: look for another copy.",
        ));
    }
    let times = &file.state.times;
    let mut warnings: Vec<Reason> = times.warnings();
    warnings.extend(times.fall_warning());
    warnings.extend(times.unstated_warning());
    warnings.extend(file.state.cut_line.map(last_row_cut));
    Ok(Opened {
        files: vec![sheet.file.clone()],
        data_file: sheet.file.clone(),
        format: format!("trace {}", shape.name()),
        duration_s,
        start,
        claims: Vec::new(),
        warnings,
        recording: Recording::Traces(file.reopen()),
    })
}

/// The frequencies, shared with the sweep before where they are the same.
pub(super) fn share(shared: &mut Option<Arc<[f64]>>, frequencies_hz: &[f64]) -> Arc<[f64]> {
    match shared {
        Some(before) if **before == *frequencies_hz => before.clone(),
        _ => {
            let new: Arc<[f64]> = frequencies_hz.into();
            *shared = Some(new.clone());
            new
        }
    }
}
