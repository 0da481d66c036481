//! What a survey cannot say, in words, each from what was or was not done in it.

use super::checked;
use super::view::View;
use crate::words;
use ledger::{CaptureKind, Role};
use survey::{Coupling, RoomState};

/// Rooms told one by one; the table has all.
const ROOMS_TOLD: usize = 12;

/// Every limit that applies, one sentence or two each.
pub(super) fn all(view: &View<'_>) -> Vec<String> {
    let mut limits = vec![silence(view)];
    limits.extend(not_heard(view));
    limits.extend(turns(view));
    limits.extend(conditions(view));
    limits.extend(bands(view));
    limits.push(
        "A device that only stores what it hears, or sends later, or sends by wire or light, radiates \
         nothing that these measurements could receive."
            .into(),
    );
    limits.extend(couplings(view));
    limits.extend(comparisons(view));
    limits.push(chance(view));
    limits.extend(left_out(view));
    limits
}

/// The longest listening, room by room.
fn silence(view: &View<'_>) -> String {
    let mut longest: Vec<(String, f64)> = Vec::new();
    let whole = view.covered.iter().filter(|c| c.inside && !c.in_turns);
    for covered in whole {
        match longest.iter_mut().find(|(place, _)| *place == covered.place) {
            Some((_, s)) => *s = s.max(covered.longest_s),
            None => longest.push((covered.place.clone(), covered.longest_s)),
        }
    }
    let said = "A device silent for longer than the longest listening was not covered";
    if view.covered.iter().all(|c| !c.inside || c.band_hz.is_none()) {
        return format!("{said}, and in no room is it stated which bands were listened to.");
    }
    if longest.is_empty() {
        return format!("{said}: no band of any room was listened to without a gap.");
    }
    let more = longest.len().saturating_sub(ROOMS_TOLD);
    let mut each: Vec<String> = longest
        .iter()
        .take(ROOMS_TOLD)
        .map(|(place, s)| format!("{place} {}", words::length(*s)))
        .collect();
    if more > 0 {
        each.push(format!("{} in the table", words::counted(more as u64, "more", "more")));
    }
    format!("{said}. The longest listening, in any band: {}.", each.join(", "))
}

fn not_heard(view: &View<'_>) -> Option<String> {
    let rooms = view.rooms_not_heard();
    (!rooms.is_empty()).then(|| {
        format!(
            "Nothing was measured in {}: this survey says nothing about a transmitter there that is \
             too weak to be received from another room.",
            words::listed(&rooms)
        )
    })
}

/// How a room was while it was measured, as far as that is stated.
#[derive(Default)]
struct Was {
    empty: bool,
    in_use: bool,
    not_stated: bool,
}

/// Whether the rooms were as they are when they are overheard.
fn conditions(view: &View<'_>) -> Vec<String> {
    let known = &view.facts.record.conditions;
    let state = |name: Option<&String>| known.iter().find(|c| Some(&c.name) == name)?.state;
    let mut rooms: Vec<(&str, Was)> = Vec::new();
    for covered in view.covered.iter().filter(|covered| covered.inside) {
        let found = rooms.iter().position(|(room, _)| *room == covered.place);
        let at = found.unwrap_or_else(|| {
            rooms.push((&covered.place, Was::default()));
            rooms.len() - 1
        });
        let Some((_, was)) = rooms.get_mut(at) else { continue };
        for condition in &covered.conditions {
            match state(condition.name.as_ref()) {
                Some(RoomState::Empty) => was.empty = true,
                Some(_) => was.in_use = true,
                None => was.not_stated = true,
            }
        }
    }
    let which = |is: &dyn Fn(&Was) -> bool| -> Vec<&str> {
        rooms.iter().filter(|(_, was)| !was.in_use && is(was)).map(|(room, _)| *room).collect()
    };
    let silent =
        "a device that is switched on by voices, by a timer or from afar may have been silent";
    let mut said = Vec::new();
    let empty = which(&|was| !was.not_stated);
    if !empty.is_empty() {
        said.push(format!("Measured only while empty: {}. There {silent}.", told(&empty)));
    }
    let never = which(&|was| was.empty && was.not_stated);
    if !never.is_empty() {
        said.push(format!(
            "Measured while empty, and otherwise in a condition that is not stated: {}. Unless the room \
             was in use then, {silent}.",
            told(&never)
        ));
    }
    let not_stated = which(&|was| !was.empty);
    if !not_stated.is_empty() {
        said.push(format!(
            "Whether the room was in use while it was measured is not stated for {}. Where it was not, \
             {silent}.",
            told(&not_stated)
        ));
    }
    said
}

/// Rooms of which bands were listened to with gaps.
fn turns(view: &View<'_>) -> Vec<String> {
    let mut rooms: Vec<(&str, bool, bool)> = Vec::new();
    let known = |covered: &&survey::Covered| covered.inside && covered.band_hz.is_some();
    for covered in view.covered.iter().filter(known) {
        let (whole, in_turns) = (!covered.in_turns, covered.in_turns);
        match rooms.iter_mut().find(|(room, ..)| *room == covered.place) {
            Some(room) => (room.1, room.2) = (room.1 | whole, room.2 | in_turns),
            None => rooms.push((&covered.place, whole, in_turns)),
        }
    }
    let which = |also_whole: bool| -> Vec<&str> {
        let rooms = rooms.iter().filter(|(_, whole, turns)| *turns && *whole == also_whole);
        rooms.map(|(room, ..)| *room).collect()
    };
    let gaps = "bands were looked at in turns, or through a log that shows only what was heard, and a \
                burst that fell into a gap was missed";
    let all = which(false);
    let some = which(true);
    let mut said = Vec::new();
    if !all.is_empty() {
        said.push(format!("No band was listened to without a gap in {}: {gaps}.", told(&all)));
    }
    if !some.is_empty() {
        said.push(format!(
            "Some bands were listened to only with gaps in {}: these {gaps}.",
            told(&some)
        ));
    }
    said
}

/// Rooms by name; beyond a dozen the rest are counted.
fn told(rooms: &[&str]) -> String {
    let mut names: Vec<String> =
        rooms.iter().take(ROOMS_TOLD).map(|room| (*room).to_owned()).collect();
    let more = rooms.len() - names.len();
    if more > 0 {
        names.push(words::counted(more as u64, "more", "more"));
    }
    words::listed(&names)
}

/// The outermost edges of what was listened to.
fn bands(view: &View<'_>) -> Vec<String> {
    let edges = view.covered.iter().filter(|c| c.inside).filter_map(|c| c.band_hz);
    let (low, high) =
        edges.fold((f64::INFINITY, 0.0f64), |(l, h), (low, high)| (l.min(low), h.max(high)));
    let mut said = Vec::new();
    if low < high {
        said.push(format!(
            "Below {} and above {} no room was listened to, nor in the gaps that the table shows; an \
             emission weaker than its levels was not covered either.",
            words::frequency(low),
            words::frequency(high)
        ));
    }
    if view.covered.iter().any(|c| c.band_hz.is_none()) {
        said.push(
            "For some event logs the bands that the detector listened to are not stated: that it \
             heard nothing at a place says nothing there."
                .into(),
        );
    }
    if view.covered.iter().any(|c| c.limit_dbfs.is_some()) {
        said.push(
            "Levels in dBFS are those of a receiver that is not calibrated: they compare only with \
             one another, on the same equipment."
                .into(),
        );
    }
    said
}

fn couplings(view: &View<'_>) -> Option<String> {
    let used = |coupling: Coupling| {
        let mut counting = view.counting();
        counting.any(|capture| {
            let mut chains = view.facts.record.chains.iter();
            chains.any(|c| Some(&c.name) == capture.chain.as_ref() && c.coupling == coupling)
        })
    };
    let without: Vec<String> = [
        (Coupling::Mains, "the mains"),
        (Coupling::Line, "telephone and data lines"),
        (Coupling::Light, "light and infrared"),
    ]
    .into_iter()
    .filter(|(coupling, _)| !used(*coupling))
    .map(|(_, words)| words.to_owned())
    .collect();
    (!without.is_empty()).then(|| format!("Not measured: {}.", words::listed(&without)))
}

fn comparisons(view: &View<'_>) -> Vec<String> {
    let has = |role: Role| view.counting().any(|capture| capture.role == role);
    let samples = view.counting().any(|capture| capture.kind == CaptureKind::Iq);
    let mut said = Vec::new();
    let outside = view.covered.iter().any(|covered| !covered.inside);
    if !has(Role::Reference) && !outside {
        said.push(
            "No reference outside the rooms was recorded: levels cannot tell what comes from \
             inside."
                .into(),
        );
    }
    if samples && !has(Role::NoAntenna) {
        said.push(
            "The receiver was not recorded without its antenna: what it makes itself is known only \
             by its pattern."
                .into(),
        );
    }
    if !has(Role::Check) {
        said.push(
            "No measurement of a known sender is recorded, so the equipment was not shown to receive \
             as it should on that day."
                .into(),
        );
    } else if let unchecked = checked::unchecked(view)
        && !unchecked.is_empty()
    {
        said.push(format!(
            "No known sender was measured with {}: that equipment was not shown to receive as it \
             should on that day.",
            words::listed(&unchecked)
        ));
    }
    said
}

fn chance(view: &View<'_>) -> String {
    let feared =
        view.facts.record.brief.as_ref().map(|brief| &brief.feared[..]).unwrap_or_default();
    if feared.is_empty() {
        return "What kinds of transmitter are feared is not recorded, and no chance of detection \
                was calculated."
            .into();
    }
    format!("No chance of detection was calculated for what is feared: {}.", feared.join("; "))
}

/// What was recorded and does not count.
fn left_out(view: &View<'_>) -> Vec<String> {
    let mut said = Vec::new();
    for capture in &view.facts.ledger.captures {
        if let Some(reason) = &capture.set_aside {
            let reason = words::sentence(reason);
            said.push(format!(
                "Measurement {} is set aside and does not count. {reason}",
                capture.id
            ));
        }
    }
    let warned: Vec<String> = view
        .counting()
        .filter(|capture| !capture.warnings.is_empty())
        .map(|capture| capture.id.clone())
        .collect();
    if !warned.is_empty() {
        said.push(format!(
            "The analyses of {} warn of what the receiver itself hid or made; it is listed under \
             'What was recorded'.",
            words::listed(&warned)
        ));
    }
    let warnings = view.facts.warnings.iter();
    said.extend(warnings.map(|warning| words::sentence(&warning.text)));
    said
}
