//! The place under survey.

use ledger::FileInfo;
use serde::{Deserialize, Serialize};
use units::Utc;

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
    /// Image of its plan, an evidence file of the survey.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub image: Option<FileInfo>,
    /// Metres on the plan that one pixel of the image is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scale_m_per_px: Option<f64>,
    /// Pixel of the image, [right, down] from its upper left corner, at which the plan's origin lies.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub origin_px: Option<[f64; 2]>,
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

/// A photograph of a position or a room; those of a found item are with it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Photograph {
    /// `G1`.
    pub id: String,
    /// The image, an evidence file of the survey. Where it was taken stays in it as it came.
    pub file: Option<FileInfo>,
    /// Position id.
    pub position: Option<String>,
    /// Name of a room.
    pub room: Option<String>,
    /// When it was taken, as a person states it.
    pub taken_at: Option<Utc>,
    /// Free text.
    pub notes: Option<String>,
}
