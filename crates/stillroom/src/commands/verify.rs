//! `verify`: checks every evidence file and the journal.

use crate::exit::Outcome;
use crate::progress::Bar;
use crate::wrap::{counted, wrapped};
use crate::{args, say};
use serde::Serialize;
use survey::{Survey, SurveyError};

/// What `verify --json` prints. Where the survey cannot even be opened, nothing was counted.
#[derive(Default, Serialize)]
struct VerifyDocument<'a> {
    schema: &'static str,
    ok: bool,
    faults: Vec<String>,
    warnings: &'a [String],
    files: u64,
    bytes: u64,
    entries: u64,
    journal_head: &'a str,
}

/// Status 0 if nothing is altered or missing, 1 if something is.
pub fn run(args: &args::Verify) -> anyhow::Result<Outcome> {
    let bar = Bar::new();
    let found = Survey::open_to_read(&args.survey.dir).and_then(|survey| survey.verify(&bar));
    drop(bar);
    let found = match found {
        Err(error) if error.is_damage() => return damaged(args, &error),
        found => found?,
    };
    let faults: Vec<String> = found.faults.iter().map(ToString::to_string).collect();
    if args.survey.json.json {
        say::json(&VerifyDocument {
            schema: "stillroom.verification/1",
            ok: found.ok,
            faults,
            warnings: &found.warnings,
            files: found.files,
            bytes: found.bytes,
            entries: found.entries,
            journal_head: &found.head,
        })?;
    } else {
        for fault in &faults {
            say::text(&wrapped(&format!("FAULT: {fault}")))?;
        }
        for warning in &found.warnings {
            say::text(&wrapped(&format!("warning: {warning}")))?;
        }
        let verdict = if found.ok { "nothing is altered or missing" } else { "NOT as it was" };
        say::text(&wrapped(&format!(
            "{verdict}: {}, {} bytes, {}, head {}",
            counted(found.files, "evidence file", "evidence files"),
            found.bytes,
            counted(found.entries, "journal entry", "journal entries"),
            found.head
        )))?;
    }
    Ok(if found.ok { Outcome::Done } else { Outcome::No })
}

/// So damaged that not everything could be checked.
fn damaged(args: &args::Verify, error: &SurveyError) -> anyhow::Result<Outcome> {
    let fault = error.damage();
    if args.survey.json.json {
        let schema = "stillroom.verification/1";
        say::json(&VerifyDocument { schema, faults: vec![fault], ..VerifyDocument::default() })?;
    } else {
        say::text(&wrapped(&format!(
            "FAULT: {fault}\nNOT as it was: not everything could be checked"
        )))?;
    }
    Ok(Outcome::No)
}
