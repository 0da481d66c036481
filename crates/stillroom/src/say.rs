//! What every command says the same way: who writes, warnings, results as JSON.

use crate::args::By;
use serde::Serialize;
use std::io::Write;
use survey::Survey;
use units::Reason;

/// Who writes into the journal: as typed, else left to the survey (its technician), with a
/// warning where it knows of none.
pub fn by(typed: &By, survey: &Survey) -> anyhow::Result<String> {
    let by = typed.by.clone().unwrap_or_default().trim().to_owned();
    if by.is_empty() && survey.head()?.technician.is_none() {
        anstream::eprintln!(
            "warning: nobody says who does this, so the journal says 'unstated': give --by WHO or \
             set STILLROOM_BY"
        );
    }
    Ok(by)
}

/// Warnings, one a line, on standard error.
pub fn warnings(warnings: &[Reason]) {
    for warning in warnings {
        anstream::eprintln!("warning: {}", warning.text);
    }
}

/// A result as JSON, alone on standard output.
pub fn json(result: &impl Serialize) -> anyhow::Result<()> {
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    serde_json::to_writer_pretty(&mut out, result).map_err(std::io::Error::from)?;
    writeln!(out)?;
    out.flush()?;
    Ok(())
}

/// Text on standard output; an output that was closed is an error, not a panic.
pub fn text(text: &str) -> anyhow::Result<()> {
    let mut out = anstream::stdout().lock();
    out.write_all(text.as_bytes())?;
    out.flush()?;
    Ok(())
}
