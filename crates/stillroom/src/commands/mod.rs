//! One file for each command.

use crate::args::Args;
use crate::exit::Outcome;

/// Carries a plan out.
pub fn run(args: Args) -> anyhow::Result<Outcome> {
    let _ = args;
    Ok(Outcome::Done)
}
