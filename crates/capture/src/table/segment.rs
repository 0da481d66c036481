//! The shape *segment*: date, time, low, high, step, count, then levels at low, low + step, …: a
//! row is a part of a sweep. Rows that do not overlap belong to one sweep, in whatever order.

use super::figure::{hertz, level};
use super::rows::Row;
use super::sheet::Sheet;
use super::timeline::Moment;
use super::traces::{MOST_POINTS, Sweep, share};
use super::words::number;
use crate::CaptureError;
use crate::limits::is_frequency;
use std::ops::Range;
use std::sync::Arc;
use units::LevelUnit;

const LOW: usize = 2;
const HIGH: usize = 3;
const STEP: usize = 4;
const COUNT: usize = 5;
pub(super) const FIRST_LEVEL: usize = 6;
/// The columns that hold frequencies.
pub(super) const FREQUENCIES: Range<usize> = LOW..COUNT;
const MEND: &str = "Correct the line, or take it out.";

/// Puts sweeps together from parts.
#[derive(Clone)]
pub(super) struct Segments {
    /// Hertz of one unit of the table's frequencies; `None` where each cell has its own.
    factor: Option<f64>,
    /// Parts of the sweep so far, by their low edge.
    parts: Vec<Part>,
    /// The levels of all parts.
    levels_db: Vec<f32>,
    first: Option<Moment>,
    last_s: f64,
    shared: Option<Arc<[f64]>>,
}

/// A row's part of the sweep.
#[derive(Debug, Clone, Copy)]
struct Part {
    low_hz: f64,
    high_hz: f64,
    step_hz: f64,
    /// Its levels in `levels_db`.
    from: usize,
    count: usize,
}

impl Segments {
    pub(super) fn new(factor: Option<f64>) -> Self {
        let (parts, levels_db) = (Vec::new(), Vec::new());
        Segments { factor, parts, levels_db, first: None, last_s: 0.0, shared: None }
    }

    pub(super) fn push(
        &mut self,
        sheet: &Sheet,
        row: &Row<'_>,
        moment: Moment,
        unit: LevelUnit,
    ) -> Result<Option<Sweep>, CaptureError> {
        let mut part = self.part(sheet, row)?;
        let at = self.parts.partition_point(|p| p.low_hz < part.low_hz);
        // Edges that only touch, by rounding, are no overlap.
        let overlap = |a: &Part, b: &Part| a.high_hz - b.low_hz > 0.5 * a.step_hz.min(b.step_hz);
        let below = at.checked_sub(1).and_then(|i| self.parts.get(i));
        let over = below.is_some_and(|p| overlap(p, &part))
            || self.parts.get(at).is_some_and(|p| overlap(&part, p) || p.low_hz == part.low_hz);
        let done = if over { self.finish() } else { None };
        let at = if over { 0 } else { at };
        part.from = self.levels_db.len();
        for index in FIRST_LEVEL..FIRST_LEVEL + part.count {
            self.levels_db.push(level(sheet, row, index, unit, MEND)?);
        }
        if self.levels_db.len() > MOST_POINTS {
            return Err(sheet.wrong_row(
                row.line,
                format!("the sweep has more than {MOST_POINTS} levels by here"),
                "a row that begins the next sweep",
                "Split the file.",
            ));
        }
        self.parts.insert(at, part);
        self.first.get_or_insert(moment);
        self.last_s = moment.from_first_s.max(if over { f64::MIN } else { self.last_s });
        Ok(done)
    }

    /// Where a row lies in frequency, and how many levels it has.
    fn part(&self, sheet: &Sheet, row: &Row<'_>) -> Result<Part, CaptureError> {
        if row.filled() <= FIRST_LEVEL {
            return Err(sheet.wrong_row(
                row.line,
                format!("the row has {} fields", row.filled()),
                "date, time, low, high, step, count and then levels",
                "If the line is no row of the table (a title, a sum), take it out; else mend it.",
            ));
        }
        let decimal = sheet.layout.decimal;
        let hertz = |index: usize, what: &str| {
            hertz(row.get(index), decimal, self.factor)
                .filter(|hz| *hz >= 0.0 && is_frequency(*hz))
                .ok_or_else(|| sheet.wrong(row, index, what, MEND))
        };
        let (low_hz, high_hz) = (hertz(LOW, "the low edge")?, hertz(HIGH, "the high edge")?);
        let step_hz = hertz(STEP, "the step")?;
        number(row.get(COUNT), decimal).ok_or_else(|| sheet.wrong(row, COUNT, "a count", MEND))?;
        if high_hz <= low_hz {
            let expected = format!("a high edge above the low one, {low_hz} Hz");
            return Err(sheet.wrong(row, HIGH, expected, MEND));
        }
        if step_hz <= 0.0 {
            return Err(sheet.wrong(row, STEP, "a step above 0", MEND));
        }
        // Levels at low, low + step, …: up to the high edge, which may have one of its own.
        let steps = (high_hz - low_hz) / step_hz;
        let count = row.filled() - FIRST_LEVEL;
        if (count as f64) < steps - 0.5 || count as f64 > steps + 1.5 {
            return Err(sheet.wrong_row(
                row.line,
                format!("the row has {count} levels"),
                format!("{:.0} from {low_hz} to {high_hz} Hz by {step_hz} Hz", steps.max(1.0)),
                MEND,
            ));
        }
        Ok(Part { low_hz, high_hz, step_hz, from: 0, count })
    }

    /// The sweep so far; a level that the next part states for itself is taken from there.
    pub(super) fn finish(&mut self) -> Option<Sweep> {
        let first = self.first.take()?;
        let mut frequencies_hz = Vec::with_capacity(self.levels_db.len());
        let mut levels_db = Vec::with_capacity(self.levels_db.len());
        for (i, part) in self.parts.iter().enumerate() {
            let next_hz = self.parts.get(i + 1).map_or(f64::INFINITY, |next| next.low_hz);
            for k in 0..part.count {
                let hz = part.low_hz + k as f64 * part.step_hz;
                if hz > next_hz - 0.5 * part.step_hz {
                    break;
                }
                frequencies_hz.push(hz);
                levels_db.push(self.levels_db.get(part.from + k).copied().unwrap_or(f32::NAN));
            }
        }
        self.parts.clear();
        self.levels_db.clear();
        let frequencies_hz = share(&mut self.shared, &frequencies_hz);
        Some(Sweep { first, last_s: self.last_s, frequencies_hz, levels_db })
    }
}
