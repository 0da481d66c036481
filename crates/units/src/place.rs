//! Places where something is recorded.

use serde::{Deserialize, Serialize};

/// What a position is to the premises under survey.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Zone {
    /// In a room of the premises.
    Inside,
    /// Corridor, next flat, floor above or below.
    Adjacent,
    /// Outside the building.
    Outside,
    /// A vehicle.
    Moving,
}

/// A place of the survey: metres on a floor plan, or off plan (no x, y).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Position {
    /// Short id, `P1`.
    pub id: String,
    /// The technician's name for it.
    pub name: String,
    /// Inside, adjacent, outside or moving.
    pub zone: Zone,
    /// Room, where it has one.
    pub room: Option<String>,
    /// Floor, where it has one.
    pub floor: Option<String>,
    /// East on the floor plan, metres.
    pub x_m: Option<f64>,
    /// North on the floor plan, metres.
    pub y_m: Option<f64>,
    /// Antenna above the floor, metres.
    pub height_m: Option<f64>,
}
