//! What one works with: chains, conditions of rooms, mappings of tables.

pub use ledger::RoomState;
use serde::{Deserialize, Serialize};
use units::Band;

/// Where a chain takes its signal from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Coupling {
    /// An antenna.
    #[default]
    Air,
    /// The mains.
    Mains,
    /// A telephone or data line.
    Line,
    /// Light, infrared.
    Light,
}

/// Receiver, preselector, cable, antenna, under the user's own name.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Chain {
    /// `K1`.
    pub id: String,
    /// The user's name for it.
    pub name: String,
    /// What it consists of.
    pub consists_of: Option<String>,
    /// Serial numbers of its parts.
    pub serial: Option<String>,
    /// When it was last checked or calibrated, and by whom: a day, or words.
    pub last_checked: Option<String>,
    /// Steps of its strength scale, for a detector with one.
    pub scale_steps: Option<f64>,
    /// Bands that it covers.
    pub bands: Vec<Band>,
    /// What must be added to its clock, seconds.
    pub clock_s: Option<f64>,
    /// Standard uncertainty of its clock, seconds.
    pub clock_u_s: Option<f64>,
    /// Calibration: dBm = dBFS + this, at a gain of 0 dB.
    pub calibration_db: Option<f64>,
    /// Standard uncertainty of the calibration, dB.
    pub calibration_u_db: Option<f64>,
    /// Standard uncertainty of its frequencies, parts per million.
    pub frequency_u_ppm: Option<f64>,
    /// Noise figure, dB.
    pub noise_figure_db: Option<f64>,
    /// Where it takes its signal from.
    pub coupling: Coupling,
    /// Free text.
    pub notes: Option<String>,
}

/// A condition that captures name.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Condition {
    /// `O1`.
    pub id: String,
    /// Name that captures use.
    pub name: String,
    /// Empty, in use, meeting or known sound.
    pub state: Option<RoomState>,
    /// Who was there.
    pub who: Option<String>,
    /// What was switched on.
    pub switched_on: Vec<String>,
}

/// A saved column mapping, for `add --map NAME`.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Mapping {
    /// `T1`.
    pub id: String,
    /// Name it is called by.
    pub name: String,
    /// The mapping as `add --columns` takes it.
    pub columns: String,
}
