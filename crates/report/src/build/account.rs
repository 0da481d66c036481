//! The account: what could not be resolved and what would resolve it, and every emission with its
//! decision.

use super::findings::decision;
use super::view::View;
use super::{findings, plots, resolve, spectra};
use crate::facts::is_finding;
use crate::model::{Block, ColumnKind, Nature, Section, Table, column, fact, opinion};
use crate::words::{self, place_of, sentence};
use ledger::{LedgerRow, State};

pub(super) fn unresolved(view: &View<'_>) -> Section {
    let rows = view.rows(|state| state == State::Unresolved);
    let open = view.facts.ledger.balance.open;
    let mut blocks = Vec::new();
    if rows.is_empty() {
        blocks.push(fact("No emission is decided as not resolved."));
    }
    // The findings print it, where there are any.
    if view.rows(is_finding).is_empty() && rows.iter().any(|row| resolve::is_likely_another(row)) {
        blocks.push(findings::scale());
    }
    for row in rows {
        let title = format!("{}: {}, {}", row.id, place_of(row), words::known(&row.emission));
        blocks.push(Block::Heading(title));
        blocks.push(opinion(decision(view, row)));
        blocks.extend(pictures(view, row));
        blocks.push(Block::List(Nature::Calculation, "", resolve::would(view, row)));
    }
    if open > 0 {
        blocks.push(fact(format!(
            "{} still open: nobody has decided what to make of {}.",
            if open == 1 { "1 emission is".into() } else { format!("{open} emissions are") },
            if open == 1 { "it" } else { "them" }
        )));
    }
    Section {
        id: "unresolved",
        title: "What could not be resolved".into(),
        blocks,
        ..Section::default()
    }
}

/// Its spectrum; of what detectors alone logged, its strengths.
fn pictures(view: &View<'_>, row: &LedgerRow) -> Vec<Block> {
    match spectra::of(view, row) {
        Some(spectrum) => vec![spectrum],
        None => plots::levels(view, row).into_iter().map(Block::Figure).collect(),
    }
}

pub(super) fn section(view: &View<'_>) -> Section {
    let rows = &view.facts.ledger.emissions;
    let mut blocks = Vec::new();
    if rows.is_empty() {
        blocks.push(fact("The ledger has no emission. What that is worth is said under coverage."));
    } else {
        blocks.push(Block::Table(table(view, rows)));
    }
    Section {
        id: "emissions",
        title: "Every emission and how it was decided".into(),
        blocks,
        ..Section::default()
    }
}

fn table(view: &View<'_>, rows: &[LedgerRow]) -> Table {
    let loudest = |row: &LedgerRow| {
        let Some(reception) = ledger::loudest(&row.receptions) else { return "–".to_owned() };
        let level = words::level(reception).map(|level| format!(", {level}")).unwrap_or_default();
        format!("{}{level}", view.place_of(reception))
    };
    let decided = |row: &LedgerRow| {
        let decision = &row.decision;
        let state = sentence(words::state(decision.state));
        let ground = decision.ground.map(|ground| sentence(words::ground(ground)));
        let reason = decision.reason.as_deref().map(sentence);
        let by = decision.by.as_deref().map(|by| format!("({by})"));
        let changed = (!decision.changed_since.is_empty())
            .then(|| "Changed since; to be confirmed.".to_owned());
        let parts = [Some(state), ground, reason, by, changed];
        parts.into_iter().flatten().collect::<Vec<_>>().join(" ")
    };
    Table {
        caption:
            "In the order in which they deserved attention. Decisions are opinions of whoever is \
                  named; the other columns are calculated."
                .into(),
        nature: Nature::Calculation,
        rows: rows
            .iter()
            .map(|row| {
                vec![
                    row.id.clone(),
                    place_of(row),
                    words::width_of(&row.emission),
                    sentence(&words::known(&row.emission)).trim_end_matches('.').to_owned(),
                    loudest(row),
                    decided(row),
                ]
            })
            .collect(),
        columns: vec![
            column("Row", ColumnKind::Short),
            column("Frequency", ColumnKind::Number),
            column("Width", ColumnKind::Number),
            column("What it is", ColumnKind::Text),
            column("Loudest at", ColumnKind::Text),
            column("Decision, ground, reason", ColumnKind::Wide),
        ],
    }
}
