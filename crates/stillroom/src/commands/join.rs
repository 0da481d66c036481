//! `join`: puts rows together by hand; every later ledger obeys.

use crate::exit::Outcome;
use crate::progress::Bar;
use crate::{args, say};
use serde::Serialize;
use survey::Joining;

/// What `join --json` prints: the ids under which the named rows go on.
#[derive(Serialize)]
struct Joined<'a> {
    schema: &'static str,
    ids: Vec<&'a str>,
    version: u64,
}

/// Joins, and says under which id the row goes on.
pub fn run(args: &args::Join) -> anyhow::Result<Outcome> {
    let (survey, by) = say::open(&args.survey)?;
    let joining = Joining {
        ids: args.ids.clone(),
        reason: args.reason.clone(),
        although_apart: args.although_apart,
    };
    survey.join(&joining, None, &by)?;
    let outcome = survey.ledger(&Bar::new())?;
    say::warnings(&outcome.warnings);
    let is = |row: &&ledger::LedgerRow| {
        let named = |id: &String| args.ids.iter().any(|typed| typed.eq_ignore_ascii_case(id));
        named(&row.id) || row.aliases.iter().any(named)
    };
    let rows: Vec<&str> =
        outcome.ledger.emissions.iter().filter(is).map(|row| row.id.as_str()).collect();
    if args.survey.json.json {
        let version = outcome.ledger.version;
        say::json(&Joined { schema: "stillroom.joined/1", ids: rows, version })?;
        return Ok(Outcome::Done);
    }
    say::text(&format!("{} are {} now\n", args.ids.join(" and "), rows.join(", ")))?;
    Ok(Outcome::Done)
}
