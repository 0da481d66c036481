//! `undo`: takes back what a journal entry did, or lists the entries that can be.

use crate::exit::Outcome;
use crate::progress::Bar;
use crate::table::clipped;
use crate::wrap::printable;
use crate::{args, say, table};
use serde::Serialize;
use std::fmt::Write as _;
use survey::{Survey, Undoable};

/// Entries that are listed as text; older ones are seldom meant.
const LISTED: usize = 30;

/// What `undo ENTRY --json` prints.
#[derive(Serialize)]
struct Undone {
    schema: &'static str,
    undone: u64,
    entry: u64,
    version: u64,
}

/// What `undo --json` prints.
#[derive(Serialize)]
struct UndoableDocument<'a> {
    schema: &'static str,
    entries: Vec<UndoableJson<'a>>,
}

#[derive(Serialize)]
struct UndoableJson<'a> {
    entry: u64,
    time: &'a str,
    by: &'a str,
    what: &'a str,
}

/// Takes the entry back, or lists.
pub fn run(args: &args::Undo) -> anyhow::Result<Outcome> {
    let Some(undone) = args.entry else { return list(args) };
    let (survey, by) = say::open(&args.survey)?;
    let entry = survey.undo(undone, &by)?;
    let outcome = survey.ledger(&Bar::new())?;
    say::warnings(&outcome.warnings);
    if args.survey.json.json {
        let version = outcome.ledger.version;
        say::json(&Undone { schema: "stillroom.undone/1", undone, entry, version })?;
        return Ok(Outcome::Done);
    }
    say::text(&format!("entry {undone} is taken back by entry {entry}\n"))?;
    say::text(&table::balance(&outcome.ledger))?;
    Ok(Outcome::Done)
}

fn list(args: &args::Undo) -> anyhow::Result<Outcome> {
    let entries = Survey::open_to_read(&args.survey.dir)?.undoable()?;
    if args.survey.json.json {
        let entries = entries
            .iter()
            .map(|e| UndoableJson { entry: e.seq, time: &e.time, by: &e.by, what: &e.what })
            .collect();
        say::json(&UndoableDocument { schema: "stillroom.undoable/1", entries })?;
    } else {
        say::text(&text(&entries))?;
    }
    Ok(Outcome::Done)
}

fn text(entries: &[Undoable]) -> String {
    if entries.is_empty() {
        return "there is nothing to take back\n".into();
    }
    let mut out = format!("{:>5}  {:<16}  {:<12}  what was done\n", "entry", "when (UTC)", "by");
    for entry in entries.iter().take(LISTED) {
        let when = entry.time.get(..16).unwrap_or(&entry.time).replace('T', " ");
        // One line each, whatever was typed.
        let one_line = |text: &str, columns| clipped(&printable(&text.replace('\n', " ")), columns);
        let (by, what) = (one_line(&entry.by, 12), one_line(&entry.what, 61));
        let _ = writeln!(out, "{:>5}  {when}  {by:<12}  {what}", entry.seq);
    }
    if entries.len() > LISTED {
        let _ = writeln!(out, "       … and {} older ones", entries.len() - LISTED);
    }
    out
}
