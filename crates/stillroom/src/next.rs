//! What to do next, in words, with the command to type.

use crate::table::{frequency, wrapped};
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

/// What to do next in this survey, a step a line.
pub fn steps(ledger: &Ledger, dir: &Path) -> String {
    let dir = quoted(&dir.display().to_string());
    let counts = |role| ledger.captures.iter().any(|c| c.role == role && c.set_aside.is_none());
    let samples = ledger.captures.iter().any(|c| c.kind == CaptureKind::Iq);
    let mut steps = Vec::new();
    if ledger.captures.is_empty() {
        steps.push(format!(
            "record a reference outside, then every room, and bring each in: stillroom add {dir} \
             FILE --role reference --at yard"
        ));
        return lines(&steps);
    }
    if !counts(Role::Reference) && !was_outside(ledger) {
        steps.push(format!(
            "record a reference outside, without which nothing tells inside from outside: stillroom \
             add {dir} FILE --role reference --at yard"
        ));
    }
    if samples && !counts(Role::NoAntenna) {
        steps.push(format!(
            "record the receiver with no antenna connected, so that its own lines are known: \
             stillroom add {dir} FILE --role no-antenna"
        ));
    }
    let decided = |row: &&LedgerRow| row.decision.state != State::Open;
    let changed: Vec<&LedgerRow> =
        ledger.emissions.iter().filter(|r| !r.decision.changed_since.is_empty()).collect();
    if let Some(row) = changed.iter().copied().find(decided) {
        let what = row.decision.changed_since.first().map_or("", |reason| reason.text.as_str());
        steps.push(format!(
            "look again at {}, which was decided before: {what} Then decide it anew.",
            row.id
        ));
    }
    let open: Vec<&LedgerRow> =
        ledger.emissions.iter().filter(|r| r.decision.state == State::Open).collect();
    let (own, others): (Vec<&LedgerRow>, Vec<&LedgerRow>) =
        open.iter().partition(|row| row.receiver_line.is_some());
    let (outside, here): (Vec<&LedgerRow>, Vec<&LedgerRow>) =
        others.into_iter().partition(|row| is_outside(row));
    if let Some(row) = here.first() {
        let why =
            row.attention.reasons.first().map(|r| format!(" ({})", r.text.trim_end_matches('.')));
        steps.push(format!(
            "find out what {} at {} is{}; it stands open and is first by attention. When you know: \
             stillroom decide {dir} {} --as suspect --reason '…'",
            row.id,
            frequency(row.emission.centre_hz),
            why.unwrap_or_default(),
            row.id
        ));
    }
    if !outside.is_empty() {
        steps.push(format!(
            "{} {} louder outside. If nothing else speaks against that: stillroom decide {dir} {} --as \
             accounted --ground stronger-outside --reason '…'",
            outside.len(),
            if outside.len() == 1 { "row is" } else { "rows are" },
            ids(&outside)
        ));
    }
    if !own.is_empty() {
        steps.push(format!(
            "{} {} the receiver's own, heard without an antenna: stillroom decide {dir} {} --as \
             accounted --ground receiver-own --reason '…'",
            own.len(),
            if own.len() == 1 { "row is" } else { "rows are" },
            ids(&own)
        ));
    }
    if open.is_empty() && changed.is_empty() {
        return "The account balances. It holds only as far as what was listened to: an emission that \
                was silent, or weaker than the limits, is not in it.\n"
            .into();
    }
    lines(&steps)
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

fn lines(steps: &[String]) -> String {
    steps.iter().map(|step| wrapped(&format!("Next: {step}"))).collect()
}

/// A path as a shell takes it.
fn quoted(path: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "/._-~+".contains(c);
    if !path.is_empty() && path.chars().all(plain) {
        return path.to_owned();
    }
    format!("'{}'", path.replace('\'', r"'\''"))
}
