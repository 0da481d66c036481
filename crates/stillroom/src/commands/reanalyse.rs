//! `reanalyse`: derives again with this version, and says what changed.

use crate::exit::Outcome;
use crate::progress::Bar;
use crate::wrap::{counted, wrapped};
use crate::{args, say, table};
use ledger::LedgerRow;
use serde::Serialize;
use survey::Changes;

/// What `reanalyse --json` prints.
#[derive(Serialize)]
struct ChangesDocument<'a> {
    schema: &'static str,
    derived: u64,
    appeared: &'a [LedgerRow],
    gone: &'a [LedgerRow],
    changed: Vec<ChangedJson<'a>>,
}

#[derive(Serialize)]
struct ChangedJson<'a> {
    was: &'a LedgerRow,
    is: &'a LedgerRow,
}

/// Derives again what another version derived.
pub fn run(args: &args::Reanalyse) -> anyhow::Result<Outcome> {
    let (survey, by) = say::open(&args.survey)?;
    let bar = Bar::new();
    let changes = survey.reanalyse(&by, &bar)?;
    drop(bar);
    say::warnings(&changes.warnings);
    if args.survey.json.json {
        say::json(&ChangesDocument {
            schema: "stillroom.changes/1",
            derived: changes.derived,
            appeared: &changes.appeared,
            gone: &changes.gone,
            changed: changes.changed.iter().map(|(was, is)| ChangedJson { was, is }).collect(),
        })?;
    } else {
        say::text(&text(&changes))?;
    }
    Ok(Outcome::Done)
}

fn text(changes: &Changes) -> String {
    if changes.derived == 0 {
        let why = if changes.of == 0 {
            "there is none that counts and that anything is derived from".to_owned()
        } else {
            let n = counted(changes.of, "recording was", "recordings were");
            format!("{n} analysed by this version already, and nothing derived was altered since")
        };
        return wrapped(&format!("0 captures analysed again: {why}"));
    }
    let mut out = format!(
        "{} analysed again: {} rows appeared, {} gone, {} changed\n",
        counted(changes.derived, "capture", "captures"),
        changes.appeared.len(),
        changes.gone.len(),
        changes.changed.len()
    );
    for row in &changes.appeared {
        out.push_str(&format!("appeared  {}\n", short(row)));
    }
    for row in &changes.gone {
        out.push_str(&format!("gone      {}\n", short(row)));
    }
    for (was, is) in &changes.changed {
        out.push_str(&format!("changed   {}\n    was   {}\n", short(is), short(was)));
    }
    out
}

fn short(row: &LedgerRow) -> String {
    let e = &row.emission;
    format!("{} {} {}, {}", row.id, table::frequency(e.centre_hz), table::width(e), table::known(e))
}
