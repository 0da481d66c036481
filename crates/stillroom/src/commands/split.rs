//! `split`: takes the receptions of some captures out of a row by hand.

use crate::exit::Outcome;
use crate::{args, say};
use survey::Survey;

/// Splits, and says which row the receptions are since.
pub fn run(args: &args::Split) -> anyhow::Result<Outcome> {
    let survey = Survey::open(&args.dir)?;
    let by = say::by(&args.by, &survey)?;
    let (_, new_id) = survey.split(&args.id, &args.captures, &by)?;
    say::text(&format!(
        "what {} received of {} is {new_id} now\n",
        args.captures.join(", "),
        args.id
    ))?;
    Ok(Outcome::Done)
}
