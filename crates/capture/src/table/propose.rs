//! What a table seems to be: by its header's words and its contents. A table of traces that leaves
//! nothing to assume is read by it; all else is for a person to confirm.

use super::assume::{
    by_size, duration_unit, either, frequency_unit, level_assumed, level_unit_of, scale,
};
use super::figure::{hertz, is_level, one, units_in};
use super::layout::Layout;
use super::looks::{Looks, key_of, looks_at};
use super::mapping::{Column, Mapping, Shape, TimeForm};
use super::named::only;
use super::segment::{FIRST_LEVEL, FREQUENCIES};
use super::sheet::{Beginning, begins_like_a_number, columns_of};
use super::unit::{FrequencyUnit, level_unit};
use super::words::{number, number_and_unit};
use std::fmt;

/// What a table seems to be, for a person to confirm: none of it is believed unasked.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The mapping; its text can be given to `--columns`.
    pub mapping: Mapping,
    /// What was assumed in it, each a sentence.
    pub assumed: Vec<String>,
    /// The table's columns, `1 'Time'`, for a person to correct the mapping by.
    pub columns: Vec<String>,
}

impl Proposal {
    /// Whether the steps of the strength's scale are a guess from the highest that was seen.
    pub fn guesses_scale(&self) -> bool {
        self.assumed.iter().any(|said| said.starts_with(super::assume::SCALE))
    }
}

impl fmt::Display for Proposal {
    /// The mapping as it is typed, quoted for a shell.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "--columns '{}'", self.mapping.to_string().replace('\'', r"'\''"))
    }
}

/// Proposes a mapping; `None` where nothing tells what the columns are.
pub(super) fn propose(beginning: &Beginning, layout: Layout) -> Option<Proposal> {
    // Titles above the header are passed over.
    let known = |row: &Vec<String>| row.iter().filter(|n| key_of(n).is_some()).count() > 1;
    let header = beginning.rows.iter().take(20).position(known).unwrap_or(0);
    let below;
    let beginning = if header == 0 {
        beginning
    } else {
        let rows = beginning.rows.get(header..).unwrap_or(&[]).to_vec();
        below = Beginning { rows, comments: beginning.comments.clone() };
        &below
    };
    let first = beginning.rows.first()?;
    let (mapping, assumed) = segment(beginning, layout)
        .or_else(|| sweep(beginning, layout))
        .or_else(|| by_columns(beginning, layout))?;
    mapping.check().ok()?;
    let columns = match mapping.shape {
        Some(Shape::Segment) => {
            let placed = ["date", "time", "low", "high", "step", "count", "levels"];
            placed.iter().enumerate().map(|(i, word)| format!("{} {word}", i + 1)).collect()
        }
        _ => columns_of(first),
    };
    Some(Proposal { mapping, assumed, columns })
}

type Told = (Mapping, Vec<String>);

/// Date, time, low, high, step, count, then as many levels as fit.
fn segment(beginning: &Beginning, layout: Layout) -> Option<Told> {
    let figure =
        |row: &[String], i: usize| hertz(row.get(i)?.as_bytes(), layout.decimal, Some(1.0));
    let is_part = |row: &[String]| {
        let (low, high, step) = (figure(row, 2)?, figure(row, 3)?, figure(row, 4)?);
        figure(row, 5)?;
        let steps = (high - low) / step;
        let count = row.iter().rposition(|f| !f.is_empty())?.checked_sub(5)? as f64;
        let levels = row.get(FIRST_LEVEL..)?.iter().all(|f| is_level(f, layout.decimal));
        (step > 0.0 && high > low && levels && (count - steps).abs() <= 1.5).then_some(high)
    };
    let has_header = figure(beginning.rows.first()?, 2).is_none();
    let row = beginning.rows.get(usize::from(has_header))?;
    let high = is_part(row)?;
    let mut assumed = Vec::new();
    let mut mapping = Mapping { shape: Some(Shape::Segment), ..Mapping::default() };
    let body = beginning.rows.get(usize::from(has_header)..)?;
    let cells = |i: usize| -> Vec<&str> {
        body.iter().filter_map(|r| r.get(i)).map(String::as_str).collect()
    };
    let (date, time) = (super::forms::told(&cells(0))?, super::forms::told(&cells(1))?);
    if date.form.is_some() || time.form.is_some() {
        either(date.either_order, &date.form, &mut assumed);
        mapping.date = Some((Column::Placed, date.form));
        mapping.time = Some((Column::Placed, time.form));
    }
    let header = if has_header { beginning.rows.first().map(Vec::as_slice) } else { None };
    units(&mut mapping, beginning, header, FIRST_LEVEL, &mut assumed, high);
    let own_unit = units_in(body, FREQUENCIES, FrequencyUnit::from_word).next().is_some();
    if own_unit {
        carried(&mut mapping, &mut assumed);
    }
    Some((mapping, assumed))
}

/// A header of rising frequencies after the time.
fn sweep(beginning: &Beginning, layout: Layout) -> Option<Told> {
    let header = beginning.rows.first()?;
    let first = header.iter().position(|name| begins_like_a_number(name.as_bytes()))?;
    let frequencies: Option<Vec<f64>> = header
        .iter()
        .skip(first)
        .filter(|name| !name.is_empty())
        .map(|name| {
            let (figure, word) = number_and_unit(name);
            let unit = FrequencyUnit::from_word(word).map_or(1.0, FrequencyUnit::hertz);
            let known = word.is_empty() || FrequencyUnit::from_word(word).is_some();
            number(figure.as_bytes(), layout.decimal).filter(|_| known).map(|value| value * unit)
        })
        .collect();
    let frequencies = frequencies?;
    let rise = frequencies.windows(2).all(|w| w[0] < w[1]);
    if !(1..=3).contains(&first) || frequencies.len() < 2 || !rise || frequencies[0] < 0.0 {
        return None;
    }
    let is_sweep = |row: &Vec<String>| {
        let levels = row.get(first..first + frequencies.len());
        levels.is_some_and(|l| l.iter().all(|f| is_level(f, layout.decimal)))
    };
    if !beginning.rows.iter().skip(1).take(5).any(is_sweep) {
        return None;
    }
    let mut assumed = Vec::new();
    let mut mapping = Mapping { shape: Some(Shape::Sweep), ..Mapping::default() };
    let looks = looks_at(beginning, layout, first);
    times(&looks, &mut mapping, &mut assumed);
    if matches!(&mapping.time, Some((Column::Name(name), None)) if *name == header[0])
        && mapping.date.is_none()
    {
        mapping.time = None;
    }
    let own_unit = !number_and_unit(&header[first]).1.is_empty();
    let last = frequencies.last().copied().unwrap_or(0.0);
    units(&mut mapping, beginning, Some(&header[..first]), first, &mut assumed, last);
    if own_unit {
        carried(&mut mapping, &mut assumed);
    }
    Some((mapping, assumed))
}

/// Each frequency has its own unit: none is assumed of the table.
fn carried(mapping: &mut Mapping, assumed: &mut Vec<String>) {
    mapping.frequency = None;
    assumed.retain(|text| !text.starts_with("frequencies"));
}

/// Units of a shape whose columns are placed, levels from column `levels` on: as named, that of
/// levels also by their cells, else by size.
fn units(
    mapping: &mut Mapping,
    beginning: &Beginning,
    header: Option<&[String]>,
    levels: usize,
    assumed: &mut Vec<String>,
    largest: f64,
) {
    let mut texts: Vec<&str> = beginning.comments.iter().map(String::as_str).collect();
    texts.extend(header.into_iter().flatten().map(String::as_str));
    let unit = only(&texts, FrequencyUnit::from_word).unwrap_or_else(|| {
        let unit = by_size(largest);
        assumed.push(format!(
            "frequencies are taken as {}, since nothing names their unit",
            unit.name()
        ));
        unit
    });
    mapping.frequency = Some((Column::Placed, Some(unit)));
    let unit = only(&texts, level_unit)
        .or_else(|| one(units_in(&beginning.rows, levels..usize::MAX, level_unit)))
        .unwrap_or_else(|| level_assumed(assumed));
    mapping.level = Some((Column::Placed, Some(unit)));
}

/// Columns by their names and contents: points, events or readings.
fn by_columns(beginning: &Beginning, layout: Layout) -> Option<Told> {
    let looks = looks_at(beginning, layout, usize::MAX);
    let mut assumed = Vec::new();
    let mut mapping = Mapping::default();
    times(&looks, &mut mapping, &mut assumed);
    let find = |key: &str| looks.iter().find(|l| l.key == Some(key));
    let column = |key: &str| find(key).map(|l| l.column.clone());
    mapping.band = column("band");
    mapping.position = column("position");
    mapping.setting = column("setting");
    mapping.bearing = column("bearing");
    mapping.heard = column("heard");
    mapping.note = column("note");
    mapping.frequency =
        find("frequency").map(|l| (l.column.clone(), frequency_unit(l, beginning, &mut assumed)));
    mapping.level =
        find("level").map(|l| (l.column.clone(), level_unit_of(l, beginning, &mut assumed)));
    mapping.strength = find("strength").map(|l| (l.column.clone(), scale(l, &mut assumed)));
    mapping.duration = find("duration").map(|l| (l.column.clone(), duration_unit(l, &mut assumed)));
    let others = mapping
        .columns()
        .iter()
        .any(|(key, _)| !matches!(*key, "date" | "time" | "frequency" | "level"));
    if mapping.frequency.is_some() && mapping.level.is_some() && !others {
        mapping.shape = Some(Shape::Point);
    } else if mapping.frequency.is_none() && mapping.band.is_none() && mapping.strength.is_none() {
        return None;
    }
    Some((mapping, assumed))
}

/// When: a column of date and time, or one of each, or a counter.
fn times(looks: &[Looks<'_>], mapping: &mut Mapping, assumed: &mut Vec<String>) {
    let stamps = || looks.iter().filter_map(|l| l.stamp.as_ref().map(|s| (l, s)));
    let found = stamps().find(|(_, s)| s.has_date && s.has_time);
    if let Some((look, stamp)) = found {
        either(stamp.either_order, &stamp.form, assumed);
        mapping.time = Some((look.column.clone(), stamp.form.clone()));
        return;
    }
    if let Some((look, stamp)) = stamps().find(|(_, s)| s.has_date) {
        either(stamp.either_order, &stamp.form, assumed);
        mapping.date = Some((look.column.clone(), stamp.form.clone()));
    }
    let of_day = stamps().find(|(l, s)| s.has_time && l.key != Some("duration"));
    if let Some((look, stamp)) = of_day {
        mapping.time = Some((look.column.clone(), stamp.form.clone()));
        return;
    }
    let Some(look) = looks.iter().find(|l| l.key == Some("time") && l.is_numeric) else { return };
    if mapping.date.is_some() {
        return;
    }
    let column = look.column.clone();
    let named = super::timeline::counter_named(look.name);
    let seconds = named.is_none_or(|unit| unit == super::CounterUnit::S);
    // From 1973 on; a counter of seconds gets there after three years.
    if seconds && look.least >= 1e8 && look.most < 1e10 {
        assumed.push(format!("{column} is taken as seconds since 1970"));
        mapping.time = Some((column, Some(TimeForm::Pattern("%s".to_owned()))));
        return;
    }
    if named.is_none() {
        assumed.push(format!("{column} is taken as a counter of seconds"));
    }
    let unit = named.unwrap_or(super::CounterUnit::S);
    mapping.time = Some((column, Some(TimeForm::Counter(unit))));
}
