//! The text of a mapping: `KEY=COLUMN[:UNIT],…`, read and written.

use super::mapping::{Column, Mapping, MappingError, Shape, TimeForm};
use super::unit::{CounterUnit, DurationUnit, FrequencyUnit, level_name, level_unit};
use super::words;
use std::fmt;
use std::str::FromStr;

const KEYS: &str = "KEY=COLUMN[:UNIT],… with the keys time, date, frequency, band, strength, level, \
                    duration, position, setting, bearing, heard, note and shape";

impl FromStr for Mapping {
    type Err = MappingError;

    fn from_str(text: &str) -> Result<Self, MappingError> {
        let mut mapping = Mapping::default();
        let mut seen: Vec<String> = Vec::new();
        for entry in split(text, ',', usize::MAX)? {
            let (key, value) = match split(&entry, '=', 1)?.as_slice() {
                [key, value] => (key.trim().to_owned(), value.clone()),
                _ => return Err(wrong(format!("'{}' is no KEY=COLUMN", entry.trim()), KEYS)),
            };
            if seen.contains(&key) {
                return Err(wrong(format!("{key} is said twice"), "each key once"));
            }
            set(&mut mapping, &key, &value)?;
            seen.push(key);
        }
        mapping.check()?;
        Ok(mapping)
    }
}

fn set(mapping: &mut Mapping, key: &str, value: &str) -> Result<(), MappingError> {
    match key {
        "time" => mapping.time = Some(with_unit(key, value, time_form)?),
        "date" => mapping.date = Some(with_unit(key, value, time_form)?),
        "frequency" => mapping.frequency = Some(with_unit(key, value, FrequencyUnit::from_word)?),
        "level" => mapping.level = Some(with_unit(key, value, level_unit)?),
        "duration" => mapping.duration = Some(with_unit(key, value, DurationUnit::from_word)?),
        "strength" => mapping.strength = Some(strength(value)?),
        "band" => mapping.band = Some(column(value)?),
        "position" => mapping.position = Some(column(value)?),
        "setting" => mapping.setting = Some(column(value)?),
        "bearing" => mapping.bearing = Some(column(value)?),
        "heard" => mapping.heard = Some(column(value)?),
        "note" => mapping.note = Some(column(value)?),
        "shape" => {
            let word = value.trim();
            let why = || wrong(format!("shape is '{word}'"), "sweep, segment or point");
            mapping.shape = Some(Shape::from_word(word).ok_or_else(why)?);
        }
        _ => return Err(wrong(format!("'{key}' is no key"), KEYS)),
    }
    Ok(())
}

/// A column and what stands after its first colon.
fn with_unit<U>(
    key: &str,
    value: &str,
    unit: fn(&str) -> Option<U>,
) -> Result<(Column, Option<U>), MappingError> {
    let parts = split(value, ':', 1)?;
    let name = column(parts.first().map_or("", String::as_str))?;
    let Some(word) = parts.get(1) else { return Ok((name, None)) };
    let word = unquoted(word);
    let expected = match key {
        "time" | "date" => "a STRFTIME like %d.%m.%Y %H:%M, or s, ms, us, ns for a counter",
        "frequency" => "Hz, kHz, MHz or GHz",
        "level" => "dBm, dBFS or dBuV",
        _ => "s or min",
    };
    match unit(&word) {
        Some(unit) => Ok((name, Some(unit))),
        None => Err(wrong(format!("'{word}' is no unit of {key}"), expected)),
    }
}

/// No detector shows more steps (common practice, no source).
const MOST_STEPS: f64 = 1e6;

fn strength(value: &str) -> Result<(Column, f64), MappingError> {
    let parts = split(value, '/', usize::MAX)?;
    let expected = "strength=COLUMN/MAX, MAX the steps of the detector's scale";
    let Some((most, name)) = parts.split_last().filter(|(_, name)| !name.is_empty()) else {
        return Err(wrong("the strength's scale is not said", expected));
    };
    match words::number(most.trim().as_bytes(), b'.') {
        Some(of) if of > MOST_STEPS => Err(wrong(
            format!("a scale of {} steps is none of a detector", most.trim()),
            "its number of steps, at most 1000000",
        )),
        Some(of) if of > 0.0 => Ok((column(&name.join("/"))?, of)),
        _ => Err(wrong(format!("'{}' is no number of steps", most.trim()), expected)),
    }
}

fn time_form(word: &str) -> Option<TimeForm> {
    match CounterUnit::from_word(word) {
        Some(unit) => Some(TimeForm::Counter(unit)),
        None => word.contains('%').then(|| TimeForm::Pattern(word.to_owned())),
    }
}

fn column(text: &str) -> Result<Column, MappingError> {
    let plain = text.trim();
    if plain.is_empty() {
        return Ok(Column::Placed);
    }
    if !plain.bytes().all(|b| b.is_ascii_digit()) {
        return Ok(Column::Name(unquoted(plain)));
    }
    match plain.parse() {
        Ok(n) if n > 0 => Ok(Column::Number(n)),
        _ => Err(wrong(format!("there is no column {plain}"), "columns counted from 1")),
    }
}

pub(super) fn wrong(what: impl Into<String>, expected: &str) -> MappingError {
    MappingError { what: what.into(), expected: expected.to_owned() }
}

/// Splits at a sign outside double quotes, at most `most` times; the quotes stay.
fn split(text: &str, at: char, most: usize) -> Result<Vec<String>, MappingError> {
    let mut parts = vec![String::new()];
    let mut inside = false;
    for c in text.chars() {
        inside ^= c == '"';
        if c == at && !inside && parts.len() <= most {
            parts.push(String::new());
        } else if let Some(part) = parts.last_mut() {
            part.push(c);
        }
    }
    if inside {
        return Err(wrong(format!("a double quote is not closed in '{text}'"), "a second one"));
    }
    Ok(parts)
}

/// Takes the quotes away; two in a row inside quotes are one that is meant.
fn unquoted(text: &str) -> String {
    let mut out = String::new();
    let mut inside = false;
    let mut signs = text.trim().chars().peekable();
    while let Some(c) = signs.next() {
        if c != '"' {
            out.push(c);
        } else if inside && signs.peek() == Some(&'"') {
            signs.next();
            out.push('"');
        } else {
            inside = !inside;
        }
    }
    out
}

/// Puts quotes around what would not be read back as it is.
fn quoted(text: &str, signs: &[char]) -> String {
    let number = text.bytes().all(|b| b.is_ascii_digit());
    if number || text.trim() != text || text.contains(signs) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

impl fmt::Display for Mapping {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut comma = "";
        if let Some(shape) = self.shape {
            write!(f, "shape={}", shape.name())?;
            comma = ",";
        }
        let form = |form: &TimeForm| match form {
            TimeForm::Pattern(pattern) => format!(":{}", quoted(pattern, &[',', '"'])),
            TimeForm::Counter(unit) => format!(":{}", unit.name()),
        };
        for (key, column) in self.columns() {
            let unit = match key {
                "date" => self.date.as_ref().and_then(|d| d.1.as_ref()).map(form),
                "time" => self.time.as_ref().and_then(|t| t.1.as_ref()).map(form),
                "frequency" => {
                    self.frequency.as_ref().and_then(|f| f.1).map(|u| format!(":{}", u.name()))
                }
                "level" => {
                    self.level.as_ref().and_then(|l| l.1).map(|u| format!(":{}", level_name(u)))
                }
                "duration" => {
                    self.duration.as_ref().and_then(|d| d.1).map(|u| format!(":{}", u.name()))
                }
                "strength" => self.strength.as_ref().map(|s| format!("/{}", s.1)),
                _ => None,
            };
            let column = match column {
                Column::Placed => String::new(),
                Column::Number(n) => n.to_string(),
                Column::Name(name) => quoted(name, &[',', '"', ':', '/', '=']),
            };
            write!(f, "{comma}{key}={column}{}", unit.unwrap_or_default())?;
            comma = ",";
        }
        Ok(())
    }
}
