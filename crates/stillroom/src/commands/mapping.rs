//! What the columns of a table mean, asked once of a person at a terminal. Elsewhere nothing is
//! asked: the readers then refuse such a table, with the proposal in words.

use crate::exit::refused;
use crate::progress::asking;
use crate::wrap::{path, printable, wrapped};
use capture::OpenOptions;
use capture::table::{Mapping, Proposal, propose};
use std::io::{BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};
use survey::Overrides;

/// The mapping of each file that needs one. Tables with the same columns are asked about once.
pub fn ask(files: &[PathBuf], overrides: &Overrides) -> anyhow::Result<Vec<(PathBuf, String)>> {
    let (stdin, stderr) = (std::io::stdin(), std::io::stderr());
    if !stdin.is_terminal() || !stderr.is_terminal() {
        return Ok(Vec::new());
    }
    ask_with(files, overrides, &mut stdin.lock(), &mut stderr.lock())
}

fn ask_with(
    files: &[PathBuf],
    overrides: &Overrides,
    answers: &mut dyn BufRead,
    out: &mut dyn Write,
) -> anyhow::Result<Vec<(PathBuf, String)>> {
    let open = OpenOptions {
        start: overrides.start,
        time_zone: overrides.time_zone.clone(),
        ..OpenOptions::default()
    };
    let mut answered: Vec<(Vec<String>, String)> = Vec::new();
    let mut mappings = Vec::new();
    for file in files {
        let Some(proposal) = propose(file, &open)? else { continue };
        let known = answered.iter().find(|(columns, _)| *columns == proposal.columns);
        let mapping = match known {
            Some((_, mapping)) => mapping.clone(),
            None => {
                let mapping = ask_one(file, &proposal, answers, out)?;
                answered.push((proposal.columns, mapping.clone()));
                mapping
            }
        };
        mappings.push((file.clone(), mapping));
    }
    Ok(mappings)
}

/// One question: Enter takes the proposal, a mapping typed replaces it, anything else refuses. A
/// scale that is guessed is not taken by Enter: its steps are asked for.
fn ask_one(
    file: &Path,
    proposal: &Proposal,
    answers: &mut dyn BufRead,
    out: &mut dyn Write,
) -> anyhow::Result<String> {
    let proposed = proposal.mapping.to_string();
    let columns = proposal.columns.join(", ");
    let mut question = format!("{} has these columns: {columns}\n", path(file));
    question.push_str("It would be read as\n");
    let mut said = wrapped(&printable(&question));
    said.push_str(&format!("    {}\n", printable(&proposed)));
    for assumed in &proposal.assumed {
        said.push_str(&wrapped(&printable(&format!("assumed: {assumed}"))));
    }
    let guessed = proposal.guesses_scale();
    let ask = match guessed {
        true => "Type the number of steps of the strength's scale to read it so,",
        false => "Enter to read it so,",
    };
    let ask = format!("{ask} n to stop, or type the mapping as it should be: ");
    write!(out, "{said}")?;
    let mut answer = String::new();
    // An empty answer knows no scale.
    while answer.is_empty() || (guessed && answer.trim().is_empty()) {
        answer.clear();
        // From the first letter of the question on, an interrupt ends it.
        let read = asking(|| {
            write!(out, "{ask}")?;
            out.flush()?;
            answers.read_line(&mut answer)
        })?;
        if read == 0 {
            break;
        }
    }
    match answer.trim() {
        // The end of the input is no answer.
        "" if answer.is_empty() => Err(refused("no answer; nothing was added")),
        "" => Ok(proposed),
        "y" | "yes" if !guessed => Ok(proposed),
        steps if guessed && !steps.contains('=') && !["n", "no"].contains(&steps) => {
            let mut mapping = proposal.mapping.clone();
            // Read as a mapping's scale is, with its limits.
            let scale = format!("strength=1/{steps}").parse::<Mapping>();
            let scale = scale.map_err(|error| refused(format!("{error}; nothing was added")))?;
            if let (Some(own), Some((_, of))) = (mapping.strength.as_mut(), scale.strength) {
                own.1 = of;
            }
            Ok(mapping.to_string())
        }
        "n" | "no" => Err(refused(
            "nothing was added: say what the columns are with --columns KEY=COLUMN[:UNIT],…",
        )),
        typed => match typed.parse::<Mapping>() {
            Ok(mapping) => Ok(mapping.to_string()),
            Err(error) => Err(refused(format!("{error}; nothing was added"))),
        },
    }
}
