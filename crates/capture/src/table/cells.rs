//! The fields of an event's row, read by their keys.

use super::event_log::{Raw, span};
use super::mapping::{Column, Mapping};
use super::named::named;
use super::rows::Row;
use super::sheet::{Sheet, text_of};
use super::timeline::Moment;
use super::unit::{DurationUnit, FrequencyUnit, level_unit};
use super::words::{
    band_words, clock_duration, is_missing, is_reversed, number, number_and_unit, step_of,
};
use crate::limits::is_frequency;
use crate::{CaptureError, Place};
use units::{Event, LevelUnit, Strength, Utc};

/// No event of a log lasts longer than a year (common practice, no source), seconds.
const LONGEST_S: f64 = 366.0 * 86_400.0;
const MEND: &str = "Correct the line, or take it out.";

/// Which column is which, and their units.
pub(super) struct Cells {
    band: Option<(usize, Option<FrequencyUnit>)>,
    frequency: Option<(usize, Option<FrequencyUnit>)>,
    level: Option<(usize, Option<LevelUnit>)>,
    strength: Option<(usize, f64)>,
    duration: Option<(usize, Option<DurationUnit>)>,
    position: Option<usize>,
    setting: Option<usize>,
    bearing: Option<usize>,
    heard: Option<usize>,
    note: Option<usize>,
    /// Fields that a row must have.
    pub(super) needed: usize,
}

impl Cells {
    pub(super) fn new(sheet: &Sheet, mapping: &Mapping) -> Result<Self, CaptureError> {
        let mut needed = 0;
        let mut index = |key: &str, column: &Column| {
            let index = sheet.index(key, column, 0)?;
            needed = needed.max(index + 1);
            Ok::<usize, CaptureError>(index)
        };
        let mut plain = |key: &str, column: &Option<Column>| {
            column.as_ref().map(|column| index(key, column)).transpose()
        };
        let band = plain("band", &mapping.band)?;
        let position = plain("position", &mapping.position)?;
        let setting = plain("setting", &mapping.setting)?;
        let bearing = plain("bearing", &mapping.bearing)?;
        let heard = plain("heard", &mapping.heard)?;
        let note = plain("note", &mapping.note)?;
        let said = mapping.frequency.as_ref();
        let frequency = said.map(|(c, unit)| Ok((index("frequency", c)?, *unit))).transpose()?;
        let said = mapping.level.as_ref();
        let level = said.map(|(c, unit)| Ok((index("level", c)?, *unit))).transpose()?;
        let said = mapping.strength.as_ref();
        let strength = said.map(|(c, of)| Ok((index("strength", c)?, *of))).transpose()?;
        let said = mapping.duration.as_ref();
        let duration = said.map(|(c, unit)| Ok((index("duration", c)?, *unit))).transpose()?;
        Ok(Cells {
            band: band.map(|i| (i, named(sheet.name(i), FrequencyUnit::from_word))),
            frequency: frequency
                .map(|(i, unit)| (i, unit.or(named(sheet.name(i), FrequencyUnit::from_word)))),
            level: level.map(|(i, unit)| (i, unit.or(named(sheet.name(i), level_unit)))),
            strength,
            duration: duration
                .map(|(i, unit)| (i, unit.or(named(sheet.name(i), DurationUnit::from_word)))),
            position,
            setting,
            bearing,
            heard,
            note,
            needed,
        })
    }

    /// Reads a row.
    pub(super) fn read(
        &mut self,
        sheet: &Sheet,
        row: &Row<'_>,
        moment: Moment,
    ) -> Result<Raw, CaptureError> {
        let Some(at) = moment.at else {
            return Err(CaptureError::refused(
                &sheet.file,
                Place::Line(row.line),
                "its times have no date",
                "a date beside the time",
                "Say date=COLUMN if one has it, or --start TIME for the first row.",
            ));
        };
        let mut raw = Raw {
            event: event(row.line, at, moment.step_s),
            frequency: None,
            bare_band: false,
            not_utf8: false,
        };
        self.read_band(sheet, row, &mut raw)?;
        self.read_frequency(sheet, row, &mut raw)?;
        raw.event.strength = self.read_strength(sheet, row)?;
        raw.event.level = self.read_level(sheet, row)?;
        if let Some((seconds, step_s)) = self.read_duration(sheet, row)? {
            (raw.event.duration_s, raw.event.duration_step_s) = (Some(seconds), step_s);
        }
        raw.event.bearing_deg = self.read_bearing(sheet, row)?;
        let mut text = |index: Option<usize>| {
            let (text, not_utf8) = text_of(row.get(index?));
            raw.not_utf8 |= not_utf8;
            (!text.is_empty() && text != "-").then_some(text)
        };
        raw.event.position = text(self.position);
        raw.event.setting = text(self.setting);
        raw.event.heard = text(self.heard);
        raw.event.note = text(self.note);
        let e = &raw.event;
        if raw.frequency.is_none()
            && e.label.is_none()
            && e.band.is_none()
            && e.strength.is_none()
            && e.level.is_none()
        {
            return Err(sheet.wrong_row(
                row.line,
                "the row tells neither frequency nor band, strength or level",
                "an event or reading in every row",
                "If the line is no row of the table (a title, a sum), take it out; else mend it.",
            ));
        }
        Ok(raw)
    }

    fn read_band(&self, sheet: &Sheet, row: &Row<'_>, raw: &mut Raw) -> Result<(), CaptureError> {
        let Some((index, unit)) = self.band else { return Ok(()) };
        let (label, not_utf8) = text_of(row.get(index));
        raw.not_utf8 |= not_utf8;
        if is_missing(label.as_bytes()) {
            return Ok(());
        }
        if let Some((band, is_named)) = band_words(&label, unit, sheet.layout.decimal) {
            raw.event.band = Some(band);
            raw.bare_band = !is_named;
        } else if is_reversed(&label, unit, sheet.layout.decimal) {
            return Err(sheet.wrong(row, index, "a band, its lower edge first", MEND));
        }
        raw.event.label = Some(label);
        Ok(())
    }

    fn read_frequency(
        &self,
        sheet: &Sheet,
        row: &Row<'_>,
        raw: &mut Raw,
    ) -> Result<(), CaptureError> {
        let Some((index, unit)) = self.frequency else { return Ok(()) };
        let field = row.get(index);
        if is_missing(field) {
            return Ok(());
        }
        let text = text_of(field).0;
        let (figure, word) = number_and_unit(&text);
        let decimal = sheet.layout.decimal;
        if let Some(value) = number(figure.as_bytes(), decimal)
            && let Some(unit) = if word.is_empty() { unit } else { FrequencyUnit::from_word(word) }
            && value > 0.0
            && is_frequency(value * unit.hertz())
        {
            let step_hz = step_of(figure.as_bytes(), decimal) * unit.hertz();
            raw.frequency = Some((value * unit.hertz(), step_hz));
            return Ok(());
        }
        if let Some((band, true)) = band_words(&text, unit, decimal) {
            raw.event.band = Some(band);
            return Ok(());
        }
        if unit.is_none() && number(figure.as_bytes(), decimal).is_some() {
            let remedy = "Say its unit in the mapping: frequency=COLUMN:MHz (or Hz, kHz, GHz).";
            return Err(sheet.wrong(
                row,
                index,
                "a frequency with its unit, which nothing names",
                remedy,
            ));
        }
        Err(sheet.wrong(row, index, "a frequency", MEND))
    }

    fn read_strength(
        &self,
        sheet: &Sheet,
        row: &Row<'_>,
    ) -> Result<Option<Strength>, CaptureError> {
        let Some((index, of)) = self.strength else { return Ok(None) };
        let field = row.get(index);
        if is_missing(field) {
            return Ok(None);
        }
        let text = text_of(field).0;
        let (figure, scale) = text.split_once('/').unwrap_or((&text, ""));
        let decimal = sheet.layout.decimal;
        let value = number(figure.as_bytes(), decimal);
        let scale_fits = scale.is_empty() || number(scale.as_bytes(), decimal) == Some(of);
        match value.filter(|value| (0.0..=of).contains(value) && scale_fits) {
            Some(value) => Ok(Some(Strength { value, of })),
            None => Err(sheet.wrong(
                row,
                index,
                format!("a strength from 0 to {of}"),
                "If the scale has more steps, say so in the mapping: strength=COLUMN/STEPS.",
            )),
        }
    }

    fn read_level(
        &self,
        sheet: &Sheet,
        row: &Row<'_>,
    ) -> Result<Option<(f64, LevelUnit)>, CaptureError> {
        let Some((index, unit)) = self.level else { return Ok(None) };
        let field = row.get(index);
        if is_missing(field) {
            return Ok(None);
        }
        let text = text_of(field).0;
        let (figure, word) = number_and_unit(&text);
        let Some(value) = number(figure.as_bytes(), sheet.layout.decimal) else {
            return Err(sheet.wrong(row, index, "a level", MEND));
        };
        match if word.is_empty() { unit } else { level_unit(word) } {
            Some(unit) => Ok(Some((value, unit))),
            None => Err(sheet.wrong(
                row,
                index,
                "a level in dBm, dBFS or dBuV, and nothing says which",
                "Say its unit in the mapping: level=COLUMN:dBm (or dBFS, dBuV).",
            )),
        }
    }

    /// Seconds, and their step.
    fn read_duration(
        &self,
        sheet: &Sheet,
        row: &Row<'_>,
    ) -> Result<Option<(f64, f64)>, CaptureError> {
        let Some((index, unit)) = self.duration else { return Ok(None) };
        let field = row.get(index);
        if is_missing(field) {
            return Ok(None);
        }
        let text = text_of(field).0;
        let decimal = sheet.layout.decimal;
        let bounded = |read: (f64, f64)| match read.0 <= LONGEST_S {
            true => Ok(Some(read)),
            false => Err(sheet.wrong(row, index, "a duration of no more than a year", MEND)),
        };
        if text.contains(':') {
            return match clock_duration(&text, unit, decimal) {
                Some(read) => bounded(read),
                None => Err(sheet.wrong(row, index, "a duration like 1:30", MEND)),
            };
        }
        let (figure, word) = number_and_unit(&text);
        let Some(value) = number(figure.as_bytes(), decimal).filter(|value| *value >= 0.0) else {
            return Err(sheet.wrong(row, index, "a duration", MEND));
        };
        let Some(unit) = (if word.is_empty() { unit } else { DurationUnit::from_word(word) })
        else {
            let remedy = "Say its unit in the mapping: duration=COLUMN:s (or min).";
            return Err(sheet.wrong(
                row,
                index,
                "a duration with its unit, which nothing names",
                remedy,
            ));
        };
        let step = if figure.as_bytes().contains(&decimal) {
            step_of(figure.as_bytes(), decimal)
        } else {
            1.0
        };
        bounded((value * unit.seconds(), step * unit.seconds()))
    }

    fn read_bearing(&self, sheet: &Sheet, row: &Row<'_>) -> Result<Option<f64>, CaptureError> {
        let Some(index) = self.bearing else { return Ok(None) };
        let field = row.get(index);
        if is_missing(field) {
            return Ok(None);
        }
        let text = text_of(field).0;
        let (figure, word) = number_and_unit(&text);
        let degrees = number(figure.as_bytes(), sheet.layout.decimal);
        match degrees.filter(|d| (0.0..=360.0).contains(d) && ["", "°", "deg"].contains(&word)) {
            Some(degrees) => Ok(Some(degrees % 360.0)),
            None => Err(sheet.wrong(row, index, "a bearing from 0 to 360 degrees", MEND)),
        }
    }
}

fn event(line: u64, at: Utc, step_s: f64) -> Event {
    Event {
        line,
        start: span(at, step_s),
        duration_s: None,
        duration_step_s: 1.0,
        band: None,
        label: None,
        strength: None,
        level: None,
        position: None,
        setting: None,
        bearing_deg: None,
        heard: None,
        note: None,
    }
}
