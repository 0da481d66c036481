//! One file for each command: from what was typed to what the crates beneath take, and from what
//! they give to text or JSON.

mod add;
mod amend;
mod analyse;
mod circumstances;
mod decide;
mod demo;
mod describe;
mod emissions;
mod join;
mod mapping;
mod new;
mod note;
mod reanalyse;
mod report;
mod serve;
mod simulate;
mod split;
mod undo;
mod verify;

use crate::args::{Args, Command};
use crate::exit::Outcome;

/// Carries a plan out.
pub fn run(args: Args) -> anyhow::Result<Outcome> {
    match args.command {
        Command::Demo(args) => demo::run(&args),
        Command::Simulate(args) => simulate::run(&args),
        Command::New(args) => new::run(&args),
        Command::Describe(args) => describe::run(&args),
        Command::Add(args) => add::run(&args),
        Command::Amend(args) => amend::run(&args),
        Command::Note(args) => note::run(&args),
        Command::Analyse(args) => analyse::run(&args),
        Command::Emissions(args) => emissions::run(&args),
        Command::Decide(args) => decide::run(&args),
        Command::Join(args) => join::run(&args),
        Command::Split(args) => split::run(&args),
        Command::Undo(args) => undo::run(&args),
        Command::Reanalyse(args) => reanalyse::run(&args),
        Command::Report(args) => report::run(&args),
        Command::Serve(args) => serve::run(&args),
        Command::Verify(args) => verify::run(&args),
    }
}
