//! `demo`: the demonstration survey. An invented place is simulated, and its recordings go through
//! the same calls as any others: new, describe --apply, add, note. Nothing is scripted: what the
//! ledger shows was found in the samples and in the log.

use super::{report, serve};
use crate::exit::{Outcome, disk, refused};
use crate::progress::Bar;
use crate::simulated::{self, Wanted};
use crate::{args, next, say, scene, table, wrap};
use server::Where;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};

/// The invented place.
const SCENE: &str = include_str!("../../../../scenes/demo.toml");
/// What its technician wrote down beforehand: brief, authority, known devices.
const RECORD: &str = include_str!("../../../../scenes/demo-record.toml");
/// Drawn once; any other makes another night at the same place.
const SEED: u64 = 1;
/// Who works in the invented survey.
const BY: &str = "demonstration";
const RECORDINGS: &str = "recordings";
const SURVEY: &str = "survey";

/// Makes the recordings, then the survey, then prints its ledger and, on a terminal, serves its page.
pub fn run(args: &args::Demo) -> anyhow::Result<Outcome> {
    let folder = folder(args.out.as_deref())?;
    let place = scene::parse(SCENE)?;
    let bar = Bar::new();
    let (recordings, dir) = (folder.join(RECORDINGS), folder.join(SURVEY));
    let wanted = Wanted { scene: &place, seed: SEED, more_record: RECORD, by: BY };
    let survey = simulated::survey(&wanted, &recordings, &dir, &bar)?;
    let outcome = survey.ledger(&bar)?;
    let written = report::both(&survey, &folder, &bar)?;
    drop(bar);
    if args.json.json {
        say::json(&outcome.ledger)?;
        return Ok(Outcome::Done);
    }
    say::text(&format!(
        "{}{}\nThe survey: {}\nIts recordings, with what is true of them: {}\nIts report, before anybody \
         decided: {} and {}\n",
        table::ledger(&outcome.ledger, None),
        next::steps(&outcome.ledger, &dir),
        wrap::path(&dir),
        wrap::path(&recordings),
        wrap::path(&written[0]),
        wrap::path(&written[1]),
    ))?;
    drop(survey);
    if args.no_serve || !std::io::stdout().is_terminal() {
        return Ok(Outcome::Done);
    }
    serve::until_interrupted(Where::Survey(dir), None, true, false)
}

/// The folder to work in. The default one is made anew; a folder that somebody named is not.
fn folder(named: Option<&Path>) -> anyhow::Result<PathBuf> {
    if let Some(folder) = named {
        if folder.exists() && folder.read_dir().map_or(true, |mut e| e.next().is_some()) {
            return Err(refused(format!(
                "{} is there and not an empty folder: name a new one",
                wrap::path(folder)
            )));
        }
        return Ok(folder.to_owned());
    }
    let folder = std::env::temp_dir().join("stillroom-demo");
    if folder.exists() {
        // Only what an earlier demo made is taken away.
        let ours = |path: PathBuf| {
            let ours = [RECORDINGS, SURVEY, "report.pdf", "report.html"];
            path.file_name().is_some_and(|name| ours.iter().any(|own| name == *own))
        };
        let entries = folder.read_dir().map_err(|e| disk(&folder, "list it", e))?;
        if !entries.filter_map(Result::ok).all(|entry| ours(entry.path())) {
            return Err(refused(format!(
                "{} holds other files too: name another folder with --out",
                wrap::path(&folder)
            )));
        }
        std::fs::remove_dir_all(&folder).map_err(|e| disk(&folder, "make it anew", e))?;
    }
    Ok(folder)
}
