//! The answer first, in plain words, with what it rests on: page one.

use super::advice::paragraphs;
use super::authority;
use super::view::View;
use crate::facts::is_finding;
use crate::model::{Block, Nature, Section, Statement, fact, opinion};
use crate::words::{clipped, counted, listed, place_of, sentence};
use ledger::{LedgerRow, State};

/// Rows named in the answer; the findings have all.
const NAMED: usize = 6;

pub(super) fn section(view: &View<'_>) -> Section {
    let mut blocks = said(view, usize::MAX);
    blocks.extend(asked(view));
    blocks.push(Block::Heading("How the account stands".into()));
    blocks.push(balance(view));
    blocks.push(Block::Heading("Authority".into()));
    blocks.extend(authority::blocks(view));
    blocks.push(Block::Heading("How to read this report".into()));
    blocks.push(fact(
        "The margin says what a statement rests on: a fact was recorded or measured, a calculation was \
         computed from that, an opinion was judged by a person. All of it holds as found during the \
         measurements, not before or since.",
    ));
    Section { id: "answer", title: "The answer".into(), blocks, ..Section::default() }
}

/// What the client said, as far as it is recorded. Who could know and who had access to the rooms is
/// left to the record: a report is passed on.
fn asked(view: &View<'_>) -> Vec<Block> {
    let Some(brief) = view.brief() else { return Vec::new() };
    let mut values = Vec::new();
    values.extend(brief.leaked.clone().map(|leaked| ("what leaked".to_owned(), leaked)));
    if !brief.feared.is_empty() {
        values.push(("what is feared".to_owned(), brief.feared.join("; ")));
    }
    let heard = match (brief.heard_at, &brief.heard_where) {
        (Some(at), Some(place)) => Some(format!("{}, {place}", view.when.long(at))),
        (Some(at), None) => Some(view.when.long(at)),
        (None, place) => place.clone(),
    };
    values.extend(heard.map(|heard| ("when and where".to_owned(), heard)));
    if values.is_empty() {
        return Vec::new();
    }
    vec![Block::Heading("What the client said".into()), Block::Values(Nature::Fact, values)]
}

/// The answer, then what it is worth. Of the technician's own summary so many letters.
pub(super) fn said(view: &View<'_>, letters: usize) -> Vec<Block> {
    let answer = |nature, text: String| Block::Answer(Statement { nature, text });
    let heard = !view.rooms_heard().is_empty();
    let findings = view.rows(is_finding);
    let items = view.facts.record.found_items.len() as u64;
    let balance = view.facts.ledger.balance;
    let counted_up = if !findings.is_empty() || items > 0 {
        answer(Nature::Opinion, findings_in_words(view, &findings, items))
    } else if view.facts.ledger.emissions.is_empty() {
        answer(Nature::Fact, no_emission(view, heard))
    } else if balance.open == view.facts.ledger.emissions.len() as u64 {
        answer(
            Nature::Fact,
            "Nothing has been decided yet. No conclusion can be drawn from this survey.".into(),
        )
    } else if balance.open > 0 {
        answer(
            Nature::Fact,
            format!(
                "This survey is not finished: {} not decided. No conclusion can be drawn from it yet.",
                are(balance.open)
            ),
        )
    } else if !heard {
        answer(
            Nature::Fact,
            "No room was listened to. This survey says nothing about whether a transmitter is in one."
                .into(),
        )
    } else {
        answer(Nature::Opinion, accounted(balance.unresolved))
    };
    let mut blocks = Vec::new();
    // Whoever answers for the report speaks first; what the account says stands below it, always.
    let summary = view.statement().and_then(|statement| statement.summary.as_deref());
    let summary = summary.map(|text| clipped(text, letters));
    let mut own = summary.map(|text| paragraphs(&text)).unwrap_or_default().into_iter();
    match (own.next(), counted_up) {
        (Some(first), Block::Answer(counted_up)) => {
            blocks.push(answer(Nature::Opinion, first));
            blocks.extend(own.map(opinion));
            blocks.push(Block::Paragraph(counted_up));
        }
        (_, counted_up) => blocks.push(counted_up),
    }
    if balance.open > 0 && (!findings.is_empty() || items > 0) {
        blocks.push(fact(format!(
            "The account is not finished: {} still to be decided.",
            are(balance.open)
        )));
    }
    if balance.changed > 0 {
        blocks.push(fact(format!(
            "Since they were decided, something new was received of {}: those decisions have to be \
             confirmed.",
            counted(balance.changed, "emission", "emissions")
        )));
    }
    blocks.push(fact(worth(view)));
    if !view.facts.verification.ok {
        blocks.push(Block::Caution(
            "Evidence or journal is not as it was written".into(),
            "Checking this survey found something altered or missing; the annex lists it. Until that \
             is explained, nothing in this report should be relied on."
                .into(),
        ));
    }
    blocks
}

fn are(n: u64) -> String {
    if n == 1 { "1 emission is".to_owned() } else { format!("{n} emissions are") }
}

fn no_emission(view: &View<'_>, heard: bool) -> String {
    if view.counting().next().is_none() {
        return "Nothing was measured. This survey says nothing yet.".into();
    }
    if heard {
        "No emission was received in the rooms that were listened to. That does not show that no \
         transmitter is there: it holds only as far as the coverage below reaches."
            .into()
    } else {
        "No room was listened to. This survey says nothing about whether a transmitter is in one."
            .into()
    }
}

fn accounted(unresolved: u64) -> String {
    let rest = match unresolved {
        0 => "Every emission that was received was accounted for".to_owned(),
        n => format!(
            "No emission was judged suspect; {} could not be resolved",
            counted(n, "emission", "emissions")
        ),
    };
    format!(
        "{rest}. That does not show that no transmitter is there: it holds only as far as the coverage \
         of this survey reaches."
    )
}

/// What was found, in a sentence or two.
fn findings_in_words(view: &View<'_>, findings: &[&LedgerRow], items: u64) -> String {
    let named = |is: State| -> Vec<String> {
        let rows = findings.iter().filter(|row| row.decision.state == is);
        rows.map(|row| format!("{} ({})", row.id, place_of(row))).collect()
    };
    let mut sentences = Vec::new();
    if items > 0 {
        let things: Vec<String> = view
            .facts
            .record
            .found_items
            .iter()
            .take(NAMED)
            .map(|item| match &item.place {
                Some(place) => format!("{} ({})", item.what, view.place(place)),
                None => item.what.clone(),
            })
            .collect();
        let was = counted(items, "thing was found", "things were found");
        sentences.push(format!("{was}: {}{}.", listed(&things), more(items as usize)));
    }
    for (is, one, many) in [
        (
            State::Located,
            "emission was traced to its place",
            "emissions were traced to their places",
        ),
        (State::HandedOver, "emission was handed over", "emissions were handed over"),
        (
            State::Suspect,
            "emission is suspect and not yet traced",
            "emissions are suspect and not yet traced",
        ),
    ] {
        let names = named(is);
        if !names.is_empty() {
            let shown: Vec<String> = names.iter().take(NAMED).cloned().collect();
            let were = counted(names.len() as u64, one, many);
            sentences.push(format!("{were}: {}{}.", listed(&shown), more(names.len())));
        }
    }
    sentences.iter().map(|text| sentence(text)).collect::<Vec<_>>().join(" ")
}

fn more(n: usize) -> String {
    if n > NAMED { format!(" and {} more", n - NAMED) } else { String::new() }
}

/// What the answer rests on: always printed with it.
fn worth(view: &View<'_>) -> String {
    let rooms = view.rooms_heard();
    if rooms.is_empty() {
        return "Coverage: no room was listened to in any measurement that counts.".into();
    }
    let inside = || view.covered.iter().filter(|c| c.inside);
    let longest = inside().filter(|c| !c.in_turns).map(|c| c.longest_s).fold(0.0, f64::max);
    let stretch = if longest > 0.0 {
        format!(
            "the longest unbroken listening in any of them was {}",
            crate::words::length(longest)
        )
    } else if inside().all(|c| c.band_hz.is_none()) {
        "which bands were listened to is not stated".to_owned()
    } else {
        "no band is shown to have been listened to without a gap".to_owned()
    };
    let shown: Vec<String> = rooms.iter().take(2 * NAMED).cloned().collect();
    let rest = rooms.len() - shown.len();
    let rest = if rest > 0 { format!(" and {rest} more") } else { String::new() };
    format!(
        "Coverage: {} {} listened to ({}{rest}); {stretch}. A device silent for longer than the longest \
         listening was not covered.",
        counted(rooms.len() as u64, "room or place inside", "rooms and places inside"),
        if rooms.len() == 1 { "was" } else { "were" },
        shown.join(", "),
    )
}

/// The counts by decision.
pub(super) fn balance(view: &View<'_>) -> Block {
    let b = view.facts.ledger.balance;
    let total = view.facts.ledger.emissions.len() as u64;
    let counts = [
        ("received in all", total),
        ("accounted for", b.accounted),
        ("suspect", b.suspect),
        ("located", b.located),
        ("handed over", b.handed_over),
        ("not resolved", b.unresolved),
        ("open", b.open),
    ];
    let values = counts.map(|(name, n)| (name.to_owned(), n.to_string())).to_vec();
    Block::Values(Nature::Fact, values)
}
