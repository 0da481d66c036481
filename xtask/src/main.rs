//! Scoreboards, benches and schemas of the workspace.

mod surveys;

use clap::Parser;

#[derive(Debug, Parser)]
enum Command {
    /// Surveys of described places, their ledgers against the truth.
    ScoreSurveys(surveys::Args),
}

fn main() -> anyhow::Result<()> {
    match Command::parse() {
        Command::ScoreSurveys(args) => surveys::run(&args),
    }
}
