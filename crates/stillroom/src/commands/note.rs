//! `note`: a reading, stimulus, remark or movement; photographs of a found item.

use crate::commands::circumstances::time;
use crate::exit::{Outcome, disk, refused};
use crate::progress::Bar;
use crate::wrap::counted;
use crate::{args, say};
use ledger::FileInfo;
use serde::Serialize;
use survey::{Note, ReadingNote, Survey};
use units::Band;

const SCHEMA: &str = "stillroom.noted/1";

/// What `note --json` prints.
#[derive(Serialize)]
struct Noted {
    schema: &'static str,
    id: String,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    photographs: Vec<FileInfo>,
}

/// What `note --movements --json` prints.
#[derive(Serialize)]
struct NotedAll {
    schema: &'static str,
    ids: Vec<String>,
}

/// Notes one thing, or every arrival of a file.
pub fn run(args: &args::Note) -> anyhow::Result<Outcome> {
    let (survey, by) = say::open(&args.survey)?;
    if let Some(item) = &args.item {
        return photographs(args, &item.to_uppercase(), &survey, &by);
    }
    let known = say::known_positions(&survey)?;
    if let Some(file) = &args.movements {
        let table = std::fs::read(file).map_err(|e| disk(file, "read it", e))?;
        let name = file.display().to_string();
        let ids = survey.note_movements(&table, &name, args.chain.as_deref(), &by)?;
        if args.survey.json.json {
            say::json(&NotedAll { schema: "stillroom.noted-all/1", ids })?;
        } else {
            let (first, last) = (ids.first().cloned(), ids.last().cloned());
            let ends = format!("{} to {}", first.unwrap_or_default(), last.unwrap_or_default());
            say::text(&format!(
                "{} noted, {ends}\n",
                counted(ids.len() as u64, "arrival", "arrivals")
            ))?;
            say::new_positions(&survey, &known)?;
        }
        return Ok(Outcome::Done);
    }
    let id = survey.note_in(&note(args, &survey)?, args.zone.map(Into::into), &by)?;
    if args.survey.json.json {
        say::json(&Noted { schema: SCHEMA, id, photographs: Vec::new() })?;
    } else {
        say::text(&format!("noted as {id}\n"))?;
        say::new_positions(&survey, &known)?;
    }
    Ok(Outcome::Done)
}

fn photographs(
    args: &args::Note,
    item: &str,
    survey: &Survey,
    by: &str,
) -> anyhow::Result<Outcome> {
    let bar = Bar::new();
    let photographs = survey.photograph(item, &args.photograph, by, &bar)?;
    drop(bar);
    if args.survey.json.json {
        say::json(&Noted { schema: SCHEMA, id: item.to_owned(), photographs })?;
        return Ok(Outcome::Done);
    }
    for kept in photographs {
        say::text(&format!("{} shows {item}: {} bytes kept\n", kept.name, kept.bytes))?;
    }
    Ok(Outcome::Done)
}

fn note(args: &args::Note, survey: &Survey) -> anyhow::Result<Note> {
    let when = time(survey, args.when.as_deref())?;
    let from = time(survey, args.from.as_deref())?;
    let until = time(survey, args.until.as_deref())?;
    if let Some(at) = &args.arrived {
        return Ok(Note::Arrived { at: at.clone(), when, chain: args.chain.clone() });
    }
    if let Some(what) = &args.stimulus {
        return Ok(Note::Stimulus { what: what.clone(), at: args.at.clone(), from, until });
    }
    if let Some(text) = &args.remark {
        return Ok(Note::Remark { text: text.clone(), at: args.at.clone(), from, until });
    }
    let Some(at) = args.at.clone() else {
        return Err(refused("a reading needs its place: give --at POSITION"));
    };
    Ok(Note::Reading(ReadingNote {
        at,
        when,
        band: args.frequency.map(|hz| Band { low_hz: hz, high_hz: hz }),
        emission: args.emission.clone(),
        strength: args.strength,
        level_dbm: args.level,
        bearing_deg: args.bearing,
        heard: args.heard.clone(),
        chain: args.chain.clone(),
        setting: None,
    }))
}
