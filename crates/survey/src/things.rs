//! The record: what people said, as plain types. Each is one row of table `record`, and each
//! change of one is in the journal. `describe` prints those that a person edits, as TOML.

use ledger::{CaptureKind, FileInfo, Role};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use units::{Band, Reason, Strength, Utc, Zone};

/// A kind of thing that the record keeps.
pub(crate) trait Thing: Serialize + DeserializeOwned {
    /// Its word in table `record`.
    const KIND: &'static str;
    /// Its id.
    fn id(&self) -> &str;
}

macro_rules! things {
    ($($thing:ty, $kind:literal);* $(;)?) => {
        $(impl Thing for $thing {
            const KIND: &'static str = $kind;
            fn id(&self) -> &str {
                &self.id
            }
        })*
    };
}

things! {
    Head, "survey"; Brief, "brief"; Authority, "authority"; Premises, "premises"; Floor, "floor";
    Room, "room"; units::Position, "position"; Chain, "chain"; Condition, "condition";
    ledger::KnownDevice, "known-device"; FoundItem, "found-item"; Identity, "identity";
    Mapping, "mapping"; Movement, "movement"; Stimulus, "stimulus"; Remark, "remark";
    Reading, "reading"; Capture, "capture"; Derivation, "derivation"; ledger::Anchor, "anchor";
    StoredAct, "act";
}

/// The survey itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Head {
    /// Made with the survey, 32 hex digits; never changes.
    #[serde(default)]
    pub id: String,
    /// Name or code name.
    pub name: String,
    /// Region for allocations: WORLD, ITU1, …
    pub region: String,
    /// IANA time zone of times without an offset.
    pub time_zone: String,
    /// Who writes when nobody is named.
    pub technician: Option<String>,
    /// When it was started.
    pub started: Utc,
}

/// What the client said, heard away from the suspected place.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Brief {
    /// Always `brief`.
    pub id: String,
    /// What leaked.
    pub leaked: Option<String>,
    /// Who could know.
    pub who_could_know: Option<String>,
    /// Who had access.
    pub who_had_access: Option<String>,
    /// Kinds of transmitter that are feared.
    pub feared: Vec<String>,
    /// When it was heard.
    pub heard_at: Option<Utc>,
    /// Where it was heard: not in the suspected room.
    pub heard_where: Option<String>,
    /// Free text.
    pub notes: Option<String>,
}

/// The right to work, in writing.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Authority {
    /// `A1`.
    pub id: String,
    /// Who gives it.
    pub who: String,
    /// By what right (owner, tenant, employer's board…).
    pub right: String,
    /// Rooms that it covers; empty means none is named.
    pub rooms: Vec<String>,
    /// From when.
    pub from: Option<Utc>,
    /// Until when.
    pub to: Option<Utc>,
    /// Whether sound or picture may be listened to or viewed; given separately.
    pub listening: bool,
    /// What the permission to listen says.
    pub listening_terms: Option<String>,
    /// The paper that says so.
    pub document: Option<String>,
}

/// The place under survey.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
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

/// Where a chain takes its signal from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
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
#[serde(deny_unknown_fields, default)]
pub struct Chain {
    /// `K1`.
    pub id: String,
    /// The user's name for it.
    pub name: String,
    /// What it consists of.
    pub consists_of: Option<String>,
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

/// How a room was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
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

/// A condition that captures name.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
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

/// A thing that was found, radiating or not.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct FoundItem {
    /// `F1`.
    pub id: String,
    /// What it looks like.
    pub what: String,
    /// Where it lies: position id or words.
    pub place: Option<String>,
    /// When it was found.
    pub found_at: Option<Utc>,
    /// By whom.
    pub found_by: Option<String>,
    /// Whether it radiated when it was found.
    pub radiating: Option<bool>,
    /// Rows of the ledger that it explains; none or several.
    pub emissions: Vec<String>,
    /// Photographs, evidence files of the survey.
    pub photographs: Vec<FileInfo>,
    /// Who had it, when.
    pub custody: Vec<Custody>,
    /// Free text.
    pub notes: Option<String>,
}

/// One step in the custody of a found item.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Custody {
    /// When.
    pub at: Option<Utc>,
    /// Who had it before.
    pub from: Option<String>,
    /// Who has it since.
    pub to: Option<String>,
    /// Seal, bag, place.
    pub note: Option<String>,
}

/// A device or network address of an emission, as a person states it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Identity {
    /// `I1`.
    pub id: String,
    /// Row of the ledger.
    pub emission: String,
    /// Device or network address, cell.
    pub identity: String,
    /// How it is known.
    pub source: Option<String>,
}

/// A saved column mapping, for `add --map NAME`.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Mapping {
    /// `T1`.
    pub id: String,
    /// Name it is called by.
    pub name: String,
    /// The mapping as `add --columns` takes it.
    pub columns: String,
}

/// Arrived at a position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
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

/// What a person said over a file's own metadata.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Overrides {
    /// Sample format of a raw file.
    pub format: Option<String>,
    /// Samples a second.
    pub rate_hz: Option<f64>,
    /// Centre frequency.
    pub centre_hz: Option<f64>,
    /// Time of the first sample.
    pub start: Option<Utc>,
    /// IANA time zone of stamps without an offset.
    pub time_zone: Option<String>,
    /// `iq` or `sound`, for a two-channel WAV.
    pub treat_as: Option<String>,
    /// Column mapping, as `add --columns` takes it.
    pub columns: Option<String>,
    /// Name of the recording inside an archive that holds several.
    pub inner: Option<String>,
}

/// Something recorded, with what people said of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Capture {
    /// `C1`.
    pub id: String,
    /// What was recorded.
    pub kind: CaptureKind,
    /// Why.
    pub role: Role,
    /// Position id; `None` where movements or the rows say it, or for no-antenna.
    pub position: Option<String>,
    /// Name of the chain.
    pub chain: String,
    /// Gain ahead of the converter, dB.
    pub gain_db: Option<f64>,
    /// Setting that changes what levels mean.
    pub setting: Option<String>,
    /// Name of the condition.
    pub condition: Option<String>,
    /// Listening began, for a log.
    pub from: Option<Utc>,
    /// Listening ended, for a log.
    pub until: Option<Utc>,
    /// Bands listened to, for a log.
    #[serde(default)]
    pub bands: Vec<Band>,
    /// What must be added to the recording's times, seconds.
    #[serde(default)]
    pub clock_s: f64,
    /// Why it was set aside; it counts while this is not there.
    pub set_aside: Option<String>,
    /// What was said over the file's metadata.
    #[serde(default)]
    pub overrides: Overrides,
    /// SHA-256 of the file that holds its samples or rows.
    pub recording: String,
    /// Evidence files, that one first.
    pub files: Vec<FileInfo>,
    /// What the file holds, in words.
    pub format: String,
    /// Start, as recorded or stated, before the clock's correction.
    pub start: Option<Utc>,
    /// From the first to the last sample, trace or event.
    pub duration_s: f64,
    /// What was to be distrusted when it came in.
    #[serde(default)]
    pub warnings: Vec<Reason>,
}

/// Which derived data a capture (or one part of it) counts with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Derivation {
    /// `C1`, or `C1.2` for the second place of a walk.
    pub id: String,
    /// Name of the folder under derived/.
    pub folder: String,
    /// Number of the program's results.
    pub engine: u32,
}

/// A decision, join or split.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StoredAct {
    /// Number of its journal entry.
    pub id: String,
    /// What was done.
    pub act: ledger::Act,
}

/// The zone of a position that is made by being named, where nobody says it.
pub(crate) fn zone_of(role: Role) -> Zone {
    if role == Role::Reference { Zone::Outside } else { Zone::Inside }
}
