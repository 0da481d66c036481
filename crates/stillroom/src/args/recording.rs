//! Bringing recordings in, correcting what was said of them, analysing them.

use super::{Json, RegionArg, Writing};
use crate::values::{band, finite, hertz, rate};
use clap::{Args as Group, ValueEnum};
use std::path::PathBuf;
use units::Band;

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
    #[arg(long = "as", value_enum, value_name = "KIND")]
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
    /// What the columns of a table are, as saved in the record (`[[mappings]]`).
    #[arg(long, value_name = "NAME", conflicts_with = "columns")]
    pub map: Option<String>,
    /// What the columns of a table are. Keys: time date frequency band strength level duration
    /// position setting bearing heard note shape.
    #[arg(long, value_name = "KEY=COLUMN[:UNIT],…")]
    pub columns: Option<String>,
}

/// What of a capture can be emptied, by the option that says it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[allow(missing_docs)]
pub enum FieldArg {
    At,
    Chain,
    Gain,
    Setting,
    Condition,
    From,
    Until,
    Bands,
    Clock,
    Format,
    Rate,
    Centre,
    Start,
    TimeZone,
    As,
    Columns,
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

/// All that can be said of a capture.
#[derive(Debug, Clone, Default, Group)]
pub struct Said {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub circumstances: Circumstances,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub overrides: Overrides,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub mapping: Mapping,
}

/// `add`.
#[derive(Debug, Group)]
pub struct Add {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub survey: Writing,
    /// Recordings, logs, traces.
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// Why it was recorded.
    #[arg(long, value_enum)]
    pub role: RoleArg,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub said: Said,
    /// Store now, analyse with the next command that needs it.
    #[arg(long)]
    pub later: bool,
    /// Let a recording that is in the survey already count at another position too.
    #[arg(long)]
    pub again: bool,
}

/// `amend`.
#[derive(Debug, Group)]
pub struct Amend {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub survey: Writing,
    /// The capture, `C3`.
    pub capture: String,
    /// Why it was recorded.
    #[arg(long, value_enum)]
    pub role: Option<RoleArg>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub said: Said,
    /// Seconds to add to the capture's clock.
    #[arg(long, value_name = "±SECONDS", value_parser = finite, allow_hyphen_values = true)]
    pub clock: Option<f64>,
    /// What is to be said no more of it: at, chain, gain, …
    #[arg(
        long,
        value_enum,
        value_name = "FIELD,…",
        value_delimiter = ',',
        hide_possible_values = true
    )]
    pub empty: Vec<FieldArg>,
    /// Let it count for nothing, and say why.
    #[arg(long, value_name = "REASON", conflicts_with = "restore")]
    pub set_aside: Option<String>,
    /// Let it count again.
    #[arg(long)]
    pub restore: bool,
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
    /// What the columns of a table are (see add).
    #[arg(long, value_name = "KEY=COLUMN[:UNIT],…")]
    pub columns: Option<String>,
    /// Time zone of stamps without an offset [default: the machine's].
    #[arg(long, value_name = "IANA")]
    pub time_zone: Option<String>,
    /// Region for allocations.
    #[arg(long, value_enum, ignore_case = true, default_value = "WORLD")]
    pub region: RegionArg,
    /// Look for what is fainter than any cell of time and frequency shows, near to what theory
    /// allows. Takes longer, and finds a cheap receiver's own lines too.
    #[arg(long)]
    pub faint: bool,
    /// Rows that noise alone may make in an hour [default: 0.01 in a recording].
    #[arg(long, value_name = "NUMBER")]
    pub false_alarms_per_hour: Option<f64>,
    /// List every burst.
    #[arg(long)]
    pub bursts: bool,
    /// Search deeper, for a suspicion: steady carriers far under the noise, and bursts of a steady
    /// period each too weak alone. Slow: on two cores minutes for each minute at 2.4 million samples
    /// a second, in proportion to the rate; a gigabyte of memory.
    #[arg(long)]
    pub deep: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub json: Json,
}
