//! What the columns of a table mean, where nobody has said it yet: proposed from its header, and
//! on a terminal confirmed with one question. Elsewhere the reader's refusal stands, which ends
//! with a `--columns` line ready to use.

use crate::exit::{Failure, refused};
use capture::table::{Proposal, propose};
use capture::{CaptureError, OpenOptions};
use std::io::{BufRead, IsTerminal, Write};
use std::path::Path;

/// A mapping for `file`, or `None` where it needs none or is no table. `answered` keeps what was
/// proposed and what was answered, so that files of one kind are asked about once.
///
/// # Errors
/// If it needs one and nobody can be asked, or the answer was no.
pub fn ask(
    file: &Path,
    options: &OpenOptions,
    answered: &mut Vec<(String, String)>,
) -> anyhow::Result<Option<String>> {
    let refusal = match capture::open(file, options) {
        Err(CaptureError::Refused(fault)) => CaptureError::Refused(fault),
        // What is wrong beyond that is said when the file is brought in.
        _ => return Ok(None),
    };
    let Ok(proposal) = propose(file) else { return Ok(None) };
    if !(std::io::stdin().is_terminal() && std::io::stderr().is_terminal()) {
        return Err(refusal.into());
    }
    if let Some((_, columns)) = answered.iter().find(|(of, _)| *of == proposal.columns) {
        return Ok(Some(columns.clone()));
    }
    let mut input = std::io::stdin().lock();
    let columns = choose(file, &proposal, &mut input, &mut std::io::stderr().lock())?;
    answered.push((proposal.columns, columns.clone()));
    Ok(Some(columns))
}

/// Shows a proposal and asks its one question, or whether it is right.
fn choose(
    file: &Path,
    proposal: &Proposal,
    input: &mut dyn BufRead,
    out: &mut dyn Write,
) -> anyhow::Result<String> {
    writeln!(out, "{}: nobody has said what its columns are. Its first rows:", file.display())?;
    for row in &proposal.sample {
        writeln!(out, "    {}", row.join(" | "))?;
    }
    for assumed in &proposal.assumed {
        writeln!(out, "  {assumed}")?;
    }
    let Some(question) = &proposal.question else {
        writeln!(out, "Read as --columns '{}'.", proposal.columns)?;
        write!(out, "Is that right? [Y/n] ")?;
        out.flush()?;
        return match answer(input)?.to_ascii_lowercase().as_str() {
            "" | "y" | "yes" => Ok(proposal.columns.clone()),
            _ => Err(refused(format!(
                "{}: nothing was brought in. Say what its columns are, starting from: --columns '{}'",
                file.display(),
                proposal.columns
            ))),
        };
    };
    writeln!(out, "{}", question.text)?;
    for (i, (words, _)) in question.choices.iter().enumerate() {
        writeln!(out, "  {}  {words}", i + 1)?;
    }
    write!(out, "Which? [1] ")?;
    out.flush()?;
    let said = answer(input)?;
    let number = if said.is_empty() { Ok(1) } else { said.parse::<usize>() };
    let chosen = number.ok().and_then(|n| question.choices.get(n.checked_sub(1)?));
    match chosen {
        Some((_, mapping)) => {
            let columns = mapping.to_string();
            writeln!(out, "Read as --columns '{columns}'.")?;
            Ok(columns)
        }
        None => Err(refused(format!(
            "'{said}' is none of the choices; nothing was brought in. Say what the columns of {} \
             are, starting from: --columns '{}'",
            file.display(),
            proposal.columns
        ))),
    }
}

fn answer(input: &mut dyn BufRead) -> anyhow::Result<String> {
    let mut line = String::new();
    if input.read_line(&mut line)? == 0 {
        return Err(Failure::Interrupted.into());
    }
    Ok(line.trim().to_owned())
}
