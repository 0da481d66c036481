//! The interim page: what can be said the same night, on one page.

use super::view::View;
use super::{answer, authority, cautions};
use crate::facts::is_finding;
use crate::model::{Block, ColumnKind, Nature, Section, Table, column, fact};
use crate::words::{self, place_of, sentence};

/// Findings listed; the rest are counted.
const LISTED: usize = 6;
/// Letters of the technician's summary that fit.
const SUMMARY: usize = 500;
/// Letters of a reason that fit.
const REASON: usize = 100;

pub(super) fn sections(view: &View<'_>) -> Vec<Section> {
    let mut blocks = answer::said(view, SUMMARY);
    let findings = view.rows(is_finding);
    if !findings.is_empty() {
        let rows = findings.iter().take(LISTED).map(|row| {
            let loudest = ledger::loudest(&row.receptions);
            vec![
                row.id.clone(),
                place_of(row),
                loudest.map_or("–".into(), |reception| view.place_of(reception)),
                words::state(row.decision.state).to_owned(),
                short(row.decision.reason.as_deref().unwrap_or_default()),
            ]
        });
        let rest = findings.len().saturating_sub(LISTED);
        let rest =
            if rest > 0 { format!(" {rest} more are not listed here.") } else { String::new() };
        blocks.push(Block::Table(Table {
            caption: format!("What was decided as suspect, located or handed over so far.{rest}"),
            nature: Nature::Opinion,
            rows: rows.collect(),
            columns: vec![
                column("Row", ColumnKind::Short),
                column("Frequency", ColumnKind::Number),
                column("Loudest at", ColumnKind::Text),
                column("Decision", ColumnKind::Short),
                column("Reason", ColumnKind::Wide),
            ],
        }));
    }
    blocks.push(answer::balance(view));
    let state = Section { id: "answer", title: "So far".into(), blocks, ..Section::default() };
    let right = Section {
        id: "authority",
        title: "Authority".into(),
        blocks: authority::short(view),
        ..Section::default()
    };
    let found = &view.facts.verification;
    let journal = if found.ok {
        "evidence and journal were checked; nothing is altered or missing"
    } else {
        "evidence or journal is NOT as it was written"
    };
    let rest = Section {
        id: "cautions",
        title: "Meanwhile".into(),
        blocks: vec![
            cautions::short(),
            fact(format!(
                "Journal: {} entries, head {}; {journal}. Made with stillroom {}.",
                found.entries, found.head, view.facts.version
            )),
        ],
        ..Section::default()
    };
    vec![state, right, rest]
}

fn short(reason: &str) -> String {
    sentence(&words::clipped(reason, REASON))
}
