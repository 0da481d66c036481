//! How a room was while a capture was made.

use serde::{Deserialize, Serialize};

/// How a room was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum RoomState {
    /// Nobody there.
    Empty,
    /// Used as on any day.
    InUse,
    /// A meeting, staged or real.
    Meeting,
    /// A known sound was played.
    KnownSound,
}
