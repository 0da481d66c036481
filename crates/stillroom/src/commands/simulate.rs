//! `simulate`: recordings of a described place, with their truth.

use crate::exit::Outcome;
use crate::progress::Bar;
use crate::{args, say, scene, table};

/// The seed where nobody says one.
const SEED: u64 = 1;

/// Writes the recordings and lists them.
pub fn run(args: &args::Simulate) -> anyhow::Result<Outcome> {
    let file = scene::read(&args.scene)?;
    let bar = Bar::new();
    let written = scene::write(file, args.seed.unwrap_or(SEED), &args.out, &bar)?;
    drop(bar);
    let mut text = String::new();
    for (path, plan) in &written.recordings {
        let seconds =
            plan.segments.iter().map(|s| s.samples).sum::<u64>() as f64 / plan.sample_rate_hz;
        text.push_str(&format!(
            "{}  {} of {} samples a second, {} segments, at {}\n",
            path.display(),
            table::length(seconds),
            plan.sample_rate_hz,
            plan.segments.len(),
            plan.position,
        ));
    }
    for log in &written.logs {
        text.push_str(&format!(
            "{}  {} events of '{}', to be read with --columns '{}'\n{}  where it was when\n",
            log.log.display(),
            log.walk.rows.len(),
            log.walk.detector,
            log.columns,
            log.movements.display(),
        ));
    }
    text.push_str(&format!("{}  what is true of them\n", written.truth.display()));
    say::text(&text)?;
    Ok(Outcome::Done)
}
