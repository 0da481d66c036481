//! `report`: the client's report or the interim page, as PDF and HTML, or the hours worked.

use crate::exit::{Outcome, disk, refused};
use crate::progress::Bar;
use crate::{args, say, wrap};
use report::{Attachment, Facts};
use serde::Serialize;
use std::io::Write;
use std::path::{Path, PathBuf};
use survey::{Progress, Reported, Survey};
use units::Utc;

/// What an earlier report as HTML, or a table of hours, begins with: only such is written over.
const OURS: [&[u8]; 2] = [b"<!DOCTYPE html>", b"kind,who,date,"];
/// What stands in the metadata (XMP) of an earlier report as PDF.
const OUR_PDF: &[u8] = b"<xmp:CreatorTool>stillroom<";

/// In which form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Pdf,
    Html,
    Hours,
}

impl Form {
    fn ending(self) -> &'static str {
        match self {
            Form::Pdf => "pdf",
            Form::Html => "html",
            Form::Hours => "csv",
        }
    }
}

/// What `report --json` prints.
#[derive(Serialize)]
struct ReportDocument<'a> {
    schema: &'static str,
    files: Vec<ReportFile>,
    journal_head: &'a str,
}

#[derive(Serialize)]
struct ReportFile {
    file: String,
    bytes: usize,
}

/// Gathers, builds, writes.
pub fn run(args: &args::Report) -> anyhow::Result<Outcome> {
    let survey = Survey::open_to_read(&args.survey.dir)?;
    let files = files(args)?;
    for (_, file) in &files {
        may_write(file)?;
    }
    let bar = Bar::new();
    let facts = gather(&survey, &bar)?;
    let mut written = Vec::new();
    for (form, file) in &files {
        bar.step(0, 0, "writing the report");
        let bytes = made(&facts, *form, args.interim)?;
        write(file, &bytes)?;
        written.push(ReportFile { file: file.to_string_lossy().into_owned(), bytes: bytes.len() });
    }
    drop(bar);
    if !args.interim && !args.time {
        remember(&survey, &facts);
    }
    say::warnings(&facts.warnings);
    if !facts.verification.ok {
        say::warn("evidence or journal is not as it was written: the report says so; see `verify`");
    }
    if args.survey.json.json {
        say::json(&ReportDocument {
            schema: "stillroom.report-files/1",
            files: written,
            journal_head: &facts.verification.head,
        })?;
    } else {
        for (_, file) in &files {
            say::text(&format!("{}\n", wrap::path(file)))?;
        }
    }
    Ok(Outcome::Done)
}

/// The whole report of a survey, as PDF and HTML, in a folder that is there.
pub fn both(survey: &Survey, folder: &Path, bar: &Bar) -> anyhow::Result<[PathBuf; 2]> {
    let facts = gather(survey, bar)?;
    let files = [Form::Pdf, Form::Html].map(|form| (form, folder.join(name("report", form))));
    for (form, file) in &files {
        write(file, &made(&facts, *form, false)?)?;
    }
    remember(survey, &facts);
    Ok(files.map(|(_, file)| file))
}

/// For the stages of the job; a survey that cannot be written to is reported on all the same.
fn remember(survey: &Survey, facts: &Facts) {
    let journal_head = facts.verification.head.clone();
    if let Err(error) = survey.remember_report(&Reported { made: facts.made, journal_head }) {
        say::warn(&format!("that the report was made is not written in the survey: {error}"));
    }
}

fn gather(survey: &Survey, progress: &dyn Progress) -> anyhow::Result<Facts> {
    let now = Utc(jiff::Timestamp::now().as_millisecond().saturating_mul(1_000_000));
    Ok(Facts::gather(survey, env!("CARGO_PKG_VERSION"), now, progress)?)
}

fn made(facts: &Facts, form: Form, interim: bool) -> anyhow::Result<Vec<u8>> {
    let content = || if interim { report::interim(facts) } else { report::full(facts) };
    Ok(match form {
        Form::Hours => report::hours(facts)?.into_bytes(),
        Form::Html => report::html(&content()?).into_bytes(),
        Form::Pdf => report::pdf(&content()?, &[Attachment::ledger(facts)?])?,
    })
}

/// What to write where.
fn files(args: &args::Report) -> anyhow::Result<Vec<(Form, PathBuf)>> {
    let ending = args.out.as_deref().and_then(Path::extension).and_then(|ending| ending.to_str());
    let forms = match (args.time, args.pdf, args.html, ending) {
        (true, ..) => vec![Form::Hours],
        (_, true, ..) | (_, _, false, Some("pdf")) => vec![Form::Pdf],
        (_, _, true, _) | (_, _, _, Some("html" | "htm")) => vec![Form::Html],
        _ => vec![Form::Pdf, Form::Html],
    };
    if let (Some(out), [form]) = (&args.out, &forms[..])
        && !out.is_dir()
    {
        return Ok(vec![(*form, out.clone())]);
    }
    let kind = match (args.interim, args.time) {
        (_, true) => "hours",
        (true, _) => "interim",
        _ => "report",
    };
    let (folder, kind) = match &args.out {
        Some(folder) => {
            std::fs::create_dir_all(folder).map_err(|e| disk(folder, "make the folder", e))?;
            (folder.clone(), kind.to_owned())
        }
        None => (PathBuf::new(), format!("{}-{kind}", survey_name(&args.survey.dir)?)),
    };
    Ok(forms.into_iter().map(|form| (form, folder.join(name(&kind, form)))).collect())
}

fn name(kind: &str, form: Form) -> String {
    format!("{kind}.{}", form.ending())
}

/// The name of the survey's folder: a code name stays one.
fn survey_name(dir: &Path) -> anyhow::Result<String> {
    let dir = dir.canonicalize().map_err(|e| disk(dir, "find it", e))?;
    let name = dir.file_name().map(|name| name.to_string_lossy().into_owned());
    Ok(name.unwrap_or_else(|| "survey".into()))
}

/// Refuses to write over what is no earlier report.
fn may_write(file: &Path) -> anyhow::Result<()> {
    if !file.exists() {
        return Ok(());
    }
    let there = std::fs::read(file);
    let there = there.map_err(|e| disk(file, "look whether it may be written over", e))?;
    let is_pdf =
        there.starts_with(b"%PDF-") && there.windows(OUR_PDF.len()).any(|part| part == OUR_PDF);
    if is_pdf || OURS.iter().any(|ours| there.starts_with(ours)) {
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
