//! What is noted by hand.

use serde::{Deserialize, Serialize};
use units::{Band, Strength, Utc};

/// Arrived at a position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Movement {
    /// `V1`.
    #[serde(default)]
    pub id: String,
    /// Position id.
    pub position: String,
    /// When.
    pub at: Utc,
    /// Name of the chain that was carried; without one, every chain that was carried about.
    pub chain: Option<String>,
    /// How exactly the time is known, seconds: 60 for one noted to the minute, 0 when exact.
    pub clock_step_s: Option<f64>,
}

/// Something done to provoke.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Stimulus {
    /// `S1`.
    #[serde(default)]
    pub id: String,
    /// What was done.
    pub what: String,
    /// Position id.
    pub position: Option<String>,
    /// From when.
    pub from: Utc,
    /// Until when; a moment without.
    pub until: Option<Utc>,
}

/// Something seen or done.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Remark {
    /// `B1`.
    #[serde(default)]
    pub id: String,
    /// In the person's words.
    pub text: String,
    /// Position id.
    pub position: Option<String>,
    /// When.
    pub at: Option<Utc>,
    /// Until when, where it lasted.
    pub until: Option<Utc>,
}

/// One strength or level noted by a person.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// `N1`.
    #[serde(default)]
    pub id: String,
    /// Position id.
    pub position: String,
    /// When.
    pub at: Option<Utc>,
    /// Frequency (both edges equal) or band, hertz.
    pub band: Option<Band>,
    /// Row that it was taken of.
    pub emission: Option<String>,
    /// Strength read.
    pub strength: Option<Strength>,
    /// Level read, dBm.
    pub level_dbm: Option<f64>,
    /// Bearing, degrees from north.
    pub bearing_deg: Option<f64>,
    /// What was heard.
    pub heard: Option<String>,
    /// Chain that it was read on.
    pub chain: Option<String>,
    /// Its setting.
    pub setting: Option<String>,
}
