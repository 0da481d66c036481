//! The shape *point*: time, frequency, level. Frequencies of one sweep rise; it ends where they
//! fall back, or where the time changes and the frequency leaps.

use super::figure::{hertz, level};
use super::mapping::{Column, Mapping};
use super::named::{Units, named};
use super::rows::Row;
use super::sheet::Sheet;
use super::timeline::Moment;
use super::traces::{MOST_POINTS, Sweep, share};
use super::unit::FrequencyUnit;
use crate::CaptureError;
use crate::limits::{A_FREQUENCY, is_frequency};
use std::sync::Arc;
use units::LevelUnit;

/// A step this many times the largest so far is a leap, if the time changes with it.
const LEAP: f64 = 1.5;

/// Puts sweeps together from points.
#[derive(Clone)]
pub(super) struct Points {
    frequency: usize,
    pub(super) level: usize,
    /// Hertz of one unit; `None` where each cell has its own.
    factor: Option<f64>,
    frequencies_hz: Vec<f64>,
    levels_db: Vec<f32>,
    first: Option<Moment>,
    last: Option<Moment>,
    /// Whether the last two points have one stamp.
    stamp_is_shared: bool,
    largest_step_hz: f64,
    shared: Option<Arc<[f64]>>,
}

impl Points {
    pub(super) fn new(
        sheet: &Sheet,
        mapping: &Mapping,
        units: &Units<'_>,
    ) -> Result<Self, CaptureError> {
        let column = |said: Option<&Column>| said.cloned().unwrap_or(Column::Placed);
        let frequency = column(mapping.frequency.as_ref().map(|f| &f.0));
        let level = column(mapping.level.as_ref().map(|l| &l.0));
        let frequency = sheet.index("frequency", &frequency, 1)?;
        let level = sheet.index("level", &level, 2)?;
        let unit = named(sheet.name(frequency), FrequencyUnit::from_word);
        Ok(Points {
            frequency,
            level,
            factor: units.frequency_in(sheet, mapping, unit, frequency..frequency + 1)?,
            frequencies_hz: Vec::new(),
            levels_db: Vec::new(),
            first: None,
            last: None,
            stamp_is_shared: false,
            largest_step_hz: 0.0,
            shared: None,
        })
    }

    pub(super) fn push(
        &mut self,
        sheet: &Sheet,
        row: &Row<'_>,
        moment: Moment,
        unit: LevelUnit,
    ) -> Result<Option<Sweep>, CaptureError> {
        sheet.check_width(row, self.frequency.max(self.level) + 1)?;
        let mend = "Correct the line, or take it out.";
        let decimal = sheet.layout.decimal;
        let hz = hertz(row.get(self.frequency), decimal, self.factor)
            .filter(|hz| *hz >= 0.0 && is_frequency(*hz))
            .ok_or_else(|| sheet.wrong(row, self.frequency, A_FREQUENCY, mend))?;
        let level = level(sheet, row, self.level, unit, mend)?;
        let done = if self.begins_anew(sheet, row, hz, moment)? { self.finish() } else { None };
        if self.levels_db.len() >= MOST_POINTS {
            return Err(sheet.wrong_row(
                row.line,
                format!("the sweep has {MOST_POINTS} points by here"),
                "a frequency that begins the next sweep",
                "Split the file.",
            ));
        }
        if let Some(before) = self.frequencies_hz.last() {
            self.largest_step_hz = self.largest_step_hz.max(hz - before);
        }
        self.stamp_is_shared = self.last.is_some_and(|last| last.stamp == moment.stamp);
        self.frequencies_hz.push(hz);
        self.levels_db.push(level);
        self.first.get_or_insert(moment);
        self.last = Some(moment);
        Ok(done)
    }

    /// Whether a point is the first of another sweep.
    fn begins_anew(
        &self,
        sheet: &Sheet,
        row: &Row<'_>,
        hz: f64,
        moment: Moment,
    ) -> Result<bool, CaptureError> {
        let (Some(first), Some(before), Some(last)) =
            (self.frequencies_hz.first(), self.frequencies_hz.last(), self.last)
        else {
            return Ok(false);
        };
        let later = last.stamp != moment.stamp;
        if hz > *before {
            let leaps = self.largest_step_hz > 0.0 && hz - before > LEAP * self.largest_step_hz;
            return Ok(later && self.stamp_is_shared && leaps);
        }
        if later || hz <= *first {
            return Ok(true);
        }
        Err(sheet.wrong(
            row,
            self.frequency,
            format!("a frequency above the one before, {before} Hz, or a new sweep from {first} Hz on"),
            "Put the rows of each sweep in order of frequency, or map the column that tells sweeps apart as \
             time.",
        ))
    }

    /// The sweep so far.
    pub(super) fn finish(&mut self) -> Option<Sweep> {
        let first = self.first.take()?;
        let last_s = self.last.take().map_or(first.from_first_s, |last| last.from_first_s);
        let frequencies_hz = share(&mut self.shared, &self.frequencies_hz);
        self.frequencies_hz.clear();
        (self.largest_step_hz, self.stamp_is_shared) = (0.0, false);
        let levels_db = std::mem::take(&mut self.levels_db);
        self.levels_db.reserve(levels_db.len().min(MOST_POINTS));
        Some(Sweep { first, last_s, frequencies_hz, levels_db })
    }
}
