//! By what right the survey was made, or that nobody recorded any; and what was done outside it.

use super::view::View;
use crate::model::{Block, Nature, fact};
use crate::words::{clipped, counted, listed};
use survey::Authority;

/// Measurements named; the rest are counted.
const NAMED: usize = 12;
/// The same where there is little room.
const NAMED_SHORT: usize = 3;
/// Letters of a name where there is little room.
const LETTERS: usize = 60;

/// All that is recorded of it.
pub(super) fn blocks(view: &View<'_>) -> Vec<Block> {
    let authorities = &view.facts.record.authority;
    if authorities.is_empty() {
        return vec![missing()];
    }
    let mut blocks: Vec<Block> = authorities.iter().map(|one| values(view, one)).collect();
    blocks.extend(beyond(view, NAMED));
    if view.facts.record.brief.is_none() {
        blocks.push(fact("What the client fears, and who could have had access, is not recorded."));
    }
    blocks
}

/// The same in few lines.
pub(super) fn short(view: &View<'_>) -> Vec<Block> {
    let authorities = &view.facts.record.authority;
    let Some(first) = authorities.first() else { return vec![missing()] };
    let listening = if first.listening { "given" } else { "not given" };
    let more = match authorities.len() - 1 {
        0 => String::new(),
        n => format!(" {} recorded besides.", counted(n as u64, "more is", "more are")),
    };
    let said = format!(
        "Given by {} ({}), for {}, from {} to {}; listening {listening}.{more}",
        clipped(&first.who, LETTERS),
        clipped(&first.right, LETTERS),
        counted(first.rooms.len() as u64, "named room", "named rooms"),
        view.when.bound(first.from),
        view.when.bound(first.to)
    );
    let mut blocks = vec![fact(said)];
    blocks.extend(beyond(view, NAMED_SHORT));
    blocks
}

fn missing() -> Block {
    Block::Caution(
        "The authority is missing".into(),
        "No written authority for this survey is recorded: not who gave it, by what right, for which \
         rooms or for which time. It has to be in writing before any work begins."
            .into(),
    )
}

/// What was done outside the authority, naming so many measurements and places.
fn beyond(view: &View<'_>, named: usize) -> Vec<Block> {
    let mut blocks = Vec::new();
    let beyond = outside_time(view);
    if !beyond.is_empty() {
        let shown: Vec<String> = beyond.iter().take(named).cloned().collect();
        let rest = beyond.len() - shown.len();
        let rest = if rest > 0 { format!(" and {rest} more") } else { String::new() };
        blocks.push(Block::Caution(
            "Measured outside the authorised time".into(),
            format!(
                "{} not within the time that the authority names: {}{rest}.",
                if beyond.len() == 1 { "1 measurement lies" } else { "These measurements lie" },
                shown.join(", ")
            ),
        ));
    }
    let rooms = outside_rooms(view);
    if !rooms.is_empty() {
        blocks.push(Block::Caution(
            "Measured in places that the authority does not name".into(),
            format!(
                "{} inside not named in it: {}{}.",
                counted(rooms.len() as u64, "place", "places"),
                listed(&rooms[..rooms.len().min(named)]),
                if rooms.len() > named { " and others" } else { "" }
            ),
        ));
    }
    blocks
}

fn values(view: &View<'_>, authority: &Authority) -> Block {
    let or_not =
        |text: &str| if text.trim().is_empty() { "not stated".into() } else { text.to_owned() };
    let rooms = if authority.rooms.is_empty() {
        "none named".to_owned()
    } else {
        authority.rooms.join(", ")
    };
    let listening = match (authority.listening, &authority.listening_terms) {
        (false, _) => "not given: no sound or picture was to be made out".to_owned(),
        (true, Some(terms)) => format!("given: {terms}"),
        (true, None) => "given".to_owned(),
    };
    let time =
        format!("from {} to {}", view.when.bound(authority.from), view.when.bound(authority.to));
    Block::Values(
        Nature::Fact,
        vec![
            ("given by".into(), or_not(&authority.who)),
            ("by what right".into(), or_not(&authority.right)),
            ("rooms".into(), rooms),
            ("time".into(), time),
            ("listening".into(), listening),
            ("paper".into(), authority.document.clone().unwrap_or_else(|| "none named".into())),
        ],
    )
}

/// Ids of measurements that lie, in part at least, in no authorised time.
fn outside_time(view: &View<'_>) -> Vec<String> {
    let beyond = survey::outside_time(&view.facts.record.authority, &view.facts.ledger.captures);
    let told = beyond
        .iter()
        .map(|one| format!("{} ({})", one.capture, view.when.span(one.from, one.until)));
    told.collect()
}

/// Places inside that were measured and that no authority names; none where one names no rooms.
fn outside_rooms(view: &View<'_>) -> Vec<String> {
    survey::outside_rooms(&view.facts.record.authority, &view.covered)
}
