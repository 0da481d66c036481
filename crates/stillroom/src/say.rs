//! What every command says the same way: who writes, warnings, results as JSON.

use crate::args::Writing;
use crate::wrap::{printable, wrapped};
use anyhow::Context;
use capture::one_line;
use serde::Serialize;
use std::io::Write;
use survey::Survey;
use units::Reason;

/// What an error of standard output is told as.
const UNPRINTED: &str = "could not print the result (what was changed stays changed)";

/// The survey to write in, and who writes: as typed, else left to the survey (its technician), with
/// a warning where it knows of none.
pub fn open(writing: &Writing) -> anyhow::Result<(Survey, String)> {
    let survey = Survey::open(&writing.dir)?;
    let by = writing.by.by.clone().unwrap_or_default().trim().to_owned();
    if by.is_empty() && survey.head()?.technician.is_none() {
        warn(
            "nobody says who does this, so the journal says 'unstated': give --by WHO or set \
             STILLROOM_BY",
        );
    }
    warnings(survey.clock_runs_back()?.as_slice());
    Ok((survey, by))
}

/// Warnings, one a line, on standard error.
pub fn warnings(warnings: &[Reason]) {
    for warning in warnings {
        warn(&warning.text);
    }
}

/// Names of the positions that a survey has, to tell later which were made since.
pub fn known_positions(survey: &Survey) -> anyhow::Result<Vec<String>> {
    Ok(survey.positions()?.into_iter().map(|position| position.id).collect())
}

/// Tells each position that is new: a name that was mistyped shows at once.
pub fn new_positions(survey: &Survey, known: &[String]) -> anyhow::Result<()> {
    let mut positions = survey.positions()?;
    positions.retain(|position| !known.contains(&position.id));
    for position in positions {
        let zone = serde_json::to_value(position.zone)?;
        let zone = zone.as_str().unwrap_or_default();
        text(&format!("new position {} ({}), {zone}\n", position.name, position.id))?;
    }
    Ok(())
}

/// A warning on standard error.
pub fn warn(text: &str) {
    anstream::eprint!("{}", wrapped(&one_line(&format!("warning: {text}"))));
}

/// A result as JSON, alone on standard output.
pub fn json(result: &impl Serialize) -> anyhow::Result<()> {
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    serde_json::to_writer_pretty(&mut out, result)
        .map_err(std::io::Error::from)
        .and_then(|()| writeln!(out))
        .and_then(|()| out.flush())
        .context(UNPRINTED)
}

/// Text on standard output; an output that was closed is an error, not a panic.
pub fn text(text: &str) -> anyhow::Result<()> {
    let mut out = anstream::stdout().lock();
    out.write_all(printable(text).as_bytes()).and_then(|()| out.flush()).context(UNPRINTED)
}
