//! What to do next, in words, with the command to type.

use crate::table::place;
use crate::wrap::{counted, wrapped};
use ledger::{CaptureKind, Ledger, LedgerRow, Role, State};
use std::path::Path;
use units::Zone;

/// Rows named in one suggestion; the rest follow when those are decided.
const NAMED: usize = 8;

/// Whether a capture that was carried about has listened at a place outside.
fn was_outside(ledger: &Ledger) -> bool {
    let outside =
        |id: &String| ledger.positions.iter().any(|p| p.id == *id && p.zone == Zone::Outside);
    let mut receptions = ledger.emissions.iter().flat_map(|row| &row.receptions);
    receptions.any(|reception| reception.position.as_ref().is_some_and(outside))
}

/// A step: why, and the command to type, where there is one.
struct Step {
    why: String,
    command: Option<String>,
}

fn step(why: impl Into<String>, command: String) -> Step {
    Step { why: why.into(), command: Some(command) }
}

/// What to do next in this survey: each step, and under it the command, in one piece to be copied.
pub fn steps(ledger: &Ledger, dir: &Path) -> String {
    let dir = quoted(&dir.display().to_string());
    if ledger.captures.is_empty() {
        return lines(&[step(
            "record a reference outside, then every room, and bring each in:",
            format!("stillroom add {dir} FILE --role reference --at yard"),
        )]);
    }
    let changed: Vec<&LedgerRow> =
        ledger.emissions.iter().filter(|r| !r.decision.changed_since.is_empty()).collect();
    let open: Vec<&LedgerRow> =
        ledger.emissions.iter().filter(|r| r.decision.state == State::Open).collect();
    if open.is_empty() && changed.is_empty() {
        return wrapped(
            "The account balances. It holds only as far as what was listened to: an emission that \
             was silent, or weaker than the limits, is not in it.",
        );
    }
    let mut steps = to_record(ledger, &dir);
    if let Some(row) = changed.iter().find(|row| row.decision.state != State::Open) {
        let what = row.decision.changed_since.first().map_or("", |reason| reason.text.as_str());
        let why = format!(
            "look again at {}, which was decided before: {} Then decide it anew.",
            row.id,
            sentence(what)
        );
        steps.push(Step { why, command: None });
    }
    steps.extend(to_decide(&open, &dir));
    lines(&steps)
}

/// What is still to be recorded.
fn to_record(ledger: &Ledger, dir: &str) -> Vec<Step> {
    let counts = |role| ledger.captures.iter().any(|c| c.role == role && c.set_aside.is_none());
    let samples = ledger.captures.iter().any(|c| c.kind == CaptureKind::Iq);
    let mut steps = Vec::new();
    if !counts(Role::Reference) && !was_outside(ledger) {
        steps.push(step(
            "record a reference outside, without which nothing tells inside from outside:",
            format!("stillroom add {dir} FILE --role reference --at yard"),
        ));
    }
    if samples && !counts(Role::NoAntenna) {
        steps.push(step(
            "record the receiver with no antenna connected, so that its own lines are known:",
            format!("stillroom add {dir} FILE --role no-antenna"),
        ));
    }
    steps
}

/// What stands open.
fn to_decide(open: &[&LedgerRow], dir: &str) -> Vec<Step> {
    let (own, others): (Vec<&LedgerRow>, Vec<&LedgerRow>) =
        open.iter().partition(|row| row.receiver_line.is_some());
    let (outside, here): (Vec<&LedgerRow>, Vec<&LedgerRow>) =
        others.into_iter().partition(|row| is_outside(row));
    let mut steps = Vec::new();
    if let Some(row) = here.first() {
        let why =
            row.attention.reasons.first().map(|r| format!(" ({})", r.text.trim_end_matches('.')));
        steps.push(step(
            format!(
                "find out what {} at {} is{}; it stands open and is first by attention. When you \
                 know:",
                row.id,
                place(&row.emission, row.label.as_deref()),
                why.unwrap_or_default(),
            ),
            format!("stillroom decide {dir} {} --as suspect --reason '…'", row.id),
        ));
    }
    let accounted = |rows: &[&LedgerRow], ground: &str| {
        let ids = ids(rows);
        format!("stillroom decide {dir} {ids} --as accounted --ground {ground} --reason '…'")
    };
    if !outside.is_empty() {
        let rows = counted(outside.len() as u64, "row is", "rows are");
        steps.push(step(
            format!("{rows} louder outside. If nothing else speaks against that:"),
            accounted(&outside, "stronger-outside"),
        ));
    }
    if !own.is_empty() {
        let rows = counted(own.len() as u64, "row is", "rows are");
        steps.push(step(
            format!("{rows} the receiver's own, heard without an antenna:"),
            accounted(&own, "receiver-own"),
        ));
    }
    steps
}

/// With its full stop.
fn sentence(text: &str) -> String {
    format!("{}.", text.trim_end_matches('.'))
}

/// Louder at a reference than in any room, beyond two standard uncertainties.
fn is_outside(row: &LedgerRow) -> bool {
    let origin = &row.origin;
    match (origin.excess_db, origin.p_inside) {
        (Some(db), Some(p)) => db + 2.0 * origin.excess_u_db.unwrap_or(0.0) < 0.0 && p < 0.1,
        _ => false,
    }
}

fn ids(rows: &[&LedgerRow]) -> String {
    let named: Vec<&str> = rows.iter().take(NAMED).map(|row| row.id.as_str()).collect();
    named.join(" ")
}

fn lines(steps: &[Step]) -> String {
    let line = |step: &Step| {
        let command = step.command.as_ref().map(|command| {
            // Too long for a line, it goes on in the next as a shell takes it.
            let long = command.chars().count() > 96;
            let command = if long {
                command.replace(" --reason", " \\\n        --reason")
            } else {
                command.clone()
            };
            format!("    {command}\n")
        });
        wrapped(&format!("Next: {}", step.why)) + &command.unwrap_or_default()
    };
    steps.iter().map(line).collect()
}

/// A path as a shell takes it.
fn quoted(path: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "/._-~+".contains(c);
    if !path.is_empty() && path.chars().all(plain) {
        return path.to_owned();
    }
    format!("'{}'", path.replace('\'', r"'\''"))
}
