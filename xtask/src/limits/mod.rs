//! `score-limits`: how near the detector comes to what theory allows, and what noise alone makes of
//! it: docs/scores/limits.md, and limits-faint.md with what is faint looked for too.

mod air;
mod grid;
mod quiet;
mod steady;

use crate::schemas::workspace;
use crate::statistics::shown;
use detect::Options;
use grid::{Cell, LENGTHS_S, Measured, RATE_HZ, WIDTHS_HZ};
use std::fmt::Write as _;

/// `score-limits`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Bursts sent of each length and width at each strength.
    #[arg(long, default_value_t = 200)]
    bursts: u64,
    /// Recordings of noise of each length.
    #[arg(long, default_value_t = 200)]
    quiet: u64,
    /// Seconds of the recording of a steady carrier.
    #[arg(long, default_value_t = 600.0)]
    steady_s: f64,
    /// Look for what is faint too, as `analyse --faint` does.
    #[arg(long)]
    faint: bool,
    /// Print the scores and write no document.
    #[arg(long)]
    dry: bool,
}

/// Measures, and writes the document.
pub fn run(args: &Args) -> anyhow::Result<()> {
    let options = Options { faint: args.faint, ..Options::default() };
    let mut text = HEAD.to_owned();
    let cells = LENGTHS_S
        .iter()
        .flat_map(|length_s| WIDTHS_HZ.iter().map(|width_hz| (*length_s, *width_hz)))
        .map(|(length_s, width_hz)| Cell { length_s, width_hz });
    let mut all = Vec::new();
    for cell in cells {
        let measured = cell.measure(args.bursts, &options)?;
        println!("{}", row(&measured));
        all.push(measured);
    }
    table(&mut text, &all, args)?;
    noise(&mut text, args)?;
    carrier(&mut text, args, &options)?;
    println!("{text}");
    if !args.dry {
        let name = if args.faint { "limits-faint.md" } else { "limits.md" };
        std::fs::write(workspace().join("docs/scores").join(name), text)?;
    }
    Ok(())
}

const HEAD: &str = "# Against the limits of theory

Written by `cargo run --release -p xtask -- score-limits` (with `--faint` for limits-faint.md, as `analyse --faint` looks). The signals are made without the project's own generator: minimum-shift keying of random symbols, whose 99 % band is the width named, in white noise at 2.4 million samples a second, at random times and frequencies.

";

/// What the table of one says.
fn row(m: &Measured) -> String {
    let length = match m.cell.length_s {
        s if s < 1.0 => format!("{} ms", 1e3 * s),
        s => format!("{s} s"),
    };
    let curve: Vec<String> =
        m.curve.iter().map(|(db, p)| format!("{:.0} at {db:+.0}", 100.0 * p)).collect();
    format!(
        "| {length} | {} kHz | {:.0} | {:.1} | {} | {:.2} | {} | {} |",
        m.cell.width_hz / 1e3,
        m.cell.length_s * m.cell.width_hz,
        m.ideal_db,
        shown(m.short_db, 1),
        m.pieces,
        m.stray,
        curve.join(", ")
    )
}

fn table(text: &mut String, all: &[Measured], args: &Args) -> anyhow::Result<()> {
    writeln!(text, "## Bursts of unknown place, length and width\n")?;
    writeln!(
        text,
        "The ideal is the energy detector that knows noise, length and width, but not the place: one test a place, as many false rows in the recording as the detector may make by default (Urkowitz 1967; noncentral chi-square). *Short* is how much stronger than for it a burst must be for nine of ten to be found; wanted: 2 dB at most. *Pieces* are the bursts that one came in at the last strength tried, *stray* those never sent, in all recordings of the line. {} bursts of each at each strength.\n",
        args.bursts
    )?;
    let within = all.iter().filter(|m| m.short_db.is_some_and(|s| s <= 2.0)).count();
    writeln!(text, "Within 2 dB: {within} of {}.\n", all.len())?;
    writeln!(
        text,
        "| length | width | T·W | ideal, dB | short, dB | pieces | stray | found of 100, dB from the ideal |"
    )?;
    writeln!(text, "| --: | --: | --: | --: | --: | --: | --: | --- |")?;
    all.iter().try_for_each(|m| writeln!(text, "{}", row(m)))?;
    Ok(())
}

fn noise(text: &mut String, args: &Args) -> anyhow::Result<()> {
    writeln!(text, "\n## Noise alone\n")?;
    writeln!(text, "White noise, one row promised in each recording.\n")?;
    writeln!(text, "| samples | recordings | rows | a recording | longest run |")?;
    writeln!(text, "| --: | --: | --: | --: | --: |")?;
    let options = Options { false_rows: 1.0, faint: args.faint, ..Options::default() };
    for samples in [24_000, 240_000, 2_400_000, 12_000_000] {
        let rows = quiet::rows(args.quiet, samples, &options)?;
        let sum: usize = rows.iter().sum();
        let most = rows.iter().max().copied().unwrap_or(0);
        let mean = sum as f64 / args.quiet as f64;
        writeln!(text, "| {samples} | {} | {sum} | {mean:.2} | {most} |", args.quiet)?;
    }
    Ok(())
}

fn carrier(text: &mut String, args: &Args, options: &Options) -> anyhow::Result<()> {
    let m = steady::measure(args.steady_s, options)?;
    writeln!(text, "\n## A steady carrier\n")?;
    writeln!(
        text,
        "{} s at {} MHz, a carrier at a random place, by its density over that of the noise; the ideal adds the powers of the frames of one bin of {:.0} Hz of noise bandwidth, over all the time (noncentral chi-square, 18/19 of the number of frames), of a carrier in the middle of the bin.\n",
        args.steady_s,
        RATE_HZ / 1e6,
        m.resolution_hz
    )?;
    writeln!(text, "| C/N0, dB Hz | from the ideal, dB | found |")?;
    writeln!(text, "| --: | --: | --: |")?;
    for (db, over_db, found, of) in &m.curve {
        writeln!(text, "| {db:.1} | {over_db:+.1} | {found} of {of} |")?;
    }
    Ok(())
}
