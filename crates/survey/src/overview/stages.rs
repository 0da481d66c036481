//! The stages of the job, each with what stands done and what is missing, in words with counts.

use crate::authorised::{outside_rooms, outside_time, rooms_heard, rooms_not_heard};
use crate::covered::Covered;
use crate::describe::Record;
use crate::reported::Reported;
use ledger::{CaptureInfo, CaptureKind, Ledger, Role};
use serde::Serialize;
use std::collections::BTreeSet;

/// Names told one by one; more are counted.
const NAMED: usize = 6;

/// A stage of the job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum StageName {
    /// What the client said.
    Brief,
    /// The right to work.
    Authority,
    /// Transmitters known before.
    KnownDevices,
    /// A known test sender, received.
    EquipmentCheck,
    /// Something to compare with.
    References,
    /// The receiver's own lines.
    NoAntenna,
    /// The rooms.
    Rooms,
    /// The search by hand.
    Search,
    /// Every row decided.
    Decisions,
    /// What the client reads.
    Report,
}

/// How a stage stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum StageState {
    /// Nothing is there.
    Missing,
    /// Something is there, something is missing.
    Part,
    /// Nothing is missing.
    Done,
    /// Not for this survey.
    NotNeeded,
}

/// A stage of the job as it stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Stage {
    /// Which.
    pub stage: StageName,
    /// How it stands.
    pub standing: StageState,
    /// What stands done, each in words.
    pub done: Vec<String>,
    /// What is missing, each in words.
    pub missing: Vec<String>,
}

/// What the stages are told from.
pub(super) struct Seen<'a> {
    pub(super) record: &'a Record,
    pub(super) ledger: &'a Ledger,
    pub(super) covered: &'a [Covered],
    pub(super) reported: Option<&'a Reported>,
}

/// All stages, in order.
pub(super) fn all(seen: &Seen<'_>) -> Vec<Stage> {
    use StageName as S;
    let stage = |stage, (done, missing): Told| {
        let standing = match (done.is_empty(), missing.is_empty()) {
            (true, true) => StageState::NotNeeded,
            (false, true) => StageState::Done,
            (false, false) => StageState::Part,
            (true, false) => StageState::Missing,
        };
        Stage { stage, standing, done, missing }
    };
    vec![
        stage(S::Brief, brief(seen)),
        stage(S::Authority, authority(seen)),
        stage(S::KnownDevices, known_devices(seen)),
        stage(S::EquipmentCheck, equipment_check(seen)),
        stage(S::References, references(seen)),
        stage(S::NoAntenna, no_antenna(seen)),
        stage(S::Rooms, rooms(seen)),
        stage(S::Search, search(seen)),
        stage(S::Decisions, decisions(seen)),
        stage(S::Report, report(seen)),
    ]
}

/// What stands done, and what is missing.
type Told = (Vec<String>, Vec<String>);

impl Seen<'_> {
    /// The captures of a role that count.
    fn of(&self, role: Role) -> Vec<&CaptureInfo> {
        let counts = |c: &&CaptureInfo| c.set_aside.is_none() && c.role == role;
        self.ledger.captures.iter().filter(counts).collect()
    }
}

fn says(text: &Option<String>) -> bool {
    text.as_ref().is_some_and(|text| !text.trim().is_empty())
}

fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

/// Names in a row, the rest counted.
fn named(names: &[String]) -> String {
    let shown = names[..names.len().min(NAMED)].join(", ");
    match names.len().saturating_sub(NAMED) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

/// Each part with whether it is there, what is said if so, and if not.
fn parts(of: Vec<(bool, String, &str)>) -> Told {
    let (mut done, mut missing) = (Vec::new(), Vec::new());
    for (there, said, lacks) in of {
        if there { done.push(said) } else { missing.push(lacks.to_owned()) }
    }
    (done, missing)
}

fn brief(seen: &Seen<'_>) -> Told {
    let Some(brief) = &seen.record.brief else {
        return (Vec::new(), vec!["what the client said is not written down".into()]);
    };
    let feared = counted(brief.feared.len(), "thing feared", "things feared");
    parts(vec![
        (says(&brief.leaked), "what leaked".into(), "what leaked"),
        (!brief.feared.is_empty(), feared, "what is feared"),
        (says(&brief.who_could_know), "who could know".into(), "who could know"),
        (says(&brief.who_had_access), "who had access".into(), "who had access"),
        (says(&brief.heard_where), "where it was heard".into(), "where it was heard"),
    ])
}

fn authority(seen: &Seen<'_>) -> Told {
    let all = &seen.record.authority;
    if all.is_empty() {
        return (Vec::new(), vec!["no written authority is recorded".into()]);
    }
    let given: Vec<String> = all.iter().map(|one| one.who.clone()).collect();
    let rooms: usize = all.iter().map(|one| one.rooms.len()).sum();
    let right = all.iter().all(|one| !one.right.trim().is_empty());
    let (mut done, mut missing) = parts(vec![
        (
            given.iter().all(|who| !who.trim().is_empty()),
            format!("given by {}", named(&given)),
            "who gave it",
        ),
        (right, "by what right".into(), "by what right it was given"),
        (rooms > 0, counted(rooms, "room named", "rooms named"), "for which rooms"),
        (
            all.iter().any(|one| one.from.is_some() && one.to.is_some()),
            "from when to when".into(),
            "from when to when",
        ),
        (all.iter().any(|one| says(&one.document)), "the paper".into(), "the paper that says so"),
    ]);
    let listening = all.iter().any(|one| one.listening);
    done.push(if listening { "listening is given" } else { "listening is not given" }.into());
    let beyond = outside_time(all, &seen.ledger.captures);
    if !beyond.is_empty() {
        let ids: Vec<String> = beyond.into_iter().map(|one| one.capture).collect();
        missing.push(format!(
            "{} outside the authorised time: {}",
            counted(ids.len(), "capture", "captures"),
            named(&ids)
        ));
    }
    let beyond = outside_rooms(all, seen.covered);
    if !beyond.is_empty() {
        missing.push(format!("measured in places that it does not name: {}", named(&beyond)));
    }
    (done, missing)
}

fn known_devices(seen: &Seen<'_>) -> Told {
    let n = seen.record.known_devices.len();
    let lacks = "no known device is listed, neither the client's nor one's own kit";
    parts(vec![(n > 0, counted(n, "known device", "known devices"), lacks)])
}

fn equipment_check(seen: &Seen<'_>) -> Told {
    let checks = seen.of(Role::Check);
    if checks.is_empty() {
        return (Vec::new(), vec!["no known test sender was recorded".into()]);
    }
    let receptions = || seen.ledger.emissions.iter().flat_map(|row| &row.receptions);
    let heard =
        checks.iter().filter(|c| receptions().any(|r| r.heard && r.capture == c.id)).count();
    let done = format!("{} of a test sender", counted(checks.len(), "capture", "captures"));
    let silent = checks.len() - heard;
    let missing =
        (silent > 0).then(|| format!("{} received nothing", counted(silent, "of them", "of them")));
    (vec![done], missing.into_iter().collect())
}

fn references(seen: &Seen<'_>) -> Told {
    let all = seen.of(Role::Reference);
    let places: BTreeSet<_> = all.iter().filter_map(|c| c.position.as_ref()).collect();
    let done = format!(
        "{} at {}",
        counted(all.len(), "capture", "captures"),
        counted(places.len(), "place", "places")
    );
    parts(vec![(!all.is_empty(), done, "no reference was recorded: outside, corridor, next floor")])
}

/// Only samples show a receiver's own lines.
fn no_antenna(seen: &Seen<'_>) -> Told {
    let samples = seen.ledger.captures.iter().filter(|c| c.kind == CaptureKind::Iq);
    let counting = samples.filter(|c| c.set_aside.is_none());
    let (without, with): (Vec<_>, Vec<_>) = counting.partition(|c| c.role == Role::NoAntenna);
    let chains: BTreeSet<_> = with.iter().filter_map(|c| c.chain.clone()).collect();
    let known: BTreeSet<_> = without.iter().filter_map(|c| c.chain.clone()).collect();
    let missing: Vec<String> = chains.difference(&known).cloned().collect();
    let lacks = (!missing.is_empty())
        .then(|| format!("not recorded with no antenna connected: {}", named(&missing)));
    let done = (!known.is_empty()).then(|| {
        counted(known.len(), "chain recorded with no antenna", "chains recorded with no antenna")
    });
    (done.into_iter().collect(), lacks.into_iter().collect())
}

fn rooms(seen: &Seen<'_>) -> Told {
    let heard = rooms_heard(seen.covered);
    let silent = rooms_not_heard(seen.covered, seen.record);
    let done = (!heard.is_empty()).then(|| {
        format!("{} listened to", counted(heard.len(), "room or place", "rooms or places"))
    });
    let lacks = match (silent.is_empty(), heard.is_empty()) {
        (false, _) => Some(format!("nothing was measured in {}", named(&silent))),
        (true, true) => Some("no room was listened to".into()),
        (true, false) => None,
    };
    (done.into_iter().collect(), lacks.into_iter().collect())
}

fn search(seen: &Seen<'_>) -> Told {
    let walks = seen.of(Role::Walk).len();
    let readings = seen.record.readings.len();
    let items = seen.record.found_items.len();
    let mut done = Vec::new();
    if walks > 0 {
        done.push(counted(walks, "capture on a walk", "captures on a walk"));
    }
    if readings > 0 {
        done.push(counted(readings, "reading", "readings"));
    }
    if items > 0 {
        done.push(counted(items, "found item", "found items"));
    }
    let missing = done.is_empty().then(|| "no walk, reading or found item is recorded".to_owned());
    (done, missing.into_iter().collect())
}

fn decisions(seen: &Seen<'_>) -> Told {
    let (balance, rows) = (seen.ledger.balance, seen.ledger.emissions.len());
    if rows == 0 {
        return (Vec::new(), vec!["the ledger has no row yet".into()]);
    }
    let decided = rows - (balance.open as usize).min(rows);
    let done = (decided > 0).then(|| format!("{decided} of {rows} decided"));
    let open = (balance.open > 0).then(|| format!("{} open", balance.open));
    let changed =
        (balance.changed > 0).then(|| format!("{} changed since decided", balance.changed));
    (done.into_iter().collect(), open.into_iter().chain(changed).collect())
}

/// That it was handed over is not in the record; that it was made is remembered beside it.
fn report(seen: &Seen<'_>) -> Told {
    let balances = ledger::balances(seen.ledger);
    let head = &seen.ledger.survey.journal_head;
    let (done, missing) = match (seen.reported, balances) {
        (Some(made), true) if made.journal_head == *head => (Some("made of all that stands"), None),
        (Some(made), false) if made.journal_head == *head => {
            (Some("made of all that stands"), Some("the account does not balance yet"))
        }
        (Some(_), _) => (Some("made once"), Some("the survey changed since: make it again")),
        (None, true) => (None, Some("the account balances: write it and hand it over")),
        (None, false) => (
            None,
            Some("the account does not balance yet; an interim page can be written at any time"),
        ),
    };
    let told = |text: Option<&str>| text.map(str::to_owned).into_iter().collect();
    (told(done), told(missing))
}
