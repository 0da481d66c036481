//! The place under survey.

use serde::{Deserialize, Serialize};

/// The place under survey.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Premises {
    /// Always `premises`.
    pub id: String,
    /// Name or code name.
    pub name: Option<String>,
    /// Office, flat, house, vehicle…
    pub kind: Option<String>,
    /// Outer wall, a material of data/materials.csv.
    pub outer_wall: Option<String>,
    /// Free text.
    pub notes: Option<String>,
}

/// One floor.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Floor {
    /// `L1`.
    pub id: String,
    /// Name that rooms and positions use.
    pub name: String,
    /// 0 is the ground floor.
    pub level: Option<i32>,
    /// Its floor above the ground floor's, metres.
    pub height_m: Option<f64>,
}

/// One room.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Room {
    /// `M1`.
    pub id: String,
    /// Name that positions use.
    pub name: String,
    /// Name of its floor.
    pub floor: Option<String>,
    /// What it is used for.
    pub used_for: Option<String>,
    /// Corners on the floor plan, [x, y] in metres, in order.
    pub corners_m: Vec<[f64; 2]>,
}
