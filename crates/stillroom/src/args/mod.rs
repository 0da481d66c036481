//! What can be typed. Nothing here touches the world.

mod note;
mod recording;
mod rows;
mod survey;

pub use note::*;
pub use recording::*;
pub use rows::*;
pub use survey::*;

use clap::{Args as Group, Parser, Subcommand};
use std::path::PathBuf;

/// Where options that every command has stand in its help: below its own.
const LAST: usize = 500;

/// Printed below the commands.
const JOB: &str = "\
A night, in this order:
  stillroom new night-one --region CEPT --by 'A. Example'
  stillroom add night-one yard.sigmf-meta --role reference --at yard
  stillroom add night-one office.sigmf-meta --role room --at office
  stillroom emissions night-one
  stillroom decide night-one E3 --as suspect --reason 'louder inside, nobody knows it'
  stillroom verify night-one

HZ is 433920000, 4.3392e8 or 433.92MHz. TIME is 2026-03-01T21:30 in the survey's time zone, or with
its offset (2026-03-01T21:30Z, …+01:00).

Status: 0 done; 1 the answer is no (verify, emissions --balanced); 2 bad use, bad input or refused;
3 could not (disk, lock); 130 interrupted.";

/// What the columns of the ledger mean.
const LEGEND: &str = "\
Example:
  stillroom emissions night-one

Rows stand in the order of attention: first what deserves a look most, by where it is loudest,
its timing, its band and what is known there. Below each row stands the strongest reason; --json
has all, with their numbers. (u 0.7 dB) is a standard uncertainty.
  width       99 % of the power lies in it; < no wider than; ? not known (a log gives none)
  known       what it is, where that can be told, and how it comes and goes
  loudest at  the position where it was received loudest, and its level or strength there
  excess      loudest room over the best reference outside, dB; – where levels do not compare
  in          chance that it radiates from inside, by the levels; – where nothing tells
  decision    what a person decided; changed: since then, something new was received";

const REPORT: &str = "\
Examples:
  stillroom report night-one
  stillroom report night-one --interim --out tonight.pdf
  stillroom report night-one --time --out hours.csv

The report is a PDF for keeping (PDF/A-3a and PDF/UA-1, with the ledger attached as JSON) and one
HTML file that needs nothing else; both say the same. Every evidence file and the journal are
checked first, as by `verify`. What the technician concludes is written with `describe --apply`,
part [statement].

Hours are made of the journal's entries and of what was noted on site, put together where less than
an hour lies between them; recorders running are listed apart.";

/// Find, decide and account for every radio emission at a place.
///
/// Stillroom only receives. Before any work: written authority. Before listening to, or even
/// storing, other people's communications: the law of the place.
#[derive(Debug, Parser)]
#[command(name = "stillroom", version, max_term_width = 100, disable_help_subcommand = true,
    after_help = JOB)]
pub struct Args {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Build the demonstration survey and print its ledger.
    #[command(after_help = "Example:\n  stillroom demo --out demo-survey")]
    Demo(Demo),
    /// Synthesise recordings of a described place, with their truth.
    #[command(after_help = "Example:\n  stillroom simulate scenes/stepped.toml --out scene")]
    Simulate(Simulate),
    /// Start a survey.
    #[command(
        after_help = "Example:\n  stillroom new night-one --name 'Blue Heron' --region CEPT \\\n      \
                      --time-zone Europe/Vienna --by 'A. Example'"
    )]
    New(New),
    /// Print the record as TOML, or apply an edited one.
    #[command(after_help = "Example:\n  stillroom describe night-one > record.toml\n  \
                      stillroom describe night-one --apply record.toml")]
    Describe(Describe),
    /// Bring captures in, analyse and join them.
    #[command(
        after_help = "Examples:\n  stillroom add night-one yard.sigmf-meta --role reference --at yard\n  \
                      stillroom add night-one log.csv --role room --at boardroom \\\n      \
                      --columns 'time=Time,frequency=MHz:MHz,strength=Bars/12,duration=Secs:s'"
    )]
    Add(Add),
    /// Correct where, when, with what a capture was made; set it aside, restore it.
    #[command(
        after_help = "Examples:\n  stillroom amend night-one C3 --at corridor --clock +42\n  \
                      stillroom amend night-one C3 --empty gain,condition"
    )]
    Amend(Amend),
    /// Note a reading, stimulus, remark or movement; keep photographs of a found item.
    #[command(
        override_usage = "stillroom note DIR --at POSITION --frequency HZ --strength 7/12 | --level -61dBm\n       \
                          stillroom note DIR --stimulus TEXT | --remark TEXT [--at P] [--from T] [--until T]\n       \
                          stillroom note DIR --arrived POSITION [--zone ZONE] [--when TIME]\n       \
                          stillroom note DIR --item ID --photograph FILE…\n       \
                          stillroom note DIR --movements FILE.csv",
        after_help = "Examples:\n  stillroom note night-one --at desk --frequency 433.9MHz --strength 7/12\n  \
                      stillroom note night-one --stimulus 'music on' --at boardroom\n  \
                      stillroom note night-one --arrived corridor --zone adjacent --when 2026-03-01T21:30:00\n  \
                      stillroom note night-one --item F1 --photograph socket.jpg wall.jpg\n  \
                      stillroom note night-one --movements walk-movements.csv"
    )]
    Note(Note),
    /// Find the emissions of recordings, without a survey.
    #[command(after_help = "Examples:\n  stillroom analyse yard.sigmf-meta\n  \
                      stillroom analyse night.cu8 --format cu8 --rate 2.4MHz --centre 433.92MHz --json")]
    Analyse(Analyse),
    /// The ledger: every emission, what to look at first.
    #[command(after_help = LEGEND)]
    Emissions(Emissions),
    /// Decide emissions.
    #[command(
        after_help = "Example:\n  stillroom decide night-one E3 E5 --as accounted --ground stronger-outside \\\n      \
                      --reason 'broadcast, 20 dB stronger in the yard'"
    )]
    Decide(Decide),
    /// Put rows together by hand.
    #[command(
        after_help = "Example:\n  stillroom join night-one E3 E9 --reason \"one sender, heard on two nights\""
    )]
    Join(Join),
    /// Take the receptions of some captures out of a row by hand.
    #[command(
        after_help = "Example:\n  stillroom split night-one E3 C2 --reason \"the neighbour's, on the same channel\""
    )]
    Split(Split),
    /// Take back what a journal entry did; without a number, list the entries.
    #[command(after_help = "Examples:\n  stillroom undo night-one\n  stillroom undo night-one 18")]
    Undo(Undo),
    /// Derive again with this version; print what changed.
    #[command(after_help = "Example:\n  stillroom reanalyse night-one")]
    Reanalyse(Reanalyse),
    /// Write the client's report, the interim page, or the hours worked.
    #[command(after_help = REPORT)]
    Report(Report),
    /// Serve the page to a browser on this machine.
    #[command(
        after_help = "Examples:\n  stillroom serve night-one --open\n  stillroom serve --port 8080"
    )]
    Serve(Serve),
    /// Check every evidence file and the journal.
    #[command(after_help = "Example:\n  stillroom verify night-one")]
    Verify(Verify),
}

/// The survey that a command reads in.
#[derive(Debug, Group)]
pub struct Reading {
    /// The survey.
    pub dir: PathBuf,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}

/// The survey that a command writes in, and by whom.
#[derive(Debug, Group)]
pub struct Writing {
    /// The survey.
    pub dir: PathBuf,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub by: By,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}

/// Who does it: for the journal.
#[derive(Debug, Clone, Group)]
pub struct By {
    /// Who does this; written into the journal [default: the survey's technician].
    #[arg(long, env = "STILLROOM_BY", value_name = "WHO", display_order = LAST)]
    pub by: Option<String>,
}

/// Result as JSON.
#[derive(Debug, Clone, Copy, Group)]
pub struct Json {
    /// Print the result as JSON, alone on standard output.
    #[arg(long, display_order = LAST)]
    pub json: bool,
}
