//! What can be typed. Nothing here touches the world.

use crate::values::{band, finite, hertz, level_dbm, rate, strength};
use clap::{ArgGroup, Args as Group, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;
use units::{Band, Strength};

/// Find, decide and account for every radio emission at a place.
///
/// Stillroom only receives. Before any work: written authority. Before listening to, or even
/// storing, other people's communications: the law of the place.
#[derive(Debug, Parser)]
#[command(name = "stillroom", version, max_term_width = 100, disable_help_subcommand = true)]
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
    #[command(after_help = "Example:\n  stillroom simulate scenes/stepped.toml --out /tmp/scene")]
    Simulate(Simulate),
    /// Start a survey.
    #[command(
        after_help = "Example:\n  stillroom new night-one --name 'Blue Heron' --region CEPT \
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
    #[command(after_help = "Example:\n  stillroom amend night-one C3 --at corridor --clock +42")]
    Amend(Amend),
    /// Note a reading, stimulus, remark or movement.
    #[command(
        override_usage = "stillroom note DIR --at POSITION --frequency HZ --strength 7/12 | --level -61dBm\n       \
                          stillroom note DIR --stimulus TEXT | --remark TEXT [--at P] [--from T] [--until T]\n       \
                          stillroom note DIR --arrived POSITION [--when TIME]",
        after_help = "Examples:\n  stillroom note night-one --at desk --frequency 433.9MHz --strength 7/12\n  \
                      stillroom note night-one --stimulus 'music on' --at boardroom\n  \
                      stillroom note night-one --arrived corridor --when 2026-03-01T21:30:00"
    )]
    Note(Note),
    /// Emissions of recordings, without a survey.
    #[command(after_help = "Examples:\n  stillroom analyse yard.sigmf-meta\n  \
                      stillroom analyse night.cu8 --format cu8 --rate 2.4MHz --centre 433.92MHz --json")]
    Analyse(Analyse),
    /// The ledger: every emission, what to look at first.
    #[command(after_help = "Example:\n  stillroom emissions night-one")]
    Emissions(Emissions),
    /// Decide emissions.
    #[command(
        after_help = "Example:\n  stillroom decide night-one E3 E5 --as accounted --ground stronger-outside \\\n      \
                      --reason 'broadcast, 20 dB stronger in the yard'"
    )]
    Decide(Decide),
    /// Put rows together by hand.
    #[command(after_help = "Example:\n  stillroom join night-one E3 E9")]
    Join(Join),
    /// Take the receptions of some captures out of a row by hand.
    #[command(after_help = "Example:\n  stillroom split night-one E3 C2")]
    Split(Split),
    /// Derive again with this version; print what changed.
    #[command(after_help = "Example:\n  stillroom reanalyse night-one")]
    Reanalyse(Reanalyse),
    /// Check every evidence file and the journal.
    #[command(after_help = "Example:\n  stillroom verify night-one")]
    Verify(Verify),
}

/// Who does it: for the journal.
#[derive(Debug, Clone, Group)]
pub struct By {
    /// Who does this; written into the journal [default: the survey's technician].
    #[arg(long, env = "STILLROOM_BY", value_name = "WHO")]
    pub by: Option<String>,
}

/// Result as JSON.
#[derive(Debug, Clone, Copy, Group)]
pub struct Json {
    /// Print the result as JSON, alone on standard output.
    #[arg(long)]
    pub json: bool,
}

/// `demo`.
#[derive(Debug, Group)]
pub struct Demo {
    /// Folder for the demonstration [default: stillroom-demo in the temporary folder, made anew].
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
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
    /// The survey.
    pub dir: PathBuf,
    /// Make the survey say what this file says; each difference is shown and journalled.
    #[arg(long, value_name = "FILE.toml")]
    pub apply: Option<PathBuf>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub by: By,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}

/// What overrides a file's own metadata.
#[derive(Debug, Clone, Default, Group)]
pub struct Overrides {
    /// Sample format of a raw file.
    #[arg(long, value_enum)]
    pub format: Option<FormatArg>,
    /// Sample rate; overrides the file's.
    #[arg(long, value_name = "HZ", value_parser = rate, allow_hyphen_values = true)]
    pub rate: Option<f64>,
    /// Centre frequency; overrides the file's.
    #[arg(long, value_name = "HZ", value_parser = hertz, allow_hyphen_values = true)]
    pub centre: Option<f64>,
    /// Time of the first sample; overrides the file's.
    #[arg(long, value_name = "TIME")]
    pub start: Option<String>,
    /// Take a WAV as IQ or as sound.
    #[arg(long = "as", value_enum)]
    pub treat_as: Option<AsArg>,
}

/// Raw sample formats.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[allow(missing_docs)]
pub enum FormatArg {
    Cu8,
    Ci8,
    #[value(name = "ci16_le")]
    Ci16Le,
    #[value(name = "cf32_le")]
    Cf32Le,
}

/// What a WAV is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[allow(missing_docs)]
pub enum AsArg {
    Iq,
    Sound,
}

/// How a CSV's columns are to be understood.
#[derive(Debug, Clone, Default, Group)]
pub struct Mapping {
    /// A mapping saved in the survey.
    #[arg(long, value_name = "NAME", conflicts_with = "columns")]
    pub map: Option<String>,
    /// KEY=COLUMN[:UNIT],… with the keys time date frequency band strength level duration
    /// position setting bearing heard note shape.
    #[arg(long, value_name = "KEY=COLUMN[:UNIT],…")]
    pub columns: Option<String>,
}

/// Roles of a capture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[allow(missing_docs)]
pub enum RoleArg {
    Reference,
    Room,
    Walk,
    Check,
    NoAntenna,
}

/// Zones of a position.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[allow(missing_docs)]
pub enum ZoneArg {
    Inside,
    Adjacent,
    Outside,
    Moving,
}

/// Where, when and with what a capture was made.
#[derive(Debug, Clone, Default, Group)]
pub struct Circumstances {
    /// Position; made when named for the first time.
    #[arg(long, value_name = "POSITION")]
    pub at: Option<String>,
    /// Zone of a position named for the first time [default: inside; outside for reference].
    #[arg(long, value_enum, requires = "at")]
    pub zone: Option<ZoneArg>,
    /// Receiver, cable and antenna, under your own name for them.
    #[arg(long, value_name = "NAME")]
    pub chain: Option<String>,
    /// Gain ahead of the converter.
    #[arg(long, value_name = "DB", value_parser = finite, allow_hyphen_values = true)]
    pub gain: Option<f64>,
    /// How the room was: empty, in use, meeting, known sound, …
    #[arg(long, value_name = "TEXT")]
    pub condition: Option<String>,
    /// When listening began (logs).
    #[arg(long, value_name = "TIME")]
    pub from: Option<String>,
    /// When listening ended (logs).
    #[arg(long, value_name = "TIME")]
    pub until: Option<String>,
    /// Bands that the detector listened to (logs).
    #[arg(long, value_name = "LOW-HIGH,…", value_delimiter = ',', value_parser = band)]
    pub bands: Vec<Band>,
    /// Setting that changes what levels mean.
    #[arg(long, value_name = "TEXT")]
    pub setting: Option<String>,
    /// Time zone of stamps without an offset [default: the survey's].
    #[arg(long, value_name = "IANA")]
    pub time_zone: Option<String>,
}

/// `add`.
#[derive(Debug, Group)]
pub struct Add {
    /// The survey.
    pub dir: PathBuf,
    /// Recordings, logs, traces.
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// Why it was recorded.
    #[arg(long, value_enum)]
    pub role: RoleArg,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub circumstances: Circumstances,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub overrides: Overrides,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub mapping: Mapping,
    /// Store now, analyse with the next command that needs it.
    #[arg(long)]
    pub later: bool,
    /// Take a recording that is in the survey already, at another position.
    #[arg(long)]
    pub again: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub by: By,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}

/// `amend`.
#[derive(Debug, Group)]
pub struct Amend {
    /// The survey.
    pub dir: PathBuf,
    /// The capture, `C3`.
    pub capture: String,
    /// Why it was recorded.
    #[arg(long, value_enum)]
    pub role: Option<RoleArg>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub circumstances: Circumstances,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub overrides: Overrides,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub mapping: Mapping,
    /// Seconds to add to the capture's clock.
    #[arg(long, value_name = "±SECONDS", value_parser = finite, allow_hyphen_values = true)]
    pub clock: Option<f64>,
    /// Let it count for nothing, and say why.
    #[arg(long, value_name = "REASON", conflicts_with = "restore")]
    pub set_aside: Option<String>,
    /// Let it count again.
    #[arg(long)]
    pub restore: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub by: By,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}

/// Notes that are no reading, and notes that have no span: what belongs to the others is refused.
const NO_READING: [&str; 3] = ["stimulus", "remark", "arrived"];
const NO_SPAN: [&str; 3] = ["strength", "level", "arrived"];

/// `note`.
#[derive(Debug, Group)]
#[command(group = ArgGroup::new("what").required(true)
    .args(["strength", "level", "stimulus", "remark", "arrived"]))]
pub struct Note {
    /// The survey.
    pub dir: PathBuf,
    /// Position.
    #[arg(long, value_name = "POSITION", conflicts_with = "arrived")]
    pub at: Option<String>,
    /// Frequency of a reading.
    #[arg(long, value_name = "HZ", value_parser = rate, conflicts_with_all = NO_READING)]
    pub frequency: Option<f64>,
    /// A reading: strength on the detector's scale.
    #[arg(long, value_name = "VALUE/STEPS", value_parser = strength)]
    pub strength: Option<Strength>,
    /// A reading: level with its unit.
    #[arg(long, value_name = "-61dBm", value_parser = level_dbm, allow_hyphen_values = true)]
    pub level: Option<f64>,
    /// The row that the reading was taken of.
    #[arg(long, value_name = "ID", conflicts_with_all = NO_READING)]
    pub emission: Option<String>,
    /// Bearing, degrees from north.
    #[arg(long, value_name = "DEG", value_parser = finite, allow_hyphen_values = true,
        conflicts_with_all = NO_READING)]
    pub bearing: Option<f64>,
    /// What was heard.
    #[arg(long, value_name = "TEXT", conflicts_with_all = NO_READING)]
    pub heard: Option<String>,
    /// Chain of the reading, or the one that was carried to the position.
    #[arg(long, value_name = "NAME", conflicts_with_all = ["stimulus", "remark"])]
    pub chain: Option<String>,
    /// Something done to provoke.
    #[arg(long, value_name = "TEXT")]
    pub stimulus: Option<String>,
    /// Something seen or done.
    #[arg(long, value_name = "TEXT")]
    pub remark: Option<String>,
    /// Arrived at a position.
    #[arg(long, value_name = "POSITION")]
    pub arrived: Option<String>,
    /// When (reading, arrival) [default: now].
    #[arg(long, value_name = "TIME", conflicts_with_all = ["stimulus", "remark"])]
    pub when: Option<String>,
    /// From when (stimulus, remark) [default: now].
    #[arg(long, value_name = "TIME", conflicts_with_all = NO_SPAN)]
    pub from: Option<String>,
    /// Until when (stimulus, remark).
    #[arg(long, value_name = "TIME", conflicts_with_all = NO_SPAN)]
    pub until: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub by: By,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}

/// `analyse`.
#[derive(Debug, Group)]
pub struct Analyse {
    /// Recordings, logs, traces.
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub overrides: Overrides,
    /// How a CSV's columns are to be understood (see add).
    #[arg(long, value_name = "KEY=COLUMN[:UNIT],…")]
    pub columns: Option<String>,
    /// Time zone of stamps without an offset [default: the machine's].
    #[arg(long, value_name = "IANA")]
    pub time_zone: Option<String>,
    /// Region for allocations.
    #[arg(long, value_enum, ignore_case = true, default_value = "WORLD")]
    pub region: RegionArg,
    /// List every burst.
    #[arg(long)]
    pub bursts: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}

/// `emissions`.
#[derive(Debug, Group)]
pub struct Emissions {
    /// The survey.
    pub dir: PathBuf,
    /// Only the first N rows by attention.
    #[arg(long, value_name = "N")]
    pub first: Option<usize>,
    /// Print nothing but the balance; status 1 while rows are open or changed.
    #[arg(long)]
    pub balanced: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}

/// States of a decision.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[allow(missing_docs)]
pub enum StateArg {
    Open,
    Accounted,
    Suspect,
    Located,
    HandedOver,
    Unresolved,
}

/// Grounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[allow(missing_docs)]
pub enum GroundArg {
    Seen,
    SwitchedOff,
    StrongerOutside,
    Decoded,
    OwnKit,
    ReceiverOwn,
    Inferred,
}

/// `decide`.
#[derive(Debug, Group)]
pub struct Decide {
    /// The survey.
    pub dir: PathBuf,
    /// Rows, `E7`.
    #[arg(required = true, value_name = "ID")]
    pub ids: Vec<String>,
    /// The decision.
    #[arg(long = "as", value_enum, value_name = "STATE")]
    pub state: StateArg,
    /// On what it is accounted.
    #[arg(long, value_enum, required_if_eq("state", "accounted"))]
    pub ground: Option<GroundArg>,
    /// Why, in your words. Permanent; may be read in court.
    #[arg(long, value_name = "TEXT")]
    pub reason: String,
    /// Refuse if a row is no longer as the ledger of this version showed it.
    #[arg(long, value_name = "N")]
    pub if_version: Option<u64>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub by: By,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}

/// `join`.
#[derive(Debug, Group)]
pub struct Join {
    /// The survey.
    pub dir: PathBuf,
    /// Two rows or more.
    #[arg(required = true, num_args = 2.., value_name = "ID")]
    pub ids: Vec<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub by: By,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}

/// `split`.
#[derive(Debug, Group)]
pub struct Split {
    /// The survey.
    pub dir: PathBuf,
    /// The row.
    pub id: String,
    /// Captures whose receptions leave it.
    #[arg(required = true, value_name = "CAPTURE")]
    pub captures: Vec<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub by: By,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}

/// `reanalyse`.
#[derive(Debug, Group)]
pub struct Reanalyse {
    /// The survey.
    pub dir: PathBuf,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub by: By,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}

/// `verify`.
#[derive(Debug, Group)]
pub struct Verify {
    /// The survey.
    pub dir: PathBuf,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}
