//! What each column of a table looks like: its name's word, and what its cells are.

use super::forms;
use super::layout::Layout;
use super::mapping::Column;
use super::sheet::{Beginning, begins_like_a_number};
use super::unit::{DurationUnit, FrequencyUnit, level_unit};
use super::words::{band_words, is_missing, number, number_and_unit};

/// A column, looked at.
pub(super) struct Looks<'a> {
    pub(super) column: Column,
    pub(super) name: &'a str,
    pub(super) cells: Vec<&'a str>,
    /// The key of a mapping that it seems to be.
    pub(super) key: Option<&'static str>,
    pub(super) stamp: Option<forms::Told>,
    pub(super) is_numeric: bool,
    /// Whether its cells carry units.
    pub(super) has_units: bool,
    pub(super) least: f64,
    pub(super) most: f64,
}

/// Words of headers, by key: English, German, French and Spanish (common practice, no source).
const WORDS: [(&str, &[&str]); 12] = [
    ("date", &["date", "day", "datum", "tag", "jour", "fecha"]),
    (
        "time",
        &[
            "time",
            "timestamp",
            "datetime",
            "start",
            "begin",
            "began",
            "when",
            "clock",
            "zeit",
            "uhrzeit",
            "heure",
            "hora",
            "beginn",
            "t",
        ],
    ),
    (
        "duration",
        &[
            "duration",
            "length",
            "lasted",
            "seconds",
            "secs",
            "sec",
            "dauer",
            "durée",
            "duree",
            "duración",
            "sekunden",
        ],
    ),
    (
        "frequency",
        &[
            "frequency",
            "freq",
            "frequenz",
            "fréquence",
            "frecuencia",
            "mhz",
            "khz",
            "hz",
            "ghz",
            "centre",
            "center",
            "f",
        ],
    ),
    ("band", &["band", "bands", "service", "kind", "type", "channel", "bande", "banda", "kanal"]),
    (
        "strength",
        &[
            "strength",
            "bars",
            "bar",
            "steps",
            "stärke",
            "staerke",
            "intensity",
            "intensité",
            "fuerza",
        ],
    ),
    (
        "level",
        &[
            "level",
            "power",
            "dbm",
            "dbfs",
            "dbuv",
            "dbµv",
            "db",
            "rssi",
            "amplitude",
            "pegel",
            "niveau",
            "nivel",
        ],
    ),
    (
        "position",
        &[
            "position", "place", "location", "room", "where", "point", "ort", "raum", "lieu",
            "lugar",
        ],
    ),
    (
        "setting",
        &["setting", "settings", "antenna", "attenuator", "sensitivity", "gain", "antenne"],
    ),
    ("bearing", &["bearing", "azimuth", "heading", "direction", "richtung", "peilung"]),
    ("heard", &["heard", "audio", "sound", "gehört", "ton"]),
    (
        "note",
        &[
            "note",
            "notes",
            "comment",
            "comments",
            "remark",
            "remarks",
            "text",
            "bemerkung",
            "notiz",
        ],
    ),
];

/// Looks at the first `most` columns.
pub(super) fn looks_at(beginning: &Beginning, layout: Layout, most: usize) -> Vec<Looks<'_>> {
    let Some(first) = beginning.rows.first() else { return Vec::new() };
    let names = first.iter().take(most).all(|f| !begins_like_a_number(f.as_bytes()));
    let body = beginning.rows.get(usize::from(names)..).unwrap_or(&[]);
    let width = first.len().min(most).min(1000);
    let mut looks: Vec<Looks<'_>> = Vec::with_capacity(width);
    for index in 0..width {
        let name = if names { first[index].as_str() } else { "" };
        let alone = first.iter().filter(|n| *n == name).count() == 1;
        let column = match names && !name.is_empty() && alone {
            true => Column::Name(name.to_owned()),
            false => Column::Number(index + 1),
        };
        let cells: Vec<&str> =
            body.iter().filter_map(|row| row.get(index)).map(String::as_str).collect();
        looks.push(look(column, name, cells, layout));
    }
    if !names && most == usize::MAX {
        unnamed(&mut looks);
    }
    // A key belongs to the first column that seems to be it.
    for i in 1..looks.len() {
        if looks[..i].iter().any(|l| l.key == looks[i].key) {
            looks[i].key = None;
        }
    }
    looks
}

fn look<'a>(column: Column, name: &'a str, cells: Vec<&'a str>, layout: Layout) -> Looks<'a> {
    let stated: Vec<&str> = cells.iter().copied().filter(|c| !is_missing(c.as_bytes())).collect();
    let figures: Vec<f64> = stated
        .iter()
        .filter_map(|cell| {
            let figure = number_and_unit(cell.split('/').next().unwrap_or(cell)).0;
            number(figure.as_bytes(), layout.decimal)
        })
        .collect();
    let bare = |cell: &&str| number(cell.as_bytes(), layout.decimal).is_some();
    let is_numeric = !stated.is_empty() && stated.iter().all(bare);
    let with_unit = |cell: &&str| {
        let word = number_and_unit(cell).1;
        FrequencyUnit::from_word(word).is_some()
            || level_unit(word).is_some()
            || DurationUnit::from_word(word).is_some()
    };
    let has_units = !stated.is_empty() && stated.iter().all(with_unit);
    let (least, most) = figures
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(*x), high.max(*x)));
    let mut key = key_of(name);
    let ranges = stated
        .iter()
        .filter(|cell| {
            !bare(cell) && matches!(band_words(cell, None, layout.decimal), Some((_, true)))
        })
        .count();
    // What the cells are outweighs what the name could mean.
    match key {
        Some("strength" | "level") if least < 0.0 => key = Some("level"),
        Some("frequency") if !is_numeric && !has_units && ranges > 0 => key = Some("band"),
        None if ranges > 0 && 2 * ranges >= stated.len() => key = Some("band"),
        _ => {}
    }
    let stamp = if key == Some("duration") { None } else { forms::told(&cells) };
    Looks { column, name, cells, key, stamp, is_numeric, has_units, least, most }
}

/// The key that a name's words stand for; in doubt the word that comes first.
pub(super) fn key_of(name: &str) -> Option<&'static str> {
    let lower = name.to_lowercase();
    let words = lower.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty());
    words
        .into_iter()
        .find_map(|word| WORDS.iter().find(|(_, words)| words.contains(&word)).map(|(key, _)| *key))
}

/// Without a header: a rising or large column of numbers is the frequency, the next one below 100
/// the level.
fn unnamed(looks: &mut [Looks<'_>]) {
    let frequency = looks
        .iter()
        .position(|l| l.is_numeric && l.stamp.is_none() && l.least > 0.0 && l.most > 10.0);
    let Some(frequency) = frequency else { return };
    let level =
        (frequency + 1..looks.len()).find(|i| looks[*i].is_numeric && looks[*i].least < 0.0);
    if let Some(level) = level {
        looks[frequency].key = Some("frequency");
        looks[level].key = Some("level");
    }
}
