//! Scoreboards, benches and schemas of the workspace.

mod bench;
mod bench_signals;
mod limits;
mod recordings;
mod schemas;
mod score_open;
mod score_scenes;
mod statistics;
mod surveys;

use clap::Parser;

#[derive(Debug, Parser)]
#[command(max_term_width = 100)]
enum Command {
    /// Measure speed and memory of analysis on noise and on a busy band.
    Bench(bench::Args),
    /// Compare the detector with what theory allows, and with what it promises of noise.
    ScoreLimits(limits::Args),
    /// Write the JSON Schemas of the machine contracts and the API's description, or compare them.
    Schemas(schemas::Args),
    /// Analyse the collection of real recordings and compare with what is known of them.
    ScoreOpen(score_open::Args),
    /// Analyse random scenes and compare with their truth.
    ScoreScenes(score_scenes::Args),
    /// Surveys of described places, their ledgers against the truth.
    ScoreSurveys(surveys::Args),
}

fn main() -> anyhow::Result<()> {
    match Command::parse() {
        Command::Bench(args) => bench::run(&args),
        Command::ScoreLimits(args) => limits::run(&args),
        Command::Schemas(args) => schemas::run(&args),
        Command::ScoreOpen(args) => score_open::run(&args),
        Command::ScoreScenes(args) => score_scenes::run(&args),
        Command::ScoreSurveys(args) => surveys::run(&args),
    }
}
