//! The shape *sweep*: a header of frequencies after the time, then a sweep a row.

use super::figure::level;
use super::mapping::{Column, Mapping};
use super::named::Units;
use super::rows::Row;
use super::sheet::{Sheet, begins_like_a_number, short};
use super::timeline::Moment;
use super::traces::Sweep;
use super::unit::FrequencyUnit;
use super::words::{number, number_and_unit};
use crate::limits::{A_FREQUENCY, is_frequency};
use crate::{CaptureError, Place};
use std::sync::Arc;
use units::LevelUnit;

/// Reads a row as a sweep.
#[derive(Clone)]
pub(super) struct Sweeps {
    /// Column of the first level.
    pub(super) first: usize,
    frequencies_hz: Arc<[f64]>,
}

impl Sweeps {
    /// Reads the header; gives also where the times are.
    pub(super) fn new(
        sheet: &Sheet,
        mapping: &Mapping,
        units: &Units<'_>,
    ) -> Result<(Self, Mapping), CaptureError> {
        let header = sheet.header.as_deref().unwrap_or(&[]);
        let mut times = mapping.clone();
        let untimed = times.time.is_none() && times.date.is_none();
        if untimed && !begins_like_a_number(sheet.name(0).as_bytes()) {
            times.time = Some((Column::Placed, None));
        }
        let mut first = 0;
        for (key, said, placed) in
            [("date", &times.date, 0), ("time", &times.time, usize::from(times.date.is_some()))]
        {
            if let Some((column, _)) = said {
                first = first.max(sheet.index(key, column, placed)? + 1);
            }
        }
        while first < header.len() && !begins_like_a_number(sheet.name(first).as_bytes()) {
            first += 1;
        }
        let end = header.iter().rposition(|name| !name.is_empty()).map_or(0, |i| i + 1);
        let mut frequencies_hz = Vec::with_capacity(end.saturating_sub(first));
        for (index, name) in header.iter().enumerate().take(end).skip(first) {
            let hz = frequency(sheet, mapping, units, name)?;
            let wrong = |expected: String| {
                let place = Place::LineField(1, format!("column {}", index + 1));
                let found = format!("the header says '{}'", short(name.as_bytes()));
                let remedy = "Mend the header, or say another shape.";
                Err(CaptureError::refused(&sheet.file, place, found, expected, remedy))
            };
            match (hz.filter(|hz| is_frequency(*hz)), frequencies_hz.last()) {
                (None, _) => return wrong(A_FREQUENCY.to_owned()),
                (Some(hz), Some(before)) if hz <= *before => {
                    return wrong(format!("a frequency above the one before, {before} Hz"));
                }
                (Some(hz), _) => frequencies_hz.push(hz),
            }
        }
        if frequencies_hz.is_empty() {
            return Err(CaptureError::refused(
                &sheet.file,
                Place::Line(1),
                "the header has no frequencies",
                "time, then the frequencies of the sweep",
                "Say another shape in the mapping: shape=segment or shape=point.",
            ));
        }
        Ok((Sweeps { first, frequencies_hz: frequencies_hz.into() }, times))
    }

    pub(super) fn push(
        &mut self,
        sheet: &Sheet,
        row: &Row<'_>,
        moment: Moment,
        unit: LevelUnit,
    ) -> Result<Sweep, CaptureError> {
        let end = self.first + self.frequencies_hz.len();
        sheet.check_width(row, end)?;
        let mut levels_db = Vec::with_capacity(self.frequencies_hz.len());
        for index in self.first..end {
            levels_db.push(level(sheet, row, index, unit, "Correct the line, or take it out.")?);
        }
        Ok(Sweep {
            first: moment,
            last_s: moment.from_first_s,
            frequencies_hz: self.frequencies_hz.clone(),
            levels_db,
        })
    }
}

/// A frequency of the header, with its own unit or the table's.
fn frequency(
    sheet: &Sheet,
    mapping: &Mapping,
    units: &Units<'_>,
    name: &str,
) -> Result<Option<f64>, CaptureError> {
    let (figure, word) = number_and_unit(name);
    let Some(value) = number(figure.as_bytes(), sheet.layout.decimal).filter(|f| *f >= 0.0) else {
        return Ok(None);
    };
    Ok(match FrequencyUnit::from_word(word) {
        Some(unit) => Some(value * unit.hertz()),
        None if word.is_empty() => Some(value * units.frequency_of(sheet, mapping, None)?),
        None => None,
    })
}
