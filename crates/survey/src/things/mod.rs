//! The record: what people said, as plain types. Each is one row of table `record`, and each
//! change of one is in the journal. `describe` prints those that a person edits, as TOML.

mod case;
mod check;
mod kit;
mod noted;
mod premises;

pub use case::*;
pub(crate) use check::{Flaw, listening};
pub use kit::*;
pub use noted::*;
pub use premises::*;

use ledger::{CaptureKind, FileInfo, Role};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use units::{Band, Reason, Utc, Zone};

/// A kind of thing that the record keeps.
pub(crate) trait Thing: Serialize + DeserializeOwned {
    /// Its word in table `record`.
    const KIND: &'static str;
    /// Its id.
    fn id(&self) -> &str;
    /// Whether what it says can be true.
    fn check(&self) -> Result<(), Flaw>;
}

macro_rules! things {
    ($($thing:ty, $kind:literal $(, $check:path)?);* $(;)?) => {
        $(impl Thing for $thing {
            const KIND: &'static str = $kind;
            fn id(&self) -> &str {
                &self.id
            }
            fn check(&self) -> Result<(), Flaw> {
                $($check(self)?;)?
                Ok(())
            }
        })*
    };
}

things! {
    Head, "survey", check::head; Brief, "brief"; Authority, "authority", check::authority;
    Premises, "premises", check::premises; Floor, "floor", check::floor; Room, "room";
    units::Position, "position", check::position; Chain, "chain", check::chain;
    Condition, "condition"; ledger::KnownDevice, "known-device", check::known_device;
    FoundItem, "found-item", check::found_item; Photograph, "photograph", check::photograph;
    Statement, "statement", check::statement; Identity, "identity"; Mapping, "mapping", check::mapping;
    Movement, "movement", check::movement; Stimulus, "stimulus", check::stimulus;
    Remark, "remark", check::remark; Reading, "reading", check::reading;
    Capture, "capture", check::capture; Derivation, "derivation"; ledger::Anchor, "anchor";
    StoredAct, "act";
}

/// The survey itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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

/// What a person said over a file's own metadata.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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
    /// Ids of the positions that its rows name, by those names.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub places: BTreeMap<String, String>,
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

impl Capture {
    /// Whether it is a table of what a detector or a person noted, row by row.
    pub(crate) fn is_log(&self) -> bool {
        matches!(self.kind, CaptureKind::EventLog | CaptureKind::Readings)
    }
    /// Whether anything is derived from its kind.
    pub(crate) fn is_derived_from(&self) -> bool {
        self.is_log() || matches!(self.kind, CaptureKind::Iq | CaptureKind::Traces)
    }
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
    /// SHA-256 of what lies in that folder to be read, by file name; empty where an older program
    /// derived it.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub files: BTreeMap<String, String>,
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
