//! The findings: emissions that are suspect, located or handed over, and things found; each with
//! what it is, where it was heard, why it matters, what to do.

use super::advice::paragraphs;
use super::view::View;
use super::{plans, plots, spectra};
use crate::facts::is_finding;
use crate::model::{Block, Figure, Nature, Plot, Section, calculation, fact, opinion};
use crate::words::{self, likelihood, listed, place_of, sentence};
use almanac::{Almanac, Carries, RoomSound};
use ledger::{FileInfo, LedgerRow, State};
use survey::FoundItem;

/// Reasons printed for a finding; the ledger has all.
const REASONS: usize = 5;

pub(super) fn section(view: &View<'_>) -> Section {
    let mut blocks = Vec::new();
    let rows = view.rows(is_finding);
    for item in &view.facts.record.found_items {
        blocks.extend(found(view, item));
    }
    for row in &rows {
        blocks.extend(finding(view, row));
    }
    if !rows.is_empty() {
        blocks.insert(0, scale());
    }
    if blocks.is_empty() {
        blocks.push(fact(
            "No emission is decided as suspect, located or handed over, and no found item is recorded. \
             What that is worth is said under coverage.",
        ));
    }
    Section {
        id: "findings",
        title: "Findings".into(),
        new_page: true,
        blocks,
        ..Section::default()
    }
}

fn finding(view: &View<'_>, row: &LedgerRow) -> Vec<Block> {
    let title = format!("{}: {}, {}", row.id, place_of(row), words::state(row.decision.state));
    let mut blocks = vec![Block::Heading(title), what(view, row), heard(view, row)];
    blocks.extend(spectra::of(view, row));
    blocks.extend(plots::levels(view, row).into_iter().map(Block::Figure));
    blocks.extend(plans::of(view, row).into_iter().map(Block::Figure));
    blocks.extend(plots::on_times(view, row).into_iter().map(Block::Figure));
    let why = row.attention.reasons.iter().filter(|reason| !is_of_origin(&reason.code));
    let why: Vec<String> = why.take(REASONS).map(|reason| sentence(&reason.text)).collect();
    if !why.is_empty() {
        blocks.push(Block::List(Nature::Calculation, "Why it matters:", why));
    }
    blocks.extend(carries(row).map(fact));
    if let Some(p) = row.origin.p_inside {
        let word = likelihood(p);
        blocks.push(calculation(format!(
            "By its levels it is {word} that it radiates from inside the premises."
        )));
    }
    blocks.push(opinion(decision(view, row)));
    let ids: Vec<&str> = row.aliases.iter().map(String::as_str).chain([row.id.as_str()]).collect();
    blocks.extend(judged(view, &ids, row.decision.state));
    blocks
}

/// What the technician thinks of it and advises; what anybody should do, where they say nothing.
fn judged(view: &View<'_>, ids: &[&str], state: State) -> Vec<Block> {
    let own = view.opinion_of(ids);
    let text = own.and_then(|own| own.text.as_deref()).map(paragraphs).unwrap_or_default();
    let mut blocks: Vec<Block> = text.into_iter().map(opinion).collect();
    match own.and_then(|own| own.advice.as_deref()).map(paragraphs) {
        Some(advice) if !advice.is_empty() => {
            blocks.push(Block::List(Nature::Opinion, "What to do:", advice));
        }
        _ => blocks.push(Block::Caution("What to do".into(), sentence(to_do(state)))),
    }
    blocks
}

/// The words of likelihood, printed where they are first used.
pub(super) fn scale() -> Block {
    Block::Figure(Figure {
        caption:
            "Words of likelihood in this report stand for these probabilities, and are used in no \
                  other sense."
                .into(),
        alternative: words::scale(),
        nature: Nature::Fact,
        plot: Plot::Scale(words::LIKELIHOOD.to_vec()),
    })
}

/// Whether a reason only says how a probability came about: that stands in the annex.
pub(super) fn is_of_origin(code: &str) -> bool {
    let of_origin = ["p_inside", "origin_priors", "premises", "ordinal_strength", "power_priors"];
    of_origin.contains(&code)
}

/// What it is, in values.
fn what(view: &View<'_>, row: &LedgerRow) -> Block {
    let emission = &row.emission;
    let u = emission.u.centre_hz.map(|u| format!(" (u {})", words::width(u)));
    let mut values = vec![
        ("where in frequency".to_owned(), format!("{}{}", place_of(row), u.unwrap_or_default())),
        ("occupied bandwidth".to_owned(), words::width_of(emission)),
        ("timing".to_owned(), words::timing(emission)),
    ];
    if let Some(technology) = &emission.technology
        && let Some(name) = words::technology_of(emission)
    {
        values.push(("kind".into(), format!("{name} ({})", likelihood(technology.probability))));
    }
    if let Some(modulation) = &emission.modulation
        && modulation.label != "unknown"
    {
        let name = words::modulation(&modulation.label);
        let word = likelihood(modulation.probability);
        values.push(("modulation".into(), format!("{name} ({word})")));
    }
    if let Some(identity) = &row.identity {
        values.push(("identity".into(), identity.clone()));
    }
    if let (Some(first), Some(last)) = (row.first, row.last) {
        values.push((
            "received".into(),
            format!("first {}, last {}", view.when.second(first), view.when.second(last)),
        ));
    }
    Block::Values(Nature::Calculation, values)
}

fn heard(view: &View<'_>, row: &LedgerRow) -> Block {
    let mut places: Vec<String> = Vec::new();
    for reception in row.receptions.iter().filter(|reception| reception.heard) {
        let place = view.place_of(reception);
        if !places.contains(&place) {
            places.push(place);
        }
    }
    let loudest = ledger::loudest(&row.receptions).map(|reception| {
        let level = words::level(reception).map(|level| format!(", {level}")).unwrap_or_default();
        format!(" It was loudest at {}{level}.", view.place_of(reception))
    });
    fact(format!("Heard at {}.{}", listed(&places), loudest.unwrap_or_default()))
}

/// What transmitters of its kind carry, by the published tables.
fn carries(row: &LedgerRow) -> Option<String> {
    let label = &row.emission.technology.as_ref()?.label;
    let known = Almanac::load().technology(label)?;
    let kinds: Vec<String> = known
        .carries
        .iter()
        .map(|carries| match carries {
            Carries::Voice => "voice",
            Carries::Data => "data",
            Carries::Video => "picture",
            Carries::Control => "commands",
            Carries::None => "nothing",
        })
        .map(str::to_owned)
        .collect();
    let sound = match known.could_carry_room_sound {
        RoomSound::Yes => "can carry the sound of a room as it is",
        RoomSound::Possible => "could carry the sound of a room if it were altered or misused",
        RoomSound::No => "cannot carry the sound of a room",
    };
    Some(format!("A transmitter of this kind carries {}; it {sound}.", listed(&kinds)))
}

/// The decision, by whom and when, in their words.
pub(super) fn decision(view: &View<'_>, row: &LedgerRow) -> String {
    let decision = &row.decision;
    let by = decision.by.as_deref().unwrap_or("somebody not named");
    let at = decision.at.map(|at| format!(" on {}", view.when.long(at))).unwrap_or_default();
    let reason = decision.reason.as_deref().map(sentence).unwrap_or_default();
    let state = words::state(decision.state);
    let mut text = format!("{by} decided{at}: {state}. {reason}");
    for changed in &decision.changed_since {
        text.push_str(&format!(" Since then: {}", sentence(&changed.text)));
    }
    text.trim_end().to_owned()
}

fn to_do(state: State) -> &'static str {
    match state {
        State::Located => {
            "touch, move and switch off nothing; keep the place as it is and do not speak there; \
             photograph it, note the time, keep recording; call the agreed number from the agreed \
             telephone, outside."
        }
        State::HandedOver => {
            "keep the record of who has had it; ask whoever holds it now before anything is done \
             with it; measure again once it is gone."
        }
        _ => {
            "do not speak of it in the rooms, and change nothing in them; keep recording; have it \
             traced to its place before anybody draws a conclusion."
        }
    }
}

/// A thing found.
fn found(view: &View<'_>, item: &FoundItem) -> Vec<Block> {
    let mut values = Vec::new();
    let mut add = |name: &str, value: Option<String>| {
        if let Some(value) = value {
            values.push((name.to_owned(), value));
        }
    };
    add("what", Some(item.what.clone()));
    add("where", item.place.as_ref().map(|place| view.place(place)));
    add("found", item.found_at.map(|at| view.when.long(at)));
    add("by", item.found_by.clone());
    let radiating = item.radiating.map(|is| if is { "yes, when it was found" } else { "no" });
    add("radiating", radiating.map(str::to_owned));
    add("emissions", (!item.emissions.is_empty()).then(|| item.emissions.join(", ")));
    let photographs = item.photographs.iter();
    let photographs: Vec<String> = photographs.map(|file| file.name.clone()).collect();
    add("photographs", (!photographs.is_empty()).then(|| photographs.join(", ")));
    let mut blocks = vec![
        Block::Heading(format!("{}: {}", item.id, item.what)),
        Block::Values(Nature::Fact, values),
    ];
    let custody: Vec<String> = item
        .custody
        .iter()
        .map(|step| {
            let at = step.at.map_or("time not stated".to_owned(), |at| view.when.minute(at));
            let from = step.from.as_deref().unwrap_or("not stated");
            let to = step.to.as_deref().unwrap_or("not stated");
            let note = step.note.as_deref().map(|note| format!(" ({note})")).unwrap_or_default();
            format!("{at}: from {from} to {to}{note}")
        })
        .collect();
    if custody.is_empty() {
        blocks.push(fact("No custody of it is recorded."));
    } else {
        blocks.push(Block::List(Nature::Fact, "Who has had it:", custody));
    }
    blocks.extend(item.photographs.iter().map(|file| photograph(view, item, file)));
    blocks.extend(item.notes.as_deref().map(|notes| opinion(sentence(notes))));
    blocks.extend(judged(view, &[&item.id], State::Located));
    blocks
}

/// A photograph, or that it is not shown.
fn photograph(view: &View<'_>, item: &FoundItem, file: &FileInfo) -> Block {
    let Some(photograph) = view.facts.photographs.get(&file.sha256) else {
        return fact(format!(
            "Photograph {} is kept as evidence and not shown here: it is no JPEG or PNG that can be \
             read, is too large, or one of too many.",
            file.name
        ));
    };
    Block::Figure(Figure {
        caption: format!(
            "Photograph of {}: {}. What the camera wrote beside the picture, like the place, is left out \
             here and kept in the evidence file.",
            item.id, file.name
        ),
        alternative: format!("Photograph of {}: {}", item.id, item.what),
        nature: Nature::Fact,
        plot: Plot::Photograph(photograph.clone()),
    })
}
