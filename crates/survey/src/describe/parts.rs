//! The parts of the record that people edit: what each is called, what can be written there, how
//! one of its things is read and how all are printed.

use crate::things::{self, Thing};
use crate::{SurveyError, record};
use rusqlite::Connection;
use serde_json::Value;
use std::collections::BTreeMap;

/// A part of the record that people edit.
pub(super) struct Part {
    /// Its key in the text.
    pub(super) key: &'static str,
    /// Kind of its things.
    pub(super) kind: &'static str,
    /// Letter of their ids; empty for a part that is one table.
    pub(super) letter: &'static str,
    /// What can be written there, for people.
    pub(super) members: &'static str,
    /// Reads one thing.
    pub(super) read: fn(Value) -> Result<Value, String>,
    /// Prints the part.
    pub(super) print: fn(&Connection, &Part) -> Result<String, SurveyError>,
}

const fn part<T: Thing>(key: &'static str, letter: &'static str, members: &'static str) -> Part {
    Part { key, kind: T::KIND, letter, members, read: read::<T>, print: print::<T> }
}

/// In the order in which they are printed.
pub(super) const PARTS: &[Part] = &[
    Part {
        read: read_head,
        ..part::<things::Head>("survey", "", "name, region, time_zone, technician")
    },
    part::<things::Brief>(
        "brief",
        "",
        "client, leaked, who_could_know, who_had_access, feared = [], heard_at, heard_where, notes",
    ),
    part::<things::Authority>(
        "authority",
        "A",
        "who, right, rooms = [], from, to, listening = false, listening_terms, document",
    ),
    part::<things::Premises>("premises", "", "name, kind, outer_wall, notes"),
    part::<things::Floor>(
        "floors",
        "L",
        "name, level, height_m, scale_m_per_px, origin_px = [right, down]",
    ),
    part::<things::Room>("rooms", "M", "name, floor, used_for, corners_m = [[x, y], …]"),
    part::<units::Position>(
        "positions",
        "P",
        "name, zone = inside|adjacent|outside|moving, room, floor, x_m, y_m, height_m",
    ),
    part::<things::Chain>(
        "chains",
        "K",
        "name, consists_of, serial, last_checked, scale_steps, bands = [{ low_hz, high_hz }], clock_s, clock_u_s, \
         calibration_db, calibration_u_db, frequency_u_ppm, noise_figure_db, \
         coupling = air|mains|line|light, notes",
    ),
    part::<things::Condition>(
        "conditions",
        "O",
        "name, state = empty|in-use|meeting|known-sound, who, switched_on = []",
    ),
    part::<ledger::KnownDevice>(
        "known_devices",
        "D",
        "owner, what, place, band = { low_hz, high_hz }, identity, technology, on_from, on_until, \
         test_sender = true|false, should_read_dbm, should_read_steps",
    ),
    part::<things::FoundItem>(
        "found_items",
        "F",
        "what, place, found_at, found_by, radiating, emissions = [], \
         custody = [{ at, from, to, note }], notes",
    ),
    part::<things::Photograph>("photographs", "G", "position, room, taken_at, notes"),
    part::<things::Statement>(
        "statement",
        "",
        "summary, advice, opinions = [{ of, text, advice }], author, qualification",
    ),
    part::<things::Identity>("identities", "I", "emission, identity, source"),
    part::<things::Mapping>("mappings", "T", "name, columns"),
    part::<things::Movement>("movements", "V", "position, at, chain, clock_step_s"),
    part::<things::Stimulus>("stimuli", "S", "what, position, from, until"),
    part::<things::Remark>("remarks", "B", "text, position, at, until"),
    part::<things::Reading>(
        "readings",
        "N",
        "position, at, band = { low_hz, high_hz }, emission, strength = { value, of }, level_dbm, \
         bearing_deg, heard, chain, setting",
    ),
];

/// A thing read as its type and written again, so that equal things have equal JSON.
fn read<T: Thing>(value: Value) -> Result<Value, String> {
    let thing: T = serde_json::from_value(value).map_err(|e| e.to_string())?;
    thing
        .check()
        .map_err(|flaw| format!("{}. {}", flaw.what, flaw.remedy.trim_end_matches('.')))?;
    crate::canonical::value_of(&thing).map_err(|e| e.to_string())
}

fn read_head(value: Value) -> Result<Value, String> {
    let value = read::<things::Head>(value)?;
    let text = |key: &str| value.get(key).and_then(Value::as_str).unwrap_or_default();
    crate::floors::check_region(text("region")).map_err(|e| e.to_string())?;
    crate::clock::check_zone(text("time_zone")).map_err(|e| e.to_string())?;
    Ok(value)
}

/// A part of the record as TOML, members in the order of their type; what could be written there,
/// as a comment, where there is nothing.
fn print<T: Thing>(db: &Connection, part: &Part) -> Result<String, SurveyError> {
    let things = record::all::<T>(db)?;
    let fail = |e| SurveyError::internal(format!("{} is no TOML: {e}", part.key));
    let text = match things.first() {
        None if part.letter.is_empty() => format!("# [{}]\n{}", part.key, commented(part.members)),
        None => format!("# [[{}]]\n{}", part.key, commented(part.members)),
        Some(one) if part.letter.is_empty() => {
            toml::to_string(&BTreeMap::from([(part.key, one)])).map_err(fail)?
        }
        Some(_) => toml::to_string(&BTreeMap::from([(part.key, &things)])).map_err(fail)?,
    };
    Ok(format!("{text}\n"))
}

/// Words as comment lines of at most 100 columns.
fn commented(words: &str) -> String {
    let mut text = String::new();
    let mut columns = usize::MAX;
    for word in words.split(' ') {
        let wide = word.chars().count() + 1;
        if columns.saturating_add(wide) > 100 {
            text.push_str(if text.is_empty() { "#" } else { "\n#" });
            columns = 1;
        }
        text.push(' ');
        text.push_str(word);
        columns += wide;
    }
    text.push('\n');
    text
}
