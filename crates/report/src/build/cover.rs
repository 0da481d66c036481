//! Coverage as the survey knows it now, in words: for each place and band, how long was listened, in
//! which condition, the longest stretch without a gap, and down to which level.

use super::checked;
use super::view::View;
use crate::model::{Block, ColumnKind, Nature, Section, Table, column, fact};
use crate::words;
use survey::Covered;

/// Neighbouring bands whose times agree to this part share a row.
const SAME_TIME: f64 = 0.1;

pub(super) fn section(view: &View<'_>) -> Section {
    let mut blocks = Vec::new();
    if view.covered.is_empty() {
        blocks.push(fact(
            "Nothing was listened to that counts, at no place and in no band. This survey says \
             nothing about whether a transmitter is there.",
        ));
    } else {
        blocks.push(Block::Heading("What was listened to".into()));
        blocks.push(Block::Table(table(view)));
    }
    blocks.push(Block::Heading("How the test sender read".into()));
    blocks.extend(checked::blocks(view));
    blocks.push(Block::Heading("What this survey cannot say".into()));
    let (facts, covered) = (view.facts, &view.covered);
    let limits = survey::cannot_say(&facts.ledger, &facts.record, covered, &facts.warnings);
    blocks.push(Block::List(Nature::Fact, "", limits));
    Section {
        id: "coverage",
        title: "Coverage: what this survey could have received".into(),
        blocks,
        ..Section::default()
    }
}

fn has_limit(covered: &Covered) -> bool {
    covered.limit_dbm.is_some() || covered.limit_dbfs.is_some()
}

/// The bands of a place that were listened to alike are one row of the table.
fn alike(a: &Covered, b: &Covered) -> bool {
    let close = |x: f64, y: f64| (x - y).abs() <= SAME_TIME * x.max(y);
    let conditions =
        |c: &Covered| c.conditions.iter().map(|one| one.name.clone()).collect::<Vec<_>>();
    (&a.place, a.zone, a.in_turns) == (&b.place, b.zone, b.in_turns)
        && a.band_hz.is_some() == b.band_hz.is_some()
        && has_limit(a) == has_limit(b)
        && close(a.listened_s, b.listened_s)
        && close(a.longest_s, b.longest_s)
        && conditions(a) == conditions(b)
}

fn table(view: &View<'_>) -> Table {
    let mut groups: Vec<Vec<&Covered>> = Vec::new();
    for covered in &view.covered {
        match groups.iter_mut().find(|group| alike(group[0], covered)) {
            Some(group) => group.push(covered),
            None => groups.push(vec![covered]),
        }
    }
    let rows = groups.iter().filter_map(|group| {
        let first = group.first()?;
        let place = if first.inside {
            first.place.clone()
        } else {
            format!("{} ({})", first.place, words::zone(first.zone))
        };
        let bands = group.iter().filter_map(|covered| covered.band_hz);
        let bands: Vec<String> = bands.map(|(low, high)| words::band(low, high)).collect();
        Some(vec![
            place,
            if bands.is_empty() { "bands not stated".into() } else { bands.join(", ") },
            words::length(first.listened_s),
            longest(first),
            conditions(first),
            limits_of(group),
        ])
    });
    Table {
        caption: "Bands that were listened to alike share a row. Time is summed over measurements; the \
                  longest stretch is that of one measurement; where bands were listened to in turns, or a \
                  log shows only what was heard, it is known to be no longer than stated. The level is that of a steady emission \
                  which would have been found nine times in ten; where it differs between the bands, \
                  from the best to the worst of them."
            .into(),
        nature: Nature::Calculation,
        rows: rows.collect(),
        columns: vec![
            column("Room or position", ColumnKind::Text),
            column("Bands", ColumnKind::Wide),
            column("Listened", ColumnKind::Number),
            column("Longest unbroken", ColumnKind::Text),
            column("Condition", ColumnKind::Text),
            column("Down to", ColumnKind::Text),
        ],
    }
}

/// The longest stretch in words.
pub(super) fn longest(covered: &Covered) -> String {
    let length = words::length(covered.longest_s);
    match (covered.band_hz, covered.in_turns) {
        (None, _) => "not known".into(),
        (_, true) => format!("with gaps, under {length}"),
        (_, false) => length,
    }
}

fn conditions(covered: &Covered) -> String {
    let named = |name: &Option<String>| name.clone().unwrap_or_else(|| "not stated".into());
    match &covered.conditions[..] {
        [only] => named(&only.name),
        several => {
            let each = several
                .iter()
                .map(|one| format!("{} {}", named(&one.name), words::length(one.listened_s)));
            each.collect::<Vec<_>>().join("; ")
        }
    }
}

/// Best to worst limit of some bands, by unit.
fn limits_of(group: &[&Covered]) -> String {
    let range = |of: &dyn Fn(&Covered) -> Option<f64>, unit: &str| {
        let limits = || group.iter().filter_map(|covered| of(covered));
        let low = limits().fold(f64::INFINITY, f64::min);
        let high = limits().fold(f64::NEG_INFINITY, f64::max);
        match (low <= high, high - low < 1.0) {
            (false, _) => None,
            (true, true) => Some(words::signed(high, unit)),
            (true, false) => {
                Some(format!("{} to {}", words::signed(low, unit), words::signed(high, unit)))
            }
        }
    };
    let dbm = range(&|covered| covered.limit_dbm, "dBm");
    let dbfs = range(&|covered| covered.limit_dbfs, "dBFS");
    match (dbm, dbfs) {
        (Some(dbm), Some(dbfs)) => format!("{dbm}; {dbfs}"),
        (Some(one), None) | (None, Some(one)) => one,
        (None, None) => "not known".into(),
    }
}
