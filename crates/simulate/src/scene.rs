//! A described place: floors, walls and rooms, what radiates there and around it, with which
//! receivers it is recorded, when and where. Plain data; a program reads it from TOML.
//!
//! Lengths in metres, x east and y north on one grid for all floors, heights above the ground
//! unless they are said to be above a floor. Times are RFC 3339 with an offset.

use crate::signals::Signal;
use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize};
use units::{Utc, Zone};

/// A place and everything that happens there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scene {
    /// What people call it.
    pub name: String,
    /// Region whose allocations rule (`CEPT`, `US`, …); handed on, not interpreted.
    #[serde(default = "world")]
    pub region: String,
    /// IANA time zone of the place; handed on, not interpreted.
    #[serde(default = "utc")]
    pub time_zone: String,
    /// Second 0 of the scene: schedules count from here.
    pub start: Utc,
    /// Floors with their walls and rooms; none for open ground.
    #[serde(default)]
    pub floors: Vec<Floor>,
    /// Named positions where something is recorded.
    pub positions: Vec<NamedPlace>,
    /// Standard deviation of the log-normal shadowing drawn for each emitter and position, dB.
    #[serde(default)]
    pub shadowing_sigma_db: f64,
    /// Small-scale fading of every path; none when left out.
    pub fading: Option<Fading>,
    /// When people speak in a room.
    #[serde(default)]
    pub talks: Vec<Talk>,
    /// What radiates.
    #[serde(default)]
    pub emitters: Vec<Emitter>,
    /// Receivers with their antennas.
    #[serde(default)]
    pub chains: Vec<Chain>,
    /// Recordings to make.
    #[serde(default)]
    pub visits: Vec<Visit>,
    /// Hand-held detectors.
    #[serde(default)]
    pub detectors: Vec<Detector>,
    /// Walks with a hand-held detector.
    #[serde(default)]
    pub walks: Vec<Walk>,
}

/// A floor: its rooms and the walls that stand on it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Floor {
    /// What people call it.
    pub name: String,
    /// Height of its walking surface above the ground.
    pub level_m: f64,
    /// Height of its walls.
    #[serde(default = "floor_height")]
    pub height_m: f64,
    /// Material of the slab that it stands on, as far as its walls reach; none for the ground.
    pub slab: Option<String>,
    /// Rooms on it.
    #[serde(default)]
    pub rooms: Vec<Room>,
    /// Walls on it.
    #[serde(default)]
    pub walls: Vec<Wall>,
}

/// A room: a rectangle on a floor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Room {
    /// What people call it.
    pub name: String,
    /// West and east edge.
    #[serde(deserialize_with = "two")]
    pub x_m: [f64; 2],
    /// South and north edge.
    #[serde(deserialize_with = "two")]
    pub y_m: [f64; 2],
    /// What it is to the premises under survey.
    #[serde(default = "inside")]
    pub zone: Zone,
}

/// A straight wall, from the floor to its height.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wall {
    /// One end, x and y.
    #[serde(deserialize_with = "two")]
    pub from_m: [f64; 2],
    /// The other end.
    #[serde(deserialize_with = "two")]
    pub to_m: [f64; 2],
    /// Material, an id that the propagation floor knows.
    pub material: String,
}

/// Somewhere: on a floor by x and y, or off the plan by bearing and distance from (0, 0).
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Place {
    /// Floor; heights then count from it. Without, from the ground.
    pub floor: Option<String>,
    /// East and north on the grid.
    #[serde(default, deserialize_with = "two_if_any")]
    pub at_m: Option<[f64; 2]>,
    /// Degrees from north, in place of `at_m`.
    pub bearing_deg: Option<f64>,
    /// Distance along the bearing.
    pub distance_m: Option<f64>,
    /// Height above the floor or the ground; 1.2 when left out.
    pub height_m: Option<f64>,
}

/// A position with its name.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NamedPlace {
    /// What people call it.
    pub name: String,
    /// Where it is.
    pub place: Place,
}

/// Block fading: complex gains drawn one a coherence time, joined smoothly, mean power 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fading {
    /// Rician K, dB: power of the steady part over the scattered; left out, Rayleigh.
    pub k_db: Option<f64>,
    /// Time from one draw to the next, seconds.
    pub coherence_s: f64,
}

/// A span of time in which people speak in a room.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Talk {
    /// The room.
    pub room: String,
    /// Begins.
    pub from: Utc,
    /// Ends.
    pub until: Utc,
}

/// One thing that radiates.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Emitter {
    /// What it is, for the truth file.
    pub name: String,
    /// Whether it is one that a survey should find. Goes to the truth file, changes nothing else.
    #[serde(default)]
    pub planted: bool,
    /// Where it stands. May be left out with `snr_db`.
    #[serde(default)]
    pub place: Place,
    /// Equivalent isotropically radiated power, mean while on (AM: of the carrier), dBm.
    pub eirp_dbm: Option<f64>,
    /// In place of `eirp_dbm`: signal-to-noise ratio in its own 99 % bandwidth, everywhere, dB.
    pub snr_db: Option<f64>,
    /// Radio frequency of its middle, hertz (Bluetooth advertising knows its own channels).
    #[serde(default)]
    pub centre_hz: f64,
    /// What it sends.
    pub signal: Signal,
    /// When it sends.
    #[serde(default)]
    pub schedule: Schedule,
    /// Only inside these spans; always, when empty.
    #[serde(default)]
    pub during: Vec<Span>,
}

/// From one moment to another.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Span {
    /// Begins.
    pub from: Utc,
    /// Ends.
    pub until: Utc,
}

/// When an emitter is on.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Schedule {
    /// On all the time.
    #[default]
    Always,
    /// Every `period_s` for `on_s`.
    Periodic {
        /// From one start to the next.
        period_s: f64,
        /// How long it stays on.
        on_s: f64,
        /// First start, from the scene's second 0.
        #[serde(default)]
        first_s: f64,
        /// Each start is late by up to this, evenly spread; not accumulated.
        #[serde(default)]
        jitter_s: f64,
    },
    /// Starts at random (exponential gaps), each on for a while between two lengths.
    Random {
        /// Mean time from one stop to the next start.
        mean_gap_s: f64,
        /// Shortest and longest time on.
        on_s: [f64; 2],
    },
    /// Collects a room's sound and sends it, compressed in time, every `period_s`.
    StoreAndForward {
        /// The room that it hears.
        room: String,
        /// From one sending to the next.
        period_s: f64,
        /// First sending, from the scene's second 0.
        #[serde(default)]
        first_s: f64,
        /// Seconds of sending for each second of sound.
        compression: f64,
        /// Sends this long even after silence (a sign of life); 0: stays silent.
        #[serde(default)]
        least_s: f64,
    },
    /// Keyed by the sound of a room.
    Voice {
        /// The room that it hears.
        room: String,
        /// On this long after sound begins.
        attack_s: f64,
        /// Off this long after it ends.
        hang_s: f64,
    },
}

/// A receiver with its antenna and settings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Chain {
    /// What the technician calls it.
    pub name: String,
    /// Complex samples per second.
    pub sample_rate_hz: f64,
    /// One centre: it stays there. Several: stepped through in this order.
    pub centres_hz: Vec<f64>,
    /// How long a stepped receiver stays at each centre, seconds.
    pub dwell_s: Option<f64>,
    /// Time lost between dwells.
    #[serde(default)]
    pub settle_s: f64,
    /// Start of a pass to start of the next; one right after the other when left out.
    pub pass_every_s: Option<f64>,
    /// Noise figure of the whole chain, dB (290 K).
    pub noise_figure_db: f64,
    /// Gain from the antenna connector to the converter, dB.
    pub gain_db: f64,
    /// Power at the converter of a full-scale complex tone, dBm.
    pub full_scale_dbm: f64,
    /// Bits per rail of the converter.
    pub adc_bits: u32,
    /// Gain of the antenna, dBi.
    #[serde(default)]
    pub antenna_gain_dbi: f64,
    /// Level of the receiver's DC offset, dBFS; none when left out.
    pub dc_dbfs: Option<f64>,
    /// Imbalance between I and Q.
    #[serde(default)]
    pub imbalance: Imbalance,
    /// The receiver's own lines.
    #[serde(default)]
    pub lines: Vec<Line>,
}

/// Gain and phase by which the Q rail is off.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Imbalance {
    /// Gain of Q over I, dB.
    #[serde(default)]
    pub gain_db: f64,
    /// Phase error, degrees.
    #[serde(default)]
    pub phase_deg: f64,
}

/// One of the receiver's own lines: fixed in RF, or fixed relative to the tuned centre.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Line {
    /// Radio frequency.
    pub hz: Option<f64>,
    /// Distance from the centre, in place of `hz`.
    pub offset_hz: Option<f64>,
    /// Level at the converter, dBFS.
    pub level_dbfs: f64,
}

/// Why a recording is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Away from the rooms, for comparison.
    Reference,
    /// In a room under survey.
    Room,
    /// Carried about.
    Walk,
    /// A known test sender.
    Check,
    /// Antenna taken off: only the receiver itself.
    NoAntenna,
}

/// One recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Visit {
    /// Names the recording's files.
    pub name: String,
    /// Receiver.
    pub chain: String,
    /// Position.
    pub position: String,
    /// Why.
    pub role: Role,
    /// First sample.
    pub start: Utc,
    /// How long, seconds. A stepped receiver makes the whole passes that begin inside.
    pub duration_s: f64,
    /// How the room is (`empty`, `in use`, `meeting`, `known sound`); handed on.
    pub condition: Option<String>,
}

/// A hand-held detector.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Detector {
    /// What the technician calls it.
    pub name: String,
    /// Bands that it tells apart.
    pub bands: Vec<DetectorBand>,
    /// Level that shows the first step, dBm.
    pub threshold_dbm: f64,
    /// Level from one step to the next, dB.
    pub step_db: f64,
    /// Steps of its scale.
    pub steps: u32,
    /// An event ends when nothing was heard for this long.
    pub hold_s: f64,
    /// It closes an event after this long and opens another.
    pub longest_s: f64,
    /// Step of its clock's stamps, seconds.
    #[serde(default = "minute")]
    pub clock_s: f64,
    /// Gain of its antenna, dBi.
    #[serde(default)]
    pub antenna_gain_dbi: f64,
    /// Standard deviation by which its readings wander in the hand, dB (2 to 4: common practice,
    /// no source).
    #[serde(default = "wander")]
    pub wander_db: f64,
}

/// A band of a hand-held detector.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DetectorBand {
    /// What its display calls the band.
    pub label: String,
    /// Lower edge.
    pub low_hz: f64,
    /// Upper edge.
    pub high_hz: f64,
}

/// A hand-held detector carried from position to position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Walk {
    /// Names its log.
    pub name: String,
    /// Detector.
    pub detector: String,
    /// Where it went, in order.
    pub stops: Vec<Stop>,
    /// Switched off while it is carried: this long before each arrival but the first, seconds.
    #[serde(default = "carry")]
    pub carry_s: f64,
    /// Switched off.
    pub until: Utc,
}

/// Arrival at a position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stop {
    /// Position.
    pub position: String,
    /// When.
    pub arrived: Utc,
}

/// Two numbers and no more: an array of serde leaves the rest unread.
fn two<'de, D: Deserializer<'de>>(d: D) -> Result<[f64; 2], D::Error> {
    let all = Vec::<f64>::deserialize(d)?;
    <[f64; 2]>::try_from(all.as_slice()).map_err(|_| {
        D::Error::custom(format!("{} numbers; expected two, like [3.0, 4.5]", all.len()))
    })
}
fn two_if_any<'de, D: Deserializer<'de>>(d: D) -> Result<Option<[f64; 2]>, D::Error> {
    two(d).map(Some)
}
fn world() -> String {
    "WORLD".into()
}
fn utc() -> String {
    "UTC".into()
}
fn floor_height() -> f64 {
    2.8
}
fn inside() -> Zone {
    Zone::Inside
}
fn carry() -> f64 {
    20.0
}
fn wander() -> f64 {
    2.0
}
fn minute() -> f64 {
    60.0
}
