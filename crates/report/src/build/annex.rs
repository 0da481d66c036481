//! The annex: probabilities and their scale, evidence files with their hashes, journal and program.

use super::findings::is_of_origin;
use super::pictures;
use super::view::View;
use crate::facts::is_finding;
use crate::model::{Block, ColumnKind, Nature, Section, Table, column, fact};
use crate::words;
use ledger::LedgerRow;

pub(super) fn sections(view: &View<'_>) -> Vec<Section> {
    let mut sections = vec![probabilities(view)];
    sections.extend(pictures::section(view));
    sections.extend([evidence(view), journal(view)]);
    sections
}

fn probabilities(view: &View<'_>) -> Section {
    let percent =
        |p: Option<f64>| p.map_or_else(|| "–".to_owned(), |p| format!("{:.0} %", p * 100.0));
    let decibels = words::decibels;
    let excess = |row: &LedgerRow| match (row.origin.excess_db, row.origin.excess_u_db) {
        (Some(db), _) if row.origin.excess_at_least => format!("> {}", decibels(db)),
        (Some(db), Some(u)) => format!("{} ± {}", decibels(db), decibels(u)),
        (Some(db), None) => decibels(db),
        _ => "–".to_owned(),
    };
    let rows: Vec<Vec<String>> = view
        .facts
        .ledger
        .emissions
        .iter()
        .map(|row| {
            let technology = row.emission.technology.as_ref();
            let modulation = row.emission.modulation.as_ref();
            let kind = words::technology_of(&row.emission);
            vec![
                row.id.clone(),
                percent(row.origin.p_inside),
                excess(row),
                kind.clone().unwrap_or_else(|| "–".into()),
                percent(technology.filter(|_| kind.is_some()).map(|t| t.probability)),
                modulation.map_or("–".into(), |m| words::modulation(&m.label).to_owned()),
                percent(modulation.map(|m| m.probability)),
            ]
        })
        .collect();
    let mut blocks = vec![fact(words::scale())];
    if rows.is_empty() {
        blocks.push(fact("There is no emission to give a probability of."));
    } else {
        blocks.push(Block::Table(Table {
            caption: "Probability that each radiates from inside, by its levels, and of what it is. \
                      Excess is the loudest level in a room over the best reference outside, with its \
                      standard uncertainty; > where no reference received it, over what would have \
                      been received there; – where nothing tells."
                .into(),
            nature: Nature::Calculation,
            rows,
            columns: vec![
                column("Row", ColumnKind::Short),
                column("Inside", ColumnKind::Number),
                column("Excess, dB", ColumnKind::Number),
                column("Kind", ColumnKind::Wide),
                column("Probability", ColumnKind::Number),
                column("Modulation", ColumnKind::Text),
                column("Probability", ColumnKind::Number),
            ],
        }));
    }
    for row in view.rows(is_finding) {
        let why = row.attention.reasons.iter().filter(|reason| is_of_origin(&reason.code));
        let why: Vec<String> = why.map(|reason| words::sentence(&reason.text)).collect();
        if !why.is_empty() {
            blocks.push(Block::Heading(format!("{}: what its probability rests on", row.id)));
            blocks.push(Block::List(Nature::Calculation, "", why));
        }
    }
    Section { id: "probabilities", title: "Probabilities".into(), blocks, ..Section::default() }
}

fn evidence(view: &View<'_>) -> Section {
    let mut rows: Vec<Vec<String>> = Vec::new();
    let record = &view.facts.record;
    let captures = view.facts.captures.iter().map(|capture| (&capture.id, &capture.files));
    let items = record.found_items.iter().map(|item| (&item.id, &item.photographs));
    let photographs = record.photographs.iter().map(|one| (&one.id, one.file.as_slice()));
    let plans = record.floors.iter().map(|floor| (&floor.id, floor.image.as_slice()));
    let all = captures.chain(items).map(|(of, files)| (of, &files[..]));
    for (of, files) in all.chain(photographs).chain(plans) {
        for file in files {
            rows.push(vec![
                of.clone(),
                file.name.clone(),
                file.bytes.to_string(),
                file.sha256.clone(),
            ]);
        }
    }
    let blocks = if rows.is_empty() {
        vec![fact("The survey has no evidence file.")]
    } else {
        vec![Block::Table(Table {
            caption: "Evidence files, kept unchanged under their SHA-256 (FIPS 180-4).".into(),
            nature: Nature::Fact,
            rows,
            columns: vec![
                column("Of", ColumnKind::Short),
                column("Name", ColumnKind::Text),
                column("Bytes", ColumnKind::Number),
                column("SHA-256", ColumnKind::Code),
            ],
        })]
    };
    Section { id: "evidence", title: "Evidence".into(), blocks, ..Section::default() }
}

fn journal(view: &View<'_>) -> Section {
    let found = &view.facts.verification;
    let when = view.when.long(view.facts.made);
    let mut blocks = vec![if found.ok {
        fact(format!(
            "When this report was made ({when}), every evidence file was hashed and the journal's chain \
             computed anew: nothing is altered or missing."
        ))
    } else {
        Block::Caution(
            "Not as it was written".into(),
            format!("When this report was made ({when}), something was altered or missing:"),
        )
    }];
    if !found.faults.is_empty() {
        let faults = found.faults.iter().map(ToString::to_string).collect();
        blocks.push(Block::List(Nature::Fact, "", faults));
    }
    if !found.warnings.is_empty() {
        blocks.push(Block::List(Nature::Fact, "", found.warnings.clone()));
    }
    let values = [
        ("evidence files", format!("{}, {} bytes", found.files, found.bytes)),
        ("journal entries", found.entries.to_string()),
        ("journal head", found.head.clone()),
        ("survey", view.facts.record.survey.id.clone()),
        ("program", format!("stillroom {}", view.facts.version)),
        ("time zone", view.facts.record.survey.time_zone.clone()),
        ("region of allocations", view.facts.record.survey.region.clone()),
    ];
    let values = values.map(|(name, value)| (name.to_owned(), value)).to_vec();
    blocks.push(Block::Values(Nature::Fact, values));
    blocks.push(fact(
        "The head is the hash of the journal's last entry. Whoever keeps it, written down elsewhere, can \
         tell later whether anything of this survey was changed or cut off.",
    ));
    Section { id: "journal", title: "Journal and program".into(), blocks, ..Section::default() }
}
