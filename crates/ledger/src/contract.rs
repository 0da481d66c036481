//! `stillroom.ledger/1`: what `emissions --json` prints.

use detect::Listened;
use identify::Emission;
use serde::{Deserialize, Serialize};
use units::{Dbfs, Dbm, Position, Reason, Strength, Utc};

/// The document.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Ledger {
    /// Always `stillroom.ledger/1`.
    pub schema: String,
    /// Grows with every change of the survey.
    pub version: u64,
    /// Which survey.
    pub survey: SurveyInfo,
    /// Its positions.
    pub positions: Vec<Position>,
    /// Its captures.
    pub captures: Vec<CaptureInfo>,
    /// Its emissions, by attention.
    pub emissions: Vec<LedgerRow>,
    /// Counts by decision.
    pub balance: Balance,
}

/// Which survey a ledger is of.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SurveyInfo {
    /// Id, made when the survey was.
    pub id: String,
    /// Name or code name.
    pub name: String,
    /// Region for allocations.
    pub region: String,
    /// IANA time zone.
    pub time_zone: String,
    /// Hash of the last journal entry.
    pub journal_head: String,
}

/// What was recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum CaptureKind {
    /// Complex samples.
    Iq,
    /// Swept spectra.
    Traces,
    /// Frames.
    Frames,
    /// A detector's event log.
    EventLog,
    /// Readings noted by a person.
    Readings,
    /// Sound.
    Sound,
}

/// Why something was recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Outside, corridor: to compare with.
    Reference,
    /// A room under survey.
    Room,
    /// While walking.
    Walk,
    /// A known test sender.
    Check,
    /// No antenna: the receiver's own lines.
    NoAntenna,
}

/// A capture as the ledger lists it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct CaptureInfo {
    /// `C1`.
    pub id: String,
    /// What was recorded.
    pub kind: CaptureKind,
    /// Why.
    pub role: Role,
    /// Id of the position; null where movements say it, or for no-antenna.
    pub position: Option<String>,
    /// Chain, by the user's name.
    pub chain: Option<String>,
    /// How the room was.
    pub condition: Option<String>,
    /// Evidence files.
    pub files: Vec<FileInfo>,
    /// Start of the recording.
    pub start: Option<Utc>,
    /// End of the recording.
    pub stop: Option<Utc>,
    /// What was listened to.
    pub listened: Vec<Listened>,
    /// What its analysis warns of: clipping, the receiver's own lines, what was left out.
    pub warnings: Vec<Reason>,
    /// Why it was set aside; null while it counts.
    pub set_aside: Option<String>,
}

/// An evidence file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct FileInfo {
    /// Name it came in under.
    pub name: String,
    /// SHA-256, lower-case hex.
    pub sha256: String,
    /// Size.
    pub bytes: u64,
}

/// One emission of the survey.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct LedgerRow {
    /// `E7`: unique, never reused.
    pub id: String,
    /// Ids merged into it; every command accepts them.
    pub aliases: Vec<String>,
    /// The row it was split from.
    pub was_part_of: Option<String>,
    /// A log's own word for a band that names no frequency (then the frequencies are 0).
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub label: Option<String>,
    /// Device or network address, cell.
    pub identity: Option<String>,
    /// First time heard; null without times.
    pub first: Option<Utc>,
    /// Last time heard.
    pub last: Option<Utc>,
    /// The fields shared with analysis/1.
    #[serde(flatten)]
    pub emission: Emission,
    /// What a person decided.
    pub decision: Decision,
    /// How much it deserves a look.
    pub attention: Attention,
    /// Where it radiates from.
    pub origin: Origin,
    /// The no-antenna capture that shows it as the receiver's own.
    pub receiver_line: Option<String>,
    /// Rows that it may be one with.
    pub may_be: Vec<MayBe>,
    /// One per capture (and place) that listened there.
    pub receptions: Vec<Reception>,
}

/// State of a decision.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// Not decided.
    #[default]
    Open,
    /// Explained on a ground.
    Accounted,
    /// Suspect.
    Suspect,
    /// Found in the room.
    Located,
    /// Handed over.
    HandedOver,
    /// Not resolved, with what would resolve it.
    Unresolved,
}

/// On what an emission is accounted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Ground {
    /// The transmitter was seen.
    Seen,
    /// It was switched off, and the emission stopped.
    SwitchedOff,
    /// Stronger outside than inside.
    StrongerOutside,
    /// Public framing decoded.
    Decoded,
    /// The technician's own kit.
    OwnKit,
    /// The receiver's own line.
    ReceiverOwn,
    /// Inferred.
    Inferred,
}

/// A decision as it stands.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Decision {
    /// State.
    pub state: State,
    /// Ground, where accounted.
    pub ground: Option<Ground>,
    /// In the person's words.
    pub reason: Option<String>,
    /// By whom.
    pub by: Option<String>,
    /// When.
    pub at: Option<Utc>,
    /// What came since that the person did not see; empty if nothing.
    pub changed_since: Vec<Reason>,
}

/// How much a row deserves a look.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Attention {
    /// 1 is what to look at first; total order.
    pub rank: u32,
    /// Larger is more.
    pub score: f64,
    /// Why, strongest first, with numbers.
    pub reasons: Vec<Reason>,
}

/// Inside or outside, as far as levels tell.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Origin {
    /// Probability that it radiates from inside; null where nothing tells.
    pub p_inside: Option<f64>,
    /// Loudest room over best reference; null without either.
    pub excess_db: Option<f64>,
    /// No reference heard it: the excess is at least so much, over what would have been heard there.
    pub excess_at_least: bool,
    /// Its standard uncertainty.
    pub excess_u_db: Option<f64>,
}

/// A row that this one may be the same emission as.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct MayBe {
    /// Id of the other row.
    pub id: String,
    /// 0 to 1.
    pub probability: f64,
}

/// One emission as one capture (at one place) that listened there received it, or did not.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Reception {
    /// Id of the capture.
    pub capture: String,
    /// Id of the position; null for no-antenna.
    pub position: Option<String>,
    /// Role of the capture.
    pub role: Role,
    /// Whether it was heard.
    pub heard: bool,
    /// Level, corrected for gain inside its chain.
    pub level_dbfs: Option<Dbfs>,
    /// Level in dBm.
    pub level_dbm: Option<Dbm>,
    /// Ordinal strength.
    pub strength: Option<Strength>,
    /// Standard uncertainty of the level.
    pub u_db: Option<f64>,
    /// Level below which it could not have been heard.
    pub limit_dbfs: Option<Dbfs>,
    /// The same in dBm.
    pub limit_dbm: Option<Dbm>,
    /// Seconds in which this capture looked there.
    pub looked_s: f64,
    /// First time heard.
    pub first: Option<Utc>,
    /// Last time heard.
    pub last: Option<Utc>,
}

/// Counts by decision.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Balance {
    /// Not decided.
    pub open: u64,
    /// Accounted.
    pub accounted: u64,
    /// Suspect.
    pub suspect: u64,
    /// Located.
    pub located: u64,
    /// Handed over.
    pub handed_over: u64,
    /// Unresolved.
    pub unresolved: u64,
    /// Decided, but changed since.
    pub changed: u64,
}
