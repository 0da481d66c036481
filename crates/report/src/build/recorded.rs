//! What was recorded: where, when, with what; log notes; transmitters known before.

use super::view::View;
use crate::model::{Block, ColumnKind, Nature, Section, Table, column, fact};
use crate::words::{self, ids, listed, sentence};
use ledger::{CaptureInfo, KnownDevice, Role};
use survey::Chain;

pub(super) fn section(view: &View<'_>) -> Section {
    let mut blocks = vec![Block::Heading("Measurements".into())];
    if view.facts.ledger.captures.is_empty() {
        blocks.push(fact("Nothing was measured."));
    } else {
        blocks.push(Block::Table(measurements(view)));
    }
    let warned = warned(view);
    if !warned.is_empty() {
        blocks.push(Block::List(
            Nature::Fact,
            "What the analyses of these measurements warn of:",
            warned,
        ));
    }
    blocks.push(Block::Heading("Equipment".into()));
    if view.facts.record.chains.is_empty() {
        blocks.push(fact("No equipment is described."));
    } else {
        blocks.push(Block::Table(equipment(view)));
    }
    blocks.push(Block::Heading("Transmitters known before".into()));
    let devices = &view.facts.record.known_devices;
    if devices.is_empty() {
        blocks.push(fact("None is recorded."));
    } else {
        let devices = devices.iter().map(|device| known(view, device)).collect();
        blocks.push(Block::List(Nature::Fact, "", devices));
    }
    let notes = notes(view);
    if !notes.is_empty() {
        blocks.push(Block::Heading("Log notes".into()));
        blocks.push(Block::Table(Table {
            caption: "What was seen and done, in the words of whoever noted it.".into(),
            nature: Nature::Fact,
            rows: notes,
            columns: vec![
                column("When", ColumnKind::Short),
                column("What", ColumnKind::Short),
                column("Where", ColumnKind::Text),
                column("Note", ColumnKind::Wide),
            ],
        }));
    }
    Section {
        id: "measurements",
        title: "What was recorded".into(),
        new_page: true,
        blocks,
        ..Section::default()
    }
}

fn measurements(view: &View<'_>) -> Table {
    let place = |capture: &CaptureInfo| {
        let stays = view.facts.stays.iter().filter(|stay| stay.capture == capture.id);
        let mut places: Vec<String> = Vec::new();
        for id in stays.filter_map(|stay| stay.position.as_ref()).chain(&capture.position) {
            let name = view.place(id);
            if !places.contains(&name) {
                places.push(name);
            }
        }
        match (places.is_empty(), capture.role) {
            (false, _) => listed(&places),
            (true, Role::NoAntenna) => "–".into(),
            (true, _) => "not stated".into(),
        }
    };
    let when = |capture: &CaptureInfo| match (capture.start, capture.stop) {
        (Some(from), Some(until)) if until.seconds_since(from) < 120.0 => {
            format!("{}, {}", view.when.second(from), words::length(until.seconds_since(from)))
        }
        (Some(from), Some(until)) => view.when.span(from, until),
        _ => "not stated".into(),
    };
    let rows = view.facts.ledger.captures.iter().map(|capture| {
        let aside = capture.set_aside.as_ref().map(|_| " (set aside)").unwrap_or_default();
        vec![
            format!("{}{aside}", capture.id),
            words::kind(capture.kind).to_owned(),
            words::role(capture.role).to_owned(),
            place(capture),
            when(capture),
            capture.chain.clone().unwrap_or_else(|| "not stated".into()),
            capture.condition.clone().unwrap_or_else(|| "not stated".into()),
        ]
    });
    Table {
        caption: "Every measurement, in the order in which it was brought in. The files and their \
                  hashes are in the annex."
            .into(),
        nature: Nature::Fact,
        rows: rows.collect(),
        columns: vec![
            column("No.", ColumnKind::Short),
            column("Kind", ColumnKind::Text),
            column("Purpose", ColumnKind::Text),
            column("Where", ColumnKind::Wide),
            column("When", ColumnKind::Text),
            column("Equipment", ColumnKind::Text),
            column("Condition", ColumnKind::Text),
        ],
    }
}

/// What the analyses warn of, each kind once: as it is of the first measurement, and of which others.
fn warned(view: &View<'_>) -> Vec<String> {
    let mut kinds: Vec<(&str, &str, Vec<String>)> = Vec::new();
    for capture in view.counting() {
        for warning in &capture.warnings {
            match kinds.iter_mut().find(|(code, ..)| *code == warning.code) {
                Some((.., of)) if of.contains(&capture.id) => {}
                Some((.., of)) => of.push(capture.id.clone()),
                None => kinds.push((&warning.code, &warning.text, vec![capture.id.clone()])),
            }
        }
    }
    let told = |(_, text, of): &(&str, &str, Vec<String>)| match &of[..] {
        [only] => sentence(&format!("{only}: {text}")),
        [first, others @ ..] => format!(
            "{} Likewise, with figures of their own: {}.",
            sentence(&format!("{first}: {text}")),
            ids(others)
        ),
        [] => String::new(),
    };
    kinds.iter().map(told).collect()
}

fn equipment(view: &View<'_>) -> Table {
    let calibration = |chain: &Chain| match (chain.calibration_db, chain.scale_steps) {
        (Some(_), _) => match chain.calibration_u_db {
            Some(u) => format!("calibrated, u {u:.1} dB"),
            None => "calibrated".to_owned(),
        },
        (None, Some(steps)) => format!("scale of {steps:.0} steps"),
        (None, None) => "not calibrated".to_owned(),
    };
    let rows = view.facts.record.chains.iter().map(|chain| {
        let bands = chain.bands.iter().map(|band| words::band(band.low_hz, band.high_hz));
        let bands: Vec<String> = bands.collect();
        vec![
            chain.name.clone(),
            chain.consists_of.clone().unwrap_or_else(|| "not described".into()),
            chain.serial.clone().unwrap_or_else(|| "not stated".into()),
            chain.last_checked.clone().unwrap_or_else(|| "not stated".into()),
            if bands.is_empty() { "not stated".into() } else { bands.join(", ") },
            calibration(chain),
            chain.notes.clone().unwrap_or_else(|| "–".into()),
        ]
    });
    Table {
        caption: "Equipment under the technician's own names.".into(),
        nature: Nature::Fact,
        rows: rows.collect(),
        columns: vec![
            column("Name", ColumnKind::Text),
            column("Consists of", ColumnKind::Wide),
            column("Serial number", ColumnKind::Text),
            column("Last checked", ColumnKind::Text),
            column("Bands", ColumnKind::Text),
            column("Levels", ColumnKind::Text),
            column("Notes", ColumnKind::Text),
        ],
    }
}

fn known(view: &View<'_>, device: &KnownDevice) -> String {
    let mut text = format!("{} ({}", device.what, device.owner);
    if let Some(place) = &device.place {
        text.push_str(&format!(", {}", view.place(place)));
    }
    text.push(')');
    if let Some(band) = device.band {
        text.push_str(&format!(", {}", words::band(band.low_hz, band.high_hz)));
    }
    sentence(&text)
}

/// Stimuli, remarks and readings by time.
fn notes(view: &View<'_>) -> Vec<Vec<String>> {
    let record = &view.facts.record;
    let place = |id: Option<&String>| id.map_or_else(|| "–".to_owned(), |id| view.place(id));
    let mut notes = Vec::new();
    for stimulus in &record.stimuli {
        let at = Some(stimulus.from);
        let when = until(view, at, stimulus.until);
        notes.push((
            at,
            when,
            "stimulus",
            place(stimulus.position.as_ref()),
            stimulus.what.clone(),
        ));
    }
    for remark in &record.remarks {
        let when = until(view, remark.at, remark.until);
        let at = place(remark.position.as_ref());
        notes.push((remark.at, when, "log note", at, remark.text.clone()));
    }
    for reading in &record.readings {
        let mut said = Vec::new();
        said.extend(reading.band.map(|band| {
            if band.low_hz < band.high_hz {
                words::band(band.low_hz, band.high_hz)
            } else {
                words::frequency(band.low_hz)
            }
        }));
        said.extend(reading.emission.clone());
        said.extend(reading.strength.map(|s| format!("strength {} of {}", s.value, s.of)));
        said.extend(reading.level_dbm.map(|level| words::signed(level, "dBm")));
        said.extend(reading.bearing_deg.map(|degrees| format!("bearing {degrees:.0}°")));
        said.extend(reading.heard.clone());
        let when = until(view, reading.at, None);
        let at = view.place(&reading.position);
        notes.push((reading.at, when, "reading", at, said.join(", ")));
    }
    notes.sort_by_key(|note| note.0);
    let row = |(_, when, what, place, text): (_, String, &str, String, String)| {
        vec![when, what.to_owned(), place, text]
    };
    notes.into_iter().map(row).collect()
}

fn until(view: &View<'_>, at: Option<units::Utc>, until: Option<units::Utc>) -> String {
    match (at, until) {
        (Some(at), Some(until)) => view.when.span(at, until),
        (Some(at), None) => view.when.minute(at),
        _ => "not stated".to_owned(),
    }
}
