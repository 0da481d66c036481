//! How the known test sender read, against what the record says that it should read.

use super::view::View;
use crate::model::{Block, ColumnKind, Nature, Table, column, fact};
use crate::words::{self, counted, ids};
use ledger::Role;
use survey::CheckHeard;

pub(super) fn blocks(view: &View<'_>) -> Vec<Block> {
    let record = &view.facts.record;
    let measured = checks(view);
    if measured.is_empty() {
        return vec![fact("No measurement of a known sender is recorded.")];
    }
    let read = survey::checks(&view.facts.ledger, &record.known_devices, &view.facts.stays);
    let read: Vec<&CheckHeard> = read.iter().filter(|one| one.sender.is_some()).collect();
    if read.is_empty() {
        return vec![fact(format!(
            "A known sender was measured ({}), but the record does not say which it was and at what \
             frequency it sends: how it read cannot be told.",
            ids(&measured)
        ))];
    }
    let mut blocks = vec![Block::Table(table(view, &read))];
    let silent = read.iter().filter(|one| one.emission.is_none()).count() as u64;
    if silent > 0 {
        let (was, there) = if silent == 1 { ("was", "There") } else { ("were", "In those") };
        blocks.push(fact(format!(
            "{} {was} without it. {there} the equipment did not receive what it should have, and that \
             it heard nothing else says little.",
            counted(silent, "reading", "readings")
        )));
    }
    blocks
}

/// Ids of the measurements of a known sender.
fn checks(view: &View<'_>) -> Vec<String> {
    let checks = view.counting().filter(|capture| capture.role == Role::Check);
    checks.map(|capture| capture.id.clone()).collect()
}

fn table(view: &View<'_>, read: &[&CheckHeard]) -> Table {
    let devices = &view.facts.record.known_devices;
    let rows = read.iter().map(|one| {
        let sender = devices.iter().find(|device| Some(&device.id) == one.sender.as_ref());
        let what = sender.map_or("–".to_owned(), |device| match device.band {
            Some(band) if band.low_hz < band.high_hz => {
                format!("{}, {}", device.what, words::band(band.low_hz, band.high_hz))
            }
            Some(band) => format!("{}, {}", device.what, words::frequency(band.low_hz)),
            None => device.what.clone(),
        });
        let should = match (one.strength, one.level_dbfs, sender) {
            (Some(strength), _, Some(device)) => {
                device.should_read_steps.map(|steps| format!("{steps} of {}", strength.of))
            }
            (None, Some(_), Some(_)) if one.level_dbm.is_none() => {
                Some("not calibrated".to_owned())
            }
            (None, _, Some(device)) => {
                device.should_read_dbm.map(|level| words::signed(level, "dBm"))
            }
            _ => None,
        };
        let signed = |value: f64, unit: &str| {
            let plus = if value.round() > 0.0 { "+" } else { "" };
            format!("{plus}{}", words::signed(value, unit))
        };
        let off = one.off_db.map(|db| signed(db, "dB"));
        let off = off.or(one.off_steps.map(|steps| signed(steps, "steps")));
        vec![
            one.chain.clone().unwrap_or_else(|| "not stated".into()),
            one.position.as_ref().map_or("not stated".into(), |id| view.place(id)),
            match one.at {
                Some(at) => format!("{}, {}", one.capture, view.when.minute(at)),
                None => one.capture.clone(),
            },
            what,
            reads(one),
            should.unwrap_or_else(|| "not recorded".into()),
            off.unwrap_or_else(|| "–".into()),
        ]
    });
    Table {
        caption: "What each equipment read of the known test sender, and what the record says that it \
                  should read. A level is the loudest in the sender's band; a detector that names no \
                  frequency is taken at its strongest reading."
            .into(),
        nature: Nature::Calculation,
        rows: rows.collect(),
        columns: vec![
            column("Equipment", ColumnKind::Text),
            column("Where", ColumnKind::Text),
            column("Measurement", ColumnKind::Text),
            column("Sender", ColumnKind::Wide),
            column("Read", ColumnKind::Number),
            column("Should read", ColumnKind::Number),
            column("Off by", ColumnKind::Number),
        ],
    }
}

fn reads(one: &CheckHeard) -> String {
    let level = match (one.level_dbm, one.level_dbfs, one.strength) {
        (Some(level), ..) => Some(words::signed(level.0, "dBm")),
        (_, Some(level), _) => Some(words::signed(level.0, "dBFS")),
        (_, _, Some(strength)) => Some(format!("{} of {}", strength.value, strength.of)),
        _ => None,
    };
    match (&one.emission, level) {
        (None, _) => "not heard".into(),
        (Some(row), Some(level)) => format!("{level} ({row})"),
        (Some(row), None) => format!("heard ({row})"),
    }
}
