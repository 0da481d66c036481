//! Figures of a table of traces: bare, or each with its unit behind it.

use super::rows::Row;
use super::sheet::{Sheet, text_of};
use super::unit::{FrequencyUnit, level_name, level_unit};
use super::words::{level_of, number, number_and_unit};
use crate::CaptureError;
use std::ops::Range;
use units::LevelUnit;

/// A level in `unit`, NaN where the row has none.
pub(super) fn level(
    sheet: &Sheet,
    row: &Row<'_>,
    index: usize,
    unit: LevelUnit,
    mend: &str,
) -> Result<f32, CaptureError> {
    let (field, decimal) = (row.get(index), sheet.layout.decimal);
    if let Some(level) = level_of(field, decimal) {
        return Ok(level);
    }
    match level_with_unit(field, decimal) {
        Some((level, own)) if own == unit => Ok(level),
        Some(_) => Err(sheet.wrong(row, index, format!("a level in {}", level_name(unit)), mend)),
        None => Err(sheet.wrong(row, index, "a level", mend)),
    }
}

/// Whether a field is a level, bare, missing or with a unit.
pub(super) fn is_level(field: &str, decimal: u8) -> bool {
    level_of(field.as_bytes(), decimal).is_some()
        || level_with_unit(field.as_bytes(), decimal).is_some()
}

fn level_with_unit(field: &[u8], decimal: u8) -> Option<(f32, LevelUnit)> {
    let text = text_of(field).0;
    let (figure, word) = number_and_unit(&text);
    let unit = level_unit(word)?;
    let level = number(figure.as_bytes(), decimal)? as f32;
    level.is_finite().then_some((level, unit))
}

/// A frequency in hertz: in its own unit, else in one of `factor` hertz; without either none.
pub(super) fn hertz(field: &[u8], decimal: u8, factor: Option<f64>) -> Option<f64> {
    if let Some(value) = number(field, decimal) {
        return Some(value * factor?);
    }
    let text = text_of(field).0;
    let (figure, word) = number_and_unit(&text);
    Some(number(figure.as_bytes(), decimal)? * FrequencyUnit::from_word(word)?.hertz())
}

/// The units that cells of these columns carry, row by row.
pub(super) fn units_in<U>(
    rows: &[Vec<String>],
    columns: Range<usize>,
    unit: fn(&str) -> Option<U>,
) -> impl Iterator<Item = U> {
    let cells = rows
        .iter()
        .flat_map(move |row| row.get(columns.start..columns.end.min(row.len())).unwrap_or(&[]));
    cells.filter_map(move |cell| unit(number_and_unit(cell).1))
}

/// The one unit among these; `None` where there is none, or two.
pub(super) fn one<U: PartialEq>(mut units: impl Iterator<Item = U>) -> Option<U> {
    let first = units.next()?;
    units.all(|other| other == first).then_some(first)
}
