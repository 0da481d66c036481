//! `describe`: prints the record as TOML, or makes the survey say what a text says.

use crate::exit::{Outcome, disk, refused};
use crate::{args, say, wrap};
use anyhow::Context;
use serde::Serialize;
use serde_json::Value;
use std::path::Path;
use survey::{Difference, Survey};

/// Prints, or applies and shows each difference.
pub fn run(args: &args::Describe) -> anyhow::Result<Outcome> {
    let Some(file) = &args.apply else {
        let record = Survey::open_to_read(&args.survey.dir)?.describe()?;
        if args.survey.json.json {
            let record: Value = toml::from_str(&record).context("the record")?;
            say::json(&record)?;
        } else {
            say::text(&record)?;
        }
        return Ok(Outcome::Done);
    };
    let text = read(file)?;
    let (survey, by) = say::open(&args.survey)?;
    let differences = survey.apply(&text, &by).with_context(|| wrap::path(file))?;
    if args.survey.json.json {
        let differences = differences.iter().map(DifferenceJson::of).collect();
        say::json(&DifferencesDocument { schema: "stillroom.differences/1", differences })?;
    } else if differences.is_empty() {
        say::text("the survey says that already; nothing was changed\n")?;
    } else {
        let lines: Vec<String> = differences.iter().map(|d| format!("{d}\n")).collect();
        say::text(&lines.concat())?;
    }
    Ok(Outcome::Done)
}

fn read(file: &Path) -> anyhow::Result<String> {
    let bytes = std::fs::read(file).map_err(|e| disk(file, "read it", e))?;
    String::from_utf8(bytes).map_err(|e| {
        let at = e.utf8_error().valid_up_to();
        refused(format!("{}, byte {at}: this is no UTF-8 text: save it as UTF-8", wrap::path(file)))
    })
}

/// What `describe --apply --json` prints.
#[derive(Serialize)]
struct DifferencesDocument<'a> {
    schema: &'static str,
    differences: Vec<DifferenceJson<'a>>,
}

#[derive(Serialize)]
struct DifferenceJson<'a> {
    kind: &'a str,
    id: &'a str,
    was: Option<&'a Value>,
    is: Option<&'a Value>,
}

impl<'a> DifferenceJson<'a> {
    fn of(d: &'a Difference) -> Self {
        DifferenceJson { kind: &d.kind, id: &d.id, was: d.was.as_ref(), is: d.is.as_ref() }
    }
}
