//! Pictures out of swept spectra: the sweeps themselves, put into rows of equal time and cells of
//! equal width, held in memory at a bounded size.

use super::grid::Grid;
use super::{Area, Scale};
use crate::AnalyseError;
use crate::part::PartOfTraces;
use capture::table::TraceFile;
use spectrum::{OverviewRow, Picture, Pixels, code_from_power, dbfs_from_code};
use units::{LevelUnit, Trace, Traces, Utc, ratio_from_db};

/// Most cells along frequency.
const MOST_CELLS: f64 = 16384.0;
/// Most pixels held, twice.
const MOST_PIXELS: f64 = 32e6;
/// Level in dBm that the codes' full scale stands for: codes reach from −145 to +13.75 dBm.
const FULL_SCALE_DBM: f64 = 10.0;
/// dBµV into 50 ohm = dBm + this: 10 log10(50 Ω × 1 mW/1 µV²).
const DBUV_OF_DBM: f64 = 106.9897;
/// A sweep holds until the next, but over no longer gap than this many rows.
const HOLDS: u64 = 3;

/// Sweeps as a picture.
#[derive(Debug)]
pub(crate) struct Swept {
    unit: LevelUnit,
    pub(crate) start: Option<Utc>,
    shape: Shape,
    rows: u64,
    max: Vec<u8>,
    mean: Vec<u8>,
}

/// What a first reading tells.
#[derive(Debug, Clone, Copy)]
struct Shape {
    low_hz: f64,
    cell_hz: f64,
    cells: usize,
    row_s: f64,
    /// Without times, one sweep follows the other a row later.
    timed: bool,
}

impl Swept {
    /// Reads all sweeps, twice.
    pub(crate) fn read(
        mut traces: TraceFile,
        range_s: Option<(f64, f64)>,
    ) -> Result<Swept, AnalyseError> {
        let mut again = traces.reopen();
        let (mut part, mut part_again);
        let (first, second): (&mut dyn Traces, &mut dyn Traces) = match range_s {
            None => (&mut traces, &mut again),
            Some(range_s) => {
                part = PartOfTraces::new(&mut traces, range_s);
                part_again = PartOfTraces::new(&mut again, range_s);
                (&mut part, &mut part_again)
            }
        };
        let (shape, start) = shape_of(first)?;
        let mut swept =
            Swept { unit: second.unit(), start, shape, rows: 0, max: Vec::new(), mean: Vec::new() };
        let mut line = Line::new(shape.cells);
        let mut number = 0;
        while let Some(trace) = second.next_trace()? {
            let at = if shape.timed { trace.start_s / shape.row_s } else { number as f64 };
            let row = (at + 1e-6).floor().max(0.0) as u64;
            if row != line.row {
                swept.lay(&mut line, row);
            }
            line.add(&trace, &shape, swept.full_scale());
            number += 1;
        }
        let after = line.row + 1;
        swept.lay(&mut line, after);
        Ok(swept)
    }

    /// Level that the codes' full scale stands for, in the unit of the file.
    fn full_scale(&self) -> f64 {
        match self.unit {
            LevelUnit::Dbm => FULL_SCALE_DBM,
            LevelUnit::Dbuv => FULL_SCALE_DBM + DBUV_OF_DBM,
            LevelUnit::Dbfs => 0.0,
        }
    }

    /// Puts a finished line into its row, and those up to the next, which begins at row `next`.
    fn lay(&mut self, line: &mut Line, next: u64) {
        let cells = self.shape.cells;
        let held = if next > line.row { (next - line.row).min(HOLDS) } else { 1 };
        if line.is_filled {
            self.rows = self.rows.max(line.row + held);
            self.max.resize(self.rows as usize * cells, 0);
            self.mean.resize(self.rows as usize * cells, 0);
            for row in line.row..line.row + held {
                let at = row as usize * cells;
                for (i, (power, count)) in line.sum.iter().zip(&line.count).enumerate() {
                    let mean = code_from_power(power / (*count).max(1) as f32);
                    let (max, means) = (&mut self.max[at + i], &mut self.mean[at + i]);
                    *max = (*max).max(code_from_power(line.max[i]));
                    *means = (*means).max(mean);
                }
            }
        }
        *line = Line::new(cells);
        line.row = next;
    }

    pub(crate) fn grid(&self) -> Grid {
        Grid {
            low_hz: self.shape.low_hz,
            cell_hz: self.shape.cell_hz,
            cells: self.shape.cells as u64,
            row_s: self.shape.row_s,
            rows: self.rows.max(1),
            transform: None,
            stored: true,
        }
    }

    pub(crate) fn scale(&self) -> Scale {
        let (unit, full_scale) = match self.unit {
            LevelUnit::Dbfs => ("dBFS", 0.0),
            LevelUnit::Dbm | LevelUnit::Dbuv => ("dBm", FULL_SCALE_DBM),
        };
        Scale {
            unit,
            level_of_1: dbfs_from_code(1) + full_scale,
            step_db: dbfs_from_code(2) - dbfs_from_code(1),
        }
    }

    pub(crate) fn area(&self, grid: &Grid, area: Area) -> Pixels {
        let Area { level, left, width, top, height } = area;
        let mut picture = Picture::new(width, height);
        let cells = self.shape.cells;
        for y in 0..height as i64 {
            let begin = ((top + y) << level.time).clamp(0, self.rows as i64) as usize;
            let end = ((top + y + 1) << level.time).clamp(0, self.rows as i64) as usize;
            for row in begin..end {
                let line = row * cells..(row + 1) * cells;
                let codes = OverviewRow {
                    row: row as u64,
                    max: &self.max[line.clone()],
                    mean: &self.mean[line],
                };
                picture.put(y as usize, &codes, 0, level.frequency as u32, left);
            }
        }
        debug_assert_eq!(grid.cells as usize, cells);
        picture.finish()
    }
}

/// A row being made of the sweeps that begin in it.
struct Line {
    row: u64,
    is_filled: bool,
    max: Vec<f32>,
    sum: Vec<f32>,
    count: Vec<u32>,
}

impl Line {
    fn new(cells: usize) -> Self {
        Line {
            row: 0,
            is_filled: false,
            max: vec![0.0; cells],
            sum: vec![0.0; cells],
            count: vec![0; cells],
        }
    }

    /// Each level of a sweep reaches half-way to its neighbours.
    fn add(&mut self, trace: &Trace, shape: &Shape, full_scale: f64) {
        self.is_filled = true;
        let hz = &trace.frequencies_hz;
        for (i, level) in trace.levels_db.iter().enumerate().filter(|(_, level)| !level.is_nan()) {
            let below = (i > 0).then(|| hz[i] - hz[i - 1]);
            let above = hz.get(i + 1).map(|next| next - hz[i]);
            let alone = shape.cell_hz;
            let (down, up) =
                (below.or(above).unwrap_or(alone) / 2.0, above.or(below).unwrap_or(alone) / 2.0);
            let cell = |hz: f64| (hz - shape.low_hz) / shape.cell_hz + 0.5;
            let last = shape.cells - 1;
            let begin = (cell(hz[i] - down) - 1e-6).ceil().max(0.0) as usize;
            let end = (cell(hz[i] + up) - 1e-6).ceil().max(0.0) as usize;
            // A level that is nobody's whole cell still lights the one that it lies in.
            let begin = if end > begin { begin } else { cell(hz[i]).max(0.0) as usize };
            let power = ratio_from_db(f64::from(*level) - full_scale) as f32;
            for cell in begin.min(last)..end.max(begin + 1).min(last + 1) {
                self.max[cell] = self.max[cell].max(power);
                self.sum[cell] += power;
                self.count[cell] += 1;
            }
        }
    }
}

/// The first reading: span, spacing, interval.
fn shape_of(traces: &mut dyn Traces) -> Result<(Shape, Option<Utc>), AnalyseError> {
    /// Intervals that are remembered for their median.
    const INTERVALS: usize = 4096;
    let (mut low_hz, mut high_hz) = (f64::INFINITY, f64::NEG_INFINITY);
    let mut cell_hz = f64::INFINITY;
    let (mut last_s, mut number) = (0.0, 0u64);
    let mut intervals = Vec::new();
    let (mut start, mut sweep_s) = (None, None);
    let mut seen: Option<std::sync::Arc<[f64]>> = None;
    while let Some(trace) = traces.next_trace()? {
        let hz = &trace.frequencies_hz;
        if let (Some(first), Some(last)) = (hz.first(), hz.last())
            && seen.as_ref().is_none_or(|seen| !std::sync::Arc::ptr_eq(seen, hz))
        {
            low_hz = low_hz.min(*first);
            high_hz = high_hz.max(*last);
            let mut steps: Vec<f64> = hz.windows(2).map(|pair| pair[1] - pair[0]).collect();
            cell_hz = cell_hz.min(median(&mut steps).unwrap_or(f64::INFINITY));
            seen = Some(hz.clone());
        }
        if number == 0 {
            (start, sweep_s) = (trace.start, trace.sweep_s);
        } else if trace.start_s > last_s && intervals.len() < INTERVALS {
            intervals.push(trace.start_s - last_s);
        }
        last_s = trace.start_s.max(last_s);
        number += 1;
    }
    if !low_hz.is_finite() {
        (low_hz, high_hz) = (0.0, 0.0);
    }
    if !cell_hz.is_finite() {
        cell_hz = 1.0;
    }
    let span_hz = high_hz - low_hz;
    let cell_hz = cell_hz.max(span_hz / (MOST_CELLS - 1.0));
    let cells = (span_hz / cell_hz).round() as usize + 1;
    let timed = !intervals.is_empty();
    let each_s = median(&mut intervals).or(sweep_s).filter(|s| *s > 0.0).unwrap_or(1.0);
    let rows = if timed { last_s / each_s + 1.0 } else { number as f64 };
    let row_s = each_s * (rows * cells as f64 / MOST_PIXELS).max(1.0).ceil();
    Ok((Shape { low_hz, cell_hz, cells, row_s, timed }, start))
}

fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}
