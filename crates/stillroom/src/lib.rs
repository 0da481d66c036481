//! The program: what was typed becomes a plan, the plan is carried out by the crates beneath.
//!
//! `args` says what can be typed, `values` reads hertz, times and levels, `commands` has one file
//! for each command, `table` prints the ledger, `next` says what to do next, `wrap` fits text
//! to a terminal, `exit` decides the status, `scene` writes the recordings of a described place,
//! `simulated` makes a survey of them.

pub mod args;
mod commands;
pub mod exit;
mod next;
mod progress;
pub mod record;
mod say;
pub mod scene;
pub mod simulated;
pub mod table;
pub mod values;
mod wrap;

use clap::Parser;
use std::ffi::OsString;
use std::process::ExitCode;

/// Runs one command line and says with which status to leave (0, 1, 2, 3 or 130).
pub fn run(typed: impl IntoIterator<Item = OsString>) -> ExitCode {
    let args = match args::Args::try_parse_from(typed) {
        Ok(args) => args,
        Err(said) => {
            let wanted_help = !said.use_stderr();
            // A closed pipe while printing help is nobody's fault.
            let _ = said.print();
            return if wanted_help { ExitCode::SUCCESS } else { ExitCode::from(2) };
        }
    };
    progress::stop_on_interrupt();
    survey::when_waiting(|| {
        say::warn("another program is writing to this survey; waiting for it, two minutes at most");
    });
    exit::status(commands::run(args))
}
