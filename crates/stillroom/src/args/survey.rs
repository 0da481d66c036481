//! Starting, describing, checking a survey; the demonstration.

use super::{By, Json, Reading, Writing};
use clap::{Args as Group, ValueEnum};
use std::path::PathBuf;

/// `demo`.
#[derive(Debug, Group)]
pub struct Demo {
    /// Folder for the demonstration [default: stillroom-demo in the temporary folder, made anew].
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Do not serve the page afterwards; without this it is, where the output is a terminal.
    #[arg(long)]
    pub no_serve: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}

/// `simulate`.
#[derive(Debug, Group)]
pub struct Simulate {
    /// The described place.
    #[arg(value_name = "SCENE.toml")]
    pub scene: PathBuf,
    /// Folder for recordings, event logs and truth; must not exist, or be empty.
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Seed; the same seed gives the same bytes [default: 1].
    #[arg(long)]
    pub seed: Option<u64>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}

/// `new`.
#[derive(Debug, Group)]
pub struct New {
    /// Folder of the survey; must not exist, or be empty.
    pub dir: PathBuf,
    /// Name, or a code name [default: the folder's name].
    #[arg(long)]
    pub name: Option<String>,
    /// Region for allocations.
    #[arg(long, value_enum, ignore_case = true, default_value = "WORLD")]
    pub region: RegionArg,
    /// IANA time zone of the premises [default: the machine's].
    #[arg(long, value_name = "IANA")]
    pub time_zone: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub by: By,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}

/// Regions of the allocation tables.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[value(rename_all = "UPPER")]
#[allow(missing_docs)]
pub enum RegionArg {
    World,
    Itu1,
    Itu2,
    Itu3,
    Cept,
    Uk,
    Us,
}

impl RegionArg {
    /// As the tables write it.
    pub fn word(self) -> &'static str {
        match self {
            RegionArg::World => "WORLD",
            RegionArg::Itu1 => "ITU1",
            RegionArg::Itu2 => "ITU2",
            RegionArg::Itu3 => "ITU3",
            RegionArg::Cept => "CEPT",
            RegionArg::Uk => "UK",
            RegionArg::Us => "US",
        }
    }
}

/// `describe`.
#[derive(Debug, Group)]
pub struct Describe {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub survey: Writing,
    /// Make the survey say what this file says; each difference is shown and journalled.
    #[arg(long, value_name = "FILE.toml")]
    pub apply: Option<PathBuf>,
}

/// `undo`.
#[derive(Debug, Group)]
pub struct Undo {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub survey: Writing,
    /// Number of the entry; without it, those that can be taken back are listed, newest first.
    #[arg(value_name = "ENTRY")]
    pub entry: Option<u64>,
}

/// `reanalyse`.
#[derive(Debug, Group)]
pub struct Reanalyse {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub survey: Writing,
}

/// `report`.
#[derive(Debug, Group)]
pub struct Report {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub survey: Reading,
    /// One page for the same night.
    #[arg(long)]
    pub interim: bool,
    /// The hours worked, as CSV.
    #[arg(long, conflicts_with = "interim")]
    pub time: bool,
    /// Only as PDF, for keeping and printing.
    #[arg(long, conflicts_with = "time")]
    pub pdf: bool,
    /// Only as one HTML file, for screens.
    #[arg(long, conflicts_with_all = ["time", "pdf"])]
    pub html: bool,
    /// File to write, whose ending (.pdf, .html) says which; or a folder for both [default: the
    /// current folder, under the survey's folder name].
    #[arg(long, value_name = "FILE|FOLDER")]
    pub out: Option<PathBuf>,
}

/// `verify`.
#[derive(Debug, Group)]
pub struct Verify {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub survey: Reading,
}

/// `serve`.
#[derive(Debug, Group)]
pub struct Serve {
    /// The survey; without it, all in the surveys' folder.
    pub dir: Option<PathBuf>,
    /// Port of this machine's loopback interface, 0 for any free one [default: 4780 if it is free].
    #[arg(long, value_name = "N")]
    pub port: Option<u16>,
    /// The surveys' folder, where no survey is named [default: stillroom in your home folder].
    #[arg(long, env = "STILLROOM_SURVEYS", value_name = "DIR")]
    pub surveys: Option<PathBuf>,
    /// Open the page in a browser.
    #[arg(long)]
    pub open: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}
