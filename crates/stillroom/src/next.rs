//! What to do next, in words, with the command to type.

use crate::table::place;
use crate::wrap::{counted, wrapped};
use capture::one_line;
use ledger::{CaptureInfo, CaptureKind, Ledger, LedgerRow, Role, State};
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

/// Whether every row is decided, and both a room and a reference were listened to.
pub fn balances(ledger: &Ledger) -> bool {
    ledger.balance.open == 0 && ledger.balance.changed == 0 && a_room(ledger) && a_reference(ledger)
}

/// What an account cannot do without, in a line where it is missing.
pub fn lacking(ledger: &Ledger) -> String {
    let lacks = match (a_room(ledger), a_reference(ledger)) {
        (true, true) => return String::new(),
        (false, false) => "nothing was listened to, neither in a room nor at a reference",
        (false, true) => "no room was listened to",
        (true, false) => "no reference was listened to",
    };
    wrapped(&format!("Not balanced: {lacks}."))
}

/// The captures that are set aside, so that what they show is missed by nobody.
pub fn set_aside(ledger: &Ledger) -> String {
    let aside: Vec<String> = ledger
        .captures
        .iter()
        .filter_map(|c| Some(format!("{} ({})", c.id, one_line(c.set_aside.as_ref()?))))
        .collect();
    if aside.is_empty() {
        return String::new();
    }
    wrapped(&format!("Set aside, and counting for nothing: {}.", aside.join(", ")))
}

/// A step: why, and the commands to type, or to choose from.
struct Step {
    why: String,
    commands: Vec<String>,
}

fn step(why: impl Into<String>, command: String) -> Step {
    Step { why: why.into(), commands: vec![command] }
}

/// What to do next in this survey: each step, and under it the command, in one piece to be copied.
pub fn steps(ledger: &Ledger, dir: &Path) -> String {
    let dir = quoted(&dir.to_string_lossy());
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
    let mut steps = to_record(ledger, &dir);
    if open.is_empty() && changed.is_empty() && !balances(ledger) {
        return lacking(ledger) + &lines(&steps);
    }
    if open.is_empty() && changed.is_empty() {
        return wrapped(
            "The account balances. It holds only as far as what was listened to: an emission that \
             was silent, or weaker than the limits, is not in it.",
        ) + &lines(&steps);
    }
    if let Some(row) = changed.iter().find(|row| row.decision.state != State::Open) {
        let what = row.decision.changed_since.first().map_or("", |reason| reason.text.as_str());
        let why = format!(
            "look again at {}, which was decided before: {} Then decide it anew.",
            row.id,
            sentence(what)
        );
        steps.push(Step { why, commands: Vec::new() });
    }
    steps.extend(to_decide(&open, &dir));
    lines(&steps)
}

/// What is still to be recorded.
fn to_record(ledger: &Ledger, dir: &str) -> Vec<Step> {
    let counts = |role| ledger.captures.iter().any(|c| c.role == role && c.set_aside.is_none());
    let samples = ledger.captures.iter().any(|c| c.kind == CaptureKind::Iq);
    let mut steps = Vec::new();
    if !a_reference(ledger) {
        steps.push(step(
            "record a reference outside, without which nothing tells inside from outside:",
            format!("stillroom add {dir} FILE --role reference --at yard"),
        ));
    }
    if !a_room(ledger) {
        steps.push(step(
            "record the rooms: none that counts was listened to:",
            format!("stillroom add {dir} FILE --role room --at ROOM"),
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
        let decide = format!("stillroom decide {dir} {} --as", row.id);
        steps.push(Step {
            why: format!(
                "find out what {} at {} is{}; it stands open and is first by attention. When you \
                 know, either that nobody accounts for it, or on what ground it is accounted for \
                 (seen, switched-off, own-kit, decoded, inferred):",
                row.id,
                place(&row.emission, row.label.as_deref()),
                why.unwrap_or_default(),
            ),
            commands: vec![
                format!("{decide} suspect --reason '…'"),
                format!("{decide} accounted --ground seen --reason '…'"),
            ],
        });
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
    let typed = |command: &String| {
        // Too long for a line, it goes on in the next as a shell takes it.
        let long = command.chars().count() > 96;
        let command = if long {
            command.replace(" --reason", " \\\n        --reason")
        } else {
            command.clone()
        };
        format!("    {command}\n")
    };
    let line = |step: &Step| {
        let commands: String = step.commands.iter().map(typed).collect();
        wrapped(&format!("Next: {}", step.why)) + &commands
    };
    steps.iter().map(line).collect()
}

/// A path as a shell takes it.
pub fn quoted(path: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "/._-~+".contains(c);
    if !path.is_empty() && path.chars().all(plain) {
        return path.to_owned();
    }
    if path.chars().any(char::is_control) {
        // As bash, ksh and zsh take it; a line feed would end the line that is to be copied.
        let escaped = path.replace('\\', r"\\").replace('\'', r"\'");
        let escaped = escaped.chars().map(|c| match c {
            c if c.is_control() => format!("\\{:03o}", u32::from(c) & 0o377),
            c => c.to_string(),
        });
        return format!("$'{}'", escaped.collect::<String>());
    }
    format!("'{}'", path.replace('\'', r"'\''"))
}
