//! `split`: takes the receptions of some captures out of a row by hand.

use crate::exit::Outcome;
use crate::{args, say};
use serde::Serialize;
use survey::Parting;

/// What `split --json` prints.
#[derive(Serialize)]
struct Parted<'a> {
    schema: &'static str,
    id: &'a str,
    new_id: String,
}

/// Splits, and says which row the receptions are since.
pub fn run(args: &args::Split) -> anyhow::Result<Outcome> {
    let (survey, by) = say::open(&args.survey)?;
    let parting = Parting {
        id: args.id.clone(),
        captures: args.captures.clone(),
        reason: args.reason.clone(),
    };
    let (_, new_id) = survey.split(&parting, None, &by)?;
    if args.survey.json.json {
        say::json(&Parted { schema: "stillroom.split/1", id: &args.id, new_id })?;
        return Ok(Outcome::Done);
    }
    say::text(&format!(
        "what {} received of {} is {new_id} now\n",
        args.captures.join(", "),
        args.id
    ))?;
    Ok(Outcome::Done)
}
