//! `report`: the client's report, the interim page, or the hours worked, as one file.

use crate::exit::{Outcome, disk, refused};
use crate::progress::Bar;
use crate::{args, say, wrap};
use report::Facts;
use serde::Serialize;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use survey::Survey;
use units::Utc;

/// What an earlier report or table of hours begins with: only such a file is written over.
const OURS: [&[u8]; 2] = [b"<!DOCTYPE html>", b"kind,who,date,"];

/// What `report --json` prints.
#[derive(Serialize)]
struct ReportDocument<'a> {
    schema: &'static str,
    file: &'a str,
    bytes: usize,
    journal_head: &'a str,
}

/// Gathers, builds, writes.
pub fn run(args: &args::Report) -> anyhow::Result<Outcome> {
    let dir = &args.survey.dir;
    let survey = Survey::open_to_read(dir)?;
    let file = args.out.clone().map_or_else(|| default_file(args), Ok)?;
    may_write(&file)?;
    let bar = Bar::new();
    let now = Utc(jiff::Timestamp::now().as_millisecond().saturating_mul(1_000_000));
    let facts = Facts::gather(&survey, env!("CARGO_PKG_VERSION"), now, &bar)?;
    drop(bar);
    let text = match (args.interim, args.time) {
        (_, true) => report::hours(&facts)?,
        (true, _) => report::html(&report::interim(&facts)?),
        _ => report::html(&report::full(&facts)?),
    };
    write(&file, text.as_bytes())?;
    say::warnings(&facts.warnings);
    if !facts.verification.ok {
        say::warn("evidence or journal is not as it was written: the report says so; see `verify`");
    }
    if args.survey.json.json {
        say::json(&ReportDocument {
            schema: "stillroom.report-file/1",
            file: &file.to_string_lossy(),
            bytes: text.len(),
            journal_head: &facts.verification.head,
        })?;
    } else {
        say::text(&format!("{}\n", wrap::path(&file)))?;
    }
    Ok(Outcome::Done)
}

/// In the current folder, under the name of the survey's: a code name stays one.
fn default_file(args: &args::Report) -> anyhow::Result<PathBuf> {
    let dir = &args.survey.dir;
    let dir = dir.canonicalize().map_err(|e| disk(dir, "find it", e))?;
    let name = dir.file_name().map(|name| name.to_string_lossy().into_owned());
    let kind = match (args.interim, args.time) {
        (_, true) => "hours.csv",
        (true, _) => "interim.html",
        _ => "report.html",
    };
    Ok(PathBuf::from(format!("{}-{kind}", name.unwrap_or_else(|| "survey".into()))))
}

/// Refuses to write over what is no earlier report.
fn may_write(file: &Path) -> anyhow::Result<()> {
    if !file.exists() {
        return Ok(());
    }
    let mut start = [0; 15];
    let read = std::fs::File::open(file).and_then(|mut open| open.read(&mut start));
    let read = read.map_err(|e| disk(file, "look whether it may be written over", e))?;
    if OURS.iter().any(|ours| start[..read].starts_with(ours)) {
        return Ok(());
    }
    Err(refused(format!(
        "{} is there and is no earlier report: name another file with --out",
        wrap::path(file)
    )))
}

/// Whole or not at all.
fn write(file: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let folder = file.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder = folder.unwrap_or(Path::new("."));
    let put = || {
        let mut staged = tempfile::NamedTempFile::new_in(folder)?;
        staged.write_all(bytes)?;
        staged.as_file().sync_all()?;
        staged.persist(file).map_err(|e| e.error)
    };
    put().map(drop).map_err(|e| disk(file, "write it", e))
}
