//! What to do next, by the ledger alone: what is still to be recorded, then what stands open. Each
//! face puts its own command or button beside a step.

use crate::contract::{CaptureInfo, CaptureKind, Ledger, LedgerRow, Role, State};
use identify::Emission;
use serde::{Deserialize, Serialize};
use units::Zone;

/// What a step asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum StepKind {
    /// Record anything: nothing was yet.
    RecordFirst,
    /// Record a reference outside.
    RecordReference,
    /// Record the rooms.
    RecordRooms,
    /// Record the receiver with no antenna.
    RecordNoAntenna,
    /// Look again at a row that was decided and changed since.
    LookAgain,
    /// Find out what a row is.
    FindOut,
    /// Account for rows that are louder outside.
    LouderOutside,
    /// Account for rows that are the receiver's own.
    ReceiverOwn,
}

/// A step.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Step {
    /// What it asks for.
    pub kind: StepKind,
    /// The same in words, with why; no full stop.
    pub text: String,
    /// Rows that it is about.
    pub rows: Vec<String>,
}

/// What to do next in a survey.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Next {
    /// How the account stands when no row is open.
    pub said: Option<String>,
    /// Steps, the first first.
    pub steps: Vec<Step>,
}

/// Whether every row is decided, and both a room and a reference were listened to.
pub fn balances(ledger: &Ledger) -> bool {
    ledger.balance.open == 0 && ledger.balance.changed == 0 && lacking(ledger).is_none()
}

/// What an account cannot do without, where it is missing.
pub fn lacking(ledger: &Ledger) -> Option<String> {
    let lacks = match (a_room(ledger), a_reference(ledger)) {
        (true, true) => return None,
        (false, false) => "nothing was listened to, neither in a room nor at a reference",
        (false, true) => "no room was listened to",
        (true, false) => "no reference was listened to",
    };
    Some(format!("Not balanced: {lacks}."))
}

/// What to do next.
pub fn next(ledger: &Ledger) -> Next {
    if ledger.captures.is_empty() {
        let text = "record a reference outside, then every room, and bring each in";
        return Next { said: None, steps: vec![step(StepKind::RecordFirst, text, &[])] };
    }
    let rows = || ledger.emissions.iter();
    let open: Vec<&LedgerRow> = rows().filter(|r| r.decision.state == State::Open).collect();
    let changed = rows().any(|row| !row.decision.changed_since.is_empty());
    let mut steps = to_record(ledger);
    if open.is_empty() && !changed {
        let balances = "The account balances. It holds only as far as what was listened to: an emission \
                        that was silent, or weaker than the limits, is not in it.";
        let said = lacking(ledger).unwrap_or_else(|| balances.to_owned());
        return Next { said: Some(said), steps };
    }
    steps.extend(to_look_again(ledger));
    steps.extend(to_decide(&open));
    Next { said: None, steps }
}

fn step(kind: StepKind, text: impl Into<String>, rows: &[&LedgerRow]) -> Step {
    Step { kind, text: text.into(), rows: rows.iter().map(|row| row.id.clone()).collect() }
}

/// Whether a capture that was carried about has listened at a place outside.
fn was_outside(ledger: &Ledger) -> bool {
    let outside =
        |id: &String| ledger.positions.iter().any(|p| p.id == *id && p.zone == Zone::Outside);
    let mut receptions = ledger.emissions.iter().flat_map(|row| &row.receptions);
    receptions.any(|reception| reception.position.as_ref().is_some_and(outside))
}

/// Whether a recording of that kind counts and listened to anything: to bands with a limit, or it
/// heard something.
fn listened(ledger: &Ledger, role: impl Fn(Role) -> bool) -> bool {
    let heard = |id: &str| {
        let mut receptions = ledger.emissions.iter().flat_map(|row| &row.receptions);
        receptions.any(|reception| reception.heard && reception.capture == id)
    };
    let mut counts = ledger.captures.iter().filter(|c| c.set_aside.is_none() && role(c.role));
    // Samples that are all the same have no noise, and so no limit: the receiver heard nothing.
    let any = |c: &CaptureInfo| match c.kind {
        CaptureKind::Iq => {
            c.listened.iter().any(|l| l.limit_dbfs.is_some() || l.limit_dbm.is_some())
        }
        _ => !c.listened.is_empty(),
    };
    counts.any(|capture| any(capture) || heard(&capture.id))
}

fn a_room(ledger: &Ledger) -> bool {
    listened(ledger, |role| !matches!(role, Role::Reference | Role::NoAntenna))
}

fn a_reference(ledger: &Ledger) -> bool {
    listened(ledger, |role| role == Role::Reference) || was_outside(ledger)
}

/// What is still to be recorded.
fn to_record(ledger: &Ledger) -> Vec<Step> {
    let counts = |role| ledger.captures.iter().any(|c| c.role == role && c.set_aside.is_none());
    let samples = ledger.captures.iter().any(|c| c.kind == CaptureKind::Iq);
    let mut steps = Vec::new();
    if !a_reference(ledger) {
        let text = "record a reference outside, without which nothing tells inside from outside";
        steps.push(step(StepKind::RecordReference, text, &[]));
    }
    if !a_room(ledger) {
        let text = "record the rooms: none that counts was listened to";
        steps.push(step(StepKind::RecordRooms, text, &[]));
    }
    if samples && !counts(Role::NoAntenna) {
        let text = "record the receiver with no antenna connected, so that its own lines are known";
        steps.push(step(StepKind::RecordNoAntenna, text, &[]));
    }
    steps
}

fn to_look_again(ledger: &Ledger) -> Option<Step> {
    let decided = |row: &&LedgerRow| row.decision.state != State::Open;
    let row =
        ledger.emissions.iter().filter(decided).find(|r| !r.decision.changed_since.is_empty())?;
    let what = row.decision.changed_since.first().map_or("", |reason| reason.text.as_str());
    let what = what.trim_end_matches('.');
    let text =
        format!("look again at {}, which was decided before: {what}. Then decide it anew", row.id);
    Some(step(StepKind::LookAgain, text, &[row]))
}

/// What stands open.
fn to_decide(open: &[&LedgerRow]) -> Vec<Step> {
    let (own, others): (Vec<&LedgerRow>, Vec<&LedgerRow>) =
        open.iter().partition(|row| row.receiver_line.is_some());
    let (outside, here): (Vec<&LedgerRow>, Vec<&LedgerRow>) =
        others.into_iter().partition(|row| is_outside(row));
    let mut steps = Vec::new();
    if let Some(row) = here.first() {
        let why =
            row.attention.reasons.first().map(|r| format!(" ({})", r.text.trim_end_matches('.')));
        let text = format!(
            "find out what {} at {} is{}; it stands open and is first by attention",
            row.id,
            place(&row.emission, row.label.as_deref()),
            why.unwrap_or_default(),
        );
        steps.push(step(StepKind::FindOut, text, &[row]));
    }
    let rows = |of: &[&LedgerRow]| match of.len() {
        1 => "1 row is".to_owned(),
        n => format!("{n} rows are"),
    };
    if !outside.is_empty() {
        let text = format!(
            "{} louder outside. If nothing else speaks against that, account for them on that ground",
            rows(&outside)
        );
        steps.push(step(StepKind::LouderOutside, text, &outside));
    }
    if !own.is_empty() {
        let text = format!("{} the receiver's own, heard without an antenna", rows(&own));
        steps.push(step(StepKind::ReceiverOwn, text, &own));
    }
    steps
}

/// Louder at a reference than in any room, beyond two standard uncertainties.
fn is_outside(row: &LedgerRow) -> bool {
    let origin = &row.origin;
    match (origin.excess_db, origin.p_inside) {
        (Some(db), Some(p)) => db + 2.0 * origin.excess_u_db.unwrap_or(0.0) < 0.0 && p < 0.1,
        _ => false,
    }
}

/// A frequency with a unit that suits it, `433.9200 MHz`.
pub fn frequency(hz: f64) -> String {
    let size = hz.abs();
    if size >= 1e9 {
        format!("{:.5} GHz", hz / 1e9)
    } else if size >= 1e6 {
        format!("{:.4} MHz", hz / 1e6)
    } else if size >= 1e3 {
        format!("{:.2} kHz", hz / 1e3)
    } else {
        format!("{hz:.0} Hz")
    }
}

/// Where an emission is: its frequency, or a log's own word for a band that names none.
pub fn place(emission: &Emission, label: Option<&str>) -> String {
    match label {
        Some(label) => label.to_owned(),
        None if (emission.low_hz, emission.high_hz) == (0.0, 0.0) => "unknown".to_owned(),
        None => frequency(emission.centre_hz),
    }
}
