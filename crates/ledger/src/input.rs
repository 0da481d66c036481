//! What the ledger is a function of: captures with what they showed, and what people decided.

use crate::KnownDevice;
use crate::contract::{CaptureKind, FileInfo, Ground, Role, State, SurveyInfo};
use detect::Listened;
use identify::Emission;
use serde::{Deserialize, Serialize};
use units::{Band, Event, Position, Reason, Strength, Utc};

/// Everything that a ledger is computed from. The order of `captures` carries no meaning.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Input {
    /// Grows with every change of the survey; copied to the ledger.
    pub version: u64,
    /// Which survey.
    pub survey: SurveyInfo,
    /// Its positions.
    pub positions: Vec<Position>,
    /// Every capture, set aside ones too (they are listed, and count for nothing).
    pub captures: Vec<Capture>,
    /// Readings noted by a person.
    pub readings: Vec<Reading>,
    /// Transmitters known before.
    pub known_devices: Vec<KnownDevice>,
    /// Decisions, joins and splits, oldest first.
    pub acts: Vec<Act>,
    /// Ids given before, with what they stood for (from the last ledger's output).
    pub anchors: Vec<Anchor>,
}

/// One capture: what is known of it and what its analysis showed.
#[derive(Debug, Clone, PartialEq)]
pub struct Capture {
    /// `C1`.
    pub id: String,
    /// SHA-256 of its first evidence file: canonical order, and receptions' keys.
    pub sha256: String,
    /// What was recorded.
    pub kind: CaptureKind,
    /// Why.
    pub role: Role,
    /// Where, unless `visits` say it.
    pub position: Option<String>,
    /// Receiver, cable, antenna and setting; levels compare only inside one chain.
    pub chain: Chain,
    /// Name of the condition that the room was in.
    pub condition: Option<String>,
    /// What that condition is; `None` where nobody stated it.
    pub room_state: Option<crate::RoomState>,
    /// Evidence files.
    pub files: Vec<FileInfo>,
    /// Start, clock corrected.
    pub start: Option<Utc>,
    /// End, clock corrected.
    pub stop: Option<Utc>,
    /// Standard uncertainty of its clock, seconds.
    pub clock_u_s: f64,
    /// Bands listened to. For a log: its `--bands`; empty means unknown, so 'not heard' is unknown.
    pub listened: Vec<Listened>,
    /// Whether start and stop of a log were assumed (first to last event) rather than stated.
    pub listening_assumed: bool,
    /// What its analysis warns of; copied to the ledger.
    pub warnings: Vec<Reason>,
    /// What it showed. For a log or a walk, over all its places.
    pub rows: Vec<CaptureRow>,
    /// Events of a log, each with the row it belongs to; empty for other kinds.
    pub events: Vec<RowEvent>,
    /// Where a log or walk was, when; empty if it stayed at `position`.
    pub visits: Vec<Visit>,
    /// Why it was set aside.
    pub set_aside: Option<String>,
}

/// The chain of a capture.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Chain {
    /// The user's name for it; `unstated` by default.
    pub name: String,
    /// Setting that changes what levels mean (antenna, attenuator); part of the comparison key.
    pub setting: Option<String>,
    /// Gain ahead of the converter, dB: level − gain compares.
    pub gain_db: Option<f64>,
    /// Standard uncertainty of its frequency reference, parts per million; `None` where nobody
    /// stated it (then that of a cheap receiver is taken).
    #[serde(default)]
    pub frequency_u_ppm: Option<f64>,
}

/// One row of a capture's analysis.
#[derive(Debug, Clone, PartialEq)]
pub struct CaptureRow {
    /// First time on, seconds from the capture's start.
    pub first_s: f64,
    /// Last time on.
    pub last_s: f64,
    /// What it is.
    pub emission: Emission,
    /// Loudest strength of a log's row.
    pub strength: Option<Strength>,
    /// Device or network address, cell.
    pub identity: Option<String>,
}

/// An event of a log.
#[derive(Debug, Clone, PartialEq)]
pub struct RowEvent {
    /// Index in [`Capture::rows`].
    pub row: u32,
    /// The event, clock corrected.
    pub event: Event,
}

/// A stay at a position, from one movement to the next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Visit {
    /// Id of the position.
    pub position: String,
    /// Arrived.
    pub from: Utc,
    /// Left.
    pub until: Utc,
    /// Step of the clock that both ends were noted with, seconds: the true moment lies in
    /// `[from, from + step)`. 60 for movements noted to the minute, 0 for exact ones.
    #[serde(default)]
    pub clock_step_s: f64,
}

/// A reading noted by a person.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// `N3`.
    pub id: String,
    /// Where.
    pub position: String,
    /// When.
    pub at: Option<Utc>,
    /// Frequency or band.
    pub band: Option<Band>,
    /// Row it was taken of, where the person said so.
    pub emission: Option<String>,
    /// Strength read.
    pub strength: Option<Strength>,
    /// Level read, dBm.
    pub level_dbm: Option<f64>,
    /// Bearing, degrees from north.
    pub bearing_deg: Option<f64>,
    /// What was heard.
    pub heard: Option<String>,
    /// Chain it was read on.
    pub chain: Chain,
}

/// What a person did to rows, with what they saw.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Act {
    /// Number of its journal entry; order.
    pub seq: u64,
    /// By whom.
    pub by: String,
    /// When.
    pub at: Option<Utc>,
    /// What.
    pub what: ActKind,
}

/// Kinds of act.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "act", rename_all = "kebab-case")]
pub enum ActKind {
    /// A decision on a row.
    Decide {
        /// Row, as it was called then.
        id: String,
        /// State.
        state: State,
        /// Ground.
        ground: Option<Ground>,
        /// Reason in words.
        reason: String,
        /// What the person saw.
        seen: Seen,
    },
    /// Rows put together by hand.
    Join {
        /// Their ids then, and what they stood for.
        rows: Vec<(String, Seen)>,
        /// Reason in words; empty in acts of before it was asked for.
        #[serde(default)]
        reason: String,
    },
    /// Receptions of some captures taken out of a row by hand.
    Split {
        /// Row, as it was called then.
        id: String,
        /// What stays and what leaves.
        seen: Seen,
        /// Captures whose receptions leave.
        captures: Vec<String>,
        /// Id given to the part that leaves.
        new_id: String,
        /// Reason in words; empty in acts of before it was asked for.
        #[serde(default)]
        reason: String,
    },
}

/// What a row was when a person acted on it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Seen {
    /// Keys of the receptions heard.
    pub receptions: Vec<ReceptionKey>,
    /// Shape, technology, level at each position, hours: what `changed_since` compares with.
    pub facts: SeenFacts,
    /// Journal entries of the decisions that stood on it: a decision takes their place.
    #[serde(default)]
    pub decisions: Vec<u64>,
}

/// The facts that a decision rests on.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct SeenFacts {
    /// Where it was heard, with the level or strength then.
    pub heard_at: Vec<SeenAt>,
    /// First and last time heard.
    pub hours: Option<(Utc, Utc)>,
    /// Shape in words.
    pub shape: Option<String>,
    /// Technology label.
    pub technology: Option<String>,
}

/// One place at which it was heard when a person acted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SeenAt {
    /// Id of the position; `None` for one that nobody placed.
    pub position: Option<String>,
    /// What its level compares with: chain, setting and unit, in one word.
    pub chain: String,
    /// Level then, corrected for gain, in the unit that `chain` names.
    pub level_db: Option<f64>,
    /// Strength then.
    pub strength: Option<Strength>,
}

/// Names one reception through every recomputation: evidence, place, and where in frequency.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReceptionKey {
    /// SHA-256 of the evidence file.
    pub sha256: String,
    /// Position id.
    pub position: Option<String>,
    /// Centre of the row in that capture, hertz.
    pub centre_hz: f64,
    /// Width of the row in that capture, hertz.
    pub width_hz: f64,
    /// Line of a log's first event there (two of its rows may share their band), else `None`.
    #[serde(default)]
    pub line: Option<u64>,
}

/// An id that was given, and what it stood for; kept by the survey between ledgers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Anchor {
    /// `E7`.
    pub id: String,
    /// The row it became part of, if it was merged away.
    pub merged_into: Option<String>,
    /// The row it was split from.
    pub was_part_of: Option<String>,
    /// The receptions it stood for.
    pub receptions: Vec<ReceptionKey>,
}

/// A ledger, with what the survey must keep for the next one.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// The document.
    pub ledger: crate::contract::Ledger,
    /// To be stored and handed in next time.
    pub anchors: Vec<Anchor>,
    /// What a decision on each row would see, by row id.
    pub seen: Vec<(String, Seen)>,
    /// What to tell the person (unequal decisions merged, a decision's row gone…).
    pub warnings: Vec<Reason>,
}
