//! Units that a table names: in a column's name, another header, a comment. What its cells carry is
//! asked for where none of these does.

use super::figure::{one, units_in};
use super::mapping::Mapping;
use super::sheet::{Beginning, Sheet, begins_like_a_number};
use super::unit::{FrequencyUnit, level_unit};
use crate::{CaptureError, Place};
use std::ops::Range;
use units::LevelUnit;

/// The one unit that a column's name names: 'Freq (MHz)', 'level_dbm'.
pub(super) fn named<U>(name: &str, unit: fn(&str) -> Option<U>) -> Option<U> {
    let mut found = name.split(|c: char| !c.is_alphanumeric()).filter_map(unit);
    let first = found.next();
    first.filter(|_| found.next().is_none())
}

/// Units that the header or a comment names, where they name one.
pub(super) struct Units<'a> {
    rows: &'a [Vec<String>],
    pub(super) frequency: Option<FrequencyUnit>,
    pub(super) level: Option<LevelUnit>,
}

impl<'a> Units<'a> {
    pub(super) fn new(sheet: &Sheet, beginning: &'a Beginning) -> Self {
        let mut texts: Vec<&str> = beginning.comments.iter().map(String::as_str).collect();
        let header = sheet.header.iter().flatten().map(String::as_str);
        texts.extend(header.filter(|name| !begins_like_a_number(name.as_bytes())));
        Units {
            rows: &beginning.rows,
            frequency: only(&texts, FrequencyUnit::from_word),
            level: only(&texts, level_unit),
        }
    }

    /// The unit of levels: the table's, else the one that these columns' cells carry.
    pub(super) fn level_of(&self, columns: Range<usize>) -> Option<LevelUnit> {
        self.level.or_else(|| one(units_in(self.rows, columns, level_unit)))
    }

    /// As [`Units::frequency_of`]; `None` where no more is known than that the cells of these columns
    /// carry units.
    pub(super) fn frequency_in(
        &self,
        sheet: &Sheet,
        mapping: &Mapping,
        column: Option<FrequencyUnit>,
        columns: Range<usize>,
    ) -> Result<Option<f64>, CaptureError> {
        match self.frequency_of(sheet, mapping, column) {
            Err(_) if units_in(self.rows, columns, FrequencyUnit::from_word).next().is_some() => {
                Ok(None)
            }
            hertz => hertz.map(Some),
        }
    }

    /// Hertz of one unit of the table's frequencies: the mapping's, the column's, the table's.
    pub(super) fn frequency_of(
        &self,
        sheet: &Sheet,
        mapping: &Mapping,
        column: Option<FrequencyUnit>,
    ) -> Result<f64, CaptureError> {
        let said = mapping.frequency.as_ref().and_then(|f| f.1);
        match said.or(column).or(self.frequency) {
            Some(unit) => Ok(unit.hertz()),
            None => Err(CaptureError::refused(
                &sheet.file,
                Place::Whole,
                "nothing names the unit of its frequencies",
                "Hz, kHz, MHz or GHz",
                "Say it in the mapping: frequency=:MHz (or frequency=COLUMN:MHz).",
            )),
        }
    }
}

/// The one unit that these texts name.
pub(super) fn only<U: PartialEq>(texts: &[&str], unit: fn(&str) -> Option<U>) -> Option<U> {
    let words = texts.iter().flat_map(|text| text.split(|c: char| !c.is_alphanumeric()));
    one(words.filter_map(unit))
}
