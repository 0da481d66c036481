//! Noting readings, stimuli, remarks, movements, photographs.

use super::{Writing, ZoneArg};
use crate::values::{finite, level_dbm, rate, strength};
use clap::{ArgGroup, Args as Group};
use std::path::PathBuf;
use units::Strength;

/// Notes that are no reading, and notes that have no span: what belongs to the others is refused.
const NO_READING: [&str; 5] = ["stimulus", "remark", "arrived", "movements", "photograph"];
const NO_SPAN: [&str; 5] = ["strength", "level", "arrived", "movements", "photograph"];

/// `note`.
#[derive(Debug, Group)]
#[command(group = ArgGroup::new("what").required(true)
    .args(["strength", "level", "stimulus", "remark", "arrived", "movements", "photograph"]))]
#[command(group = ArgGroup::new("where").args(["at", "arrived"]))]
pub struct Note {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub survey: Writing,
    /// Position.
    #[arg(long, value_name = "POSITION", conflicts_with_all = ["arrived", "movements", "photograph"])]
    pub at: Option<String>,
    /// Zone of a position named for the first time [default: inside].
    #[arg(long, value_enum, requires = "where")]
    pub zone: Option<ZoneArg>,
    /// Frequency of a reading.
    #[arg(long, value_name = "HZ", value_parser = rate, allow_hyphen_values = true,
        conflicts_with_all = NO_READING)]
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
    #[arg(long, value_name = "NAME", conflicts_with_all = ["stimulus", "remark", "photograph"])]
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
    /// Photographs of a found item, kept as evidence unchanged.
    #[arg(long, value_name = "FILE", num_args = 1.., requires = "item")]
    pub photograph: Vec<PathBuf>,
    /// The found item that they show, `F1` (`describe` writes it into the record).
    #[arg(long, value_name = "ID", requires = "photograph")]
    pub item: Option<String>,
    /// Arrivals at positions, one a row, in the columns Arrived and Position: all of them or none.
    #[arg(long, value_name = "FILE")]
    pub movements: Option<PathBuf>,
    /// When (reading, arrival) [default: now].
    #[arg(long, value_name = "TIME",
        conflicts_with_all = ["stimulus", "remark", "movements", "photograph"])]
    pub when: Option<String>,
    /// From when (stimulus, remark) [default: now].
    #[arg(long, value_name = "TIME", conflicts_with_all = NO_SPAN)]
    pub from: Option<String>,
    /// Until when (stimulus, remark).
    #[arg(long, value_name = "TIME", conflicts_with_all = NO_SPAN)]
    pub until: Option<String>,
}
