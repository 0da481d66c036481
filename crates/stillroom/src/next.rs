//! What to do next, with the command to type.

use crate::wrap::wrapped;
use capture::one_line;
use ledger::{Ledger, Step, StepKind};
use std::path::Path;

/// Rows named in one command; the rest follow when those are decided.
const NAMED: usize = 8;

/// What an account cannot do without, in a line where it is missing.
pub fn lacking(ledger: &Ledger) -> String {
    ledger::lacking(ledger).map(|said| wrapped(&said)).unwrap_or_default()
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

/// What to do next in this survey: each step, and under it the command, in one piece to be copied.
pub fn steps(ledger: &Ledger, dir: &Path) -> String {
    let dir = quoted(&dir.to_string_lossy());
    let next = ledger::next(ledger);
    let said = next.said.map(|said| wrapped(&said)).unwrap_or_default();
    let steps = next.steps.iter().map(|step| {
        let commands = commands(step, &dir);
        let end = match step.kind {
            _ if commands.is_empty() => ".",
            StepKind::FindOut => {
                ". When you know, either that nobody accounts for it, or on what ground it is accounted \
                 for (seen, switched-off, own-kit, decoded, inferred):"
            }
            _ => ":",
        };
        let commands: String = commands.iter().map(|command| typed(command)).collect();
        wrapped(&format!("Next: {}{end}", step.text)) + &commands
    });
    said + &steps.collect::<String>()
}

/// What to type for a step, or to choose from.
fn commands(step: &Step, dir: &str) -> Vec<String> {
    let add = |said: &str| vec![format!("stillroom add {dir} FILE {said}")];
    let ids: Vec<&str> = step.rows.iter().take(NAMED).map(String::as_str).collect();
    let decide = format!("stillroom decide {dir} {} --as", ids.join(" "));
    let accounted = |ground: &str| format!("{decide} accounted --ground {ground} --reason '…'");
    match step.kind {
        StepKind::RecordFirst | StepKind::RecordReference => add("--role reference --at yard"),
        StepKind::RecordRooms => add("--role room --at ROOM"),
        StepKind::RecordNoAntenna => add("--role no-antenna"),
        StepKind::LookAgain => Vec::new(),
        StepKind::FindOut => vec![format!("{decide} suspect --reason '…'"), accounted("seen")],
        StepKind::LouderOutside => vec![accounted("stronger-outside")],
        StepKind::ReceiverOwn => vec![accounted("receiver-own")],
    }
}

/// A command as it is typed: too long for a line, it goes on in the next as a shell takes it.
fn typed(command: &str) -> String {
    let long = command.chars().count() > 96;
    let command = if long {
        command.replace(" --reason", " \\\n        --reason")
    } else {
        command.to_owned()
    };
    format!("    {command}\n")
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
