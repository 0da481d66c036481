//! `simulate`: recordings of a described place, with their truth.

use crate::exit::Outcome;
use crate::progress::Bar;
use crate::scene::{self, Written};
use crate::wrap::{counted, wrapped};
use crate::{args, say, table, wrap};
use serde::Serialize;
use simulate::VisitPlan;
use std::path::Path;

/// The seed where nobody says one.
const SEED: u64 = 1;

/// What `simulate --json` prints.
#[derive(Serialize)]
struct Simulated<'a> {
    schema: &'static str,
    recordings: Vec<RecordingJson<'a>>,
    logs: Vec<LogJson<'a>>,
    truth: &'a Path,
}

#[derive(Serialize)]
struct RecordingJson<'a> {
    path: &'a Path,
    position: &'a str,
    duration_s: f64,
}

#[derive(Serialize)]
struct LogJson<'a> {
    path: &'a Path,
    columns: &'a str,
    movements: &'a Path,
}

/// Writes the recordings and lists them.
pub fn run(args: &args::Simulate) -> anyhow::Result<Outcome> {
    let file = scene::read(&args.scene)?;
    let bar = Bar::new();
    let written = scene::write(file, args.seed.unwrap_or(SEED), &args.out, &bar)?;
    drop(bar);
    if args.json.json {
        say::json(&document(&written))?;
        return Ok(Outcome::Done);
    }
    let mut text = String::new();
    for (path, plan) in &written.recordings {
        let seconds = seconds(plan);
        text.push_str(&format!(
            "{}  {} of {} samples a second, {} segments, at {}\n",
            wrap::path(path),
            table::length(seconds),
            plan.sample_rate_hz,
            plan.segments.len(),
            plan.position,
        ));
    }
    for log in &written.logs {
        text.push_str(&wrapped(&format!(
            "{}  {} of '{}', to be read with --columns '{}'\n{}  where it was when",
            wrap::path(&log.log),
            counted(log.walk.rows.len() as u64, "event", "events"),
            log.walk.detector,
            log.columns,
            wrap::path(&log.movements),
        )));
    }
    text.push_str(&format!("{}  what is true of them\n", wrap::path(&written.truth)));
    say::text(&text)?;
    Ok(Outcome::Done)
}

fn seconds(plan: &VisitPlan) -> f64 {
    plan.segments.iter().map(|s| s.samples).sum::<u64>() as f64 / plan.sample_rate_hz
}

fn document(written: &Written) -> Simulated<'_> {
    let recordings = written.recordings.iter().map(|(path, plan)| RecordingJson {
        path,
        position: &plan.position,
        duration_s: seconds(plan),
    });
    let logs = written.logs.iter().map(|log| LogJson {
        path: &log.log,
        columns: &log.columns,
        movements: &log.movements,
    });
    Simulated {
        schema: "stillroom.simulated/1",
        recordings: recordings.collect(),
        logs: logs.collect(),
        truth: &written.truth,
    }
}
