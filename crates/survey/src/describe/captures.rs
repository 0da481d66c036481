//! The captures, below the record that people edit: they are corrected with `amend`, so they stand
//! there as comments.

use crate::things::Capture;
use crate::{SurveyError, places, record};
use rusqlite::Connection;
use std::fmt::Write as _;
use units::Position;

/// One line a capture: id, role, where, with what, when, which file.
pub(super) fn listed(db: &Connection) -> Result<String, SurveyError> {
    let captures = record::all::<Capture>(db)?;
    let positions = record::all::<Position>(db)?;
    let mut text = String::from("# Captures, corrected with `amend` (not here):\n");
    if captures.is_empty() {
        text.push_str("# none yet\n");
    }
    for capture in captures {
        let position = positions.iter().find(|p| Some(&p.id) == capture.position.as_ref());
        let place = match position {
            Some(position) => format!("at {}", position.name),
            None if capture.places.is_empty() => "as it was carried".into(),
            None => "where its rows say".into(),
        };
        let start = capture.start.map_or("at no stated time".into(), |start| start.to_string());
        let role = places::word(&capture.role);
        let name = capture.files.first().map_or("", |file| file.name.as_str());
        let aside = capture.set_aside.map(|why| format!(", set aside: {why}")).unwrap_or_default();
        let line = format!(
            "{}: {role} {place}, chain {}, {start}, {:.1} s, {name}{aside}",
            capture.id, capture.chain, capture.duration_s
        );
        let one_line: String =
            line.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
        let _ = writeln!(text, "# {one_line}");
    }
    Ok(text)
}
