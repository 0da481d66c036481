//! The two machine contracts, written down a second time field by field: a renamed, missing or
//! additional field fails here.
#![allow(dead_code)] // fields are read to be there, not all of them compared

use serde::Deserialize;
use serde_json::Value;
use std::collections::BTreeMap;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Analysis {
    pub schema: String,
    pub recordings: Vec<Recording>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Recording {
    pub recording: Info,
    pub emissions: Vec<Row>,
    pub listened: Vec<Listened>,
    pub warnings: Vec<Reason>,
    pub burst_list: Option<Vec<Burst>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Info {
    pub path: String,
    pub sha256: String,
    pub format: String,
    #[serde(deserialize_with = "there")]
    pub sample_rate_hz: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub centre_hz: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub start: Option<String>,
    pub duration_s: f64,
    pub samples: u64,
    pub clipped_fraction: f64,
    pub segments: Vec<Segment>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Segment {
    pub first_sample: u64,
    pub samples: u64,
    #[serde(deserialize_with = "there")]
    pub centre_hz: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub start: Option<String>,
}

/// A row of `analyse --json`. `label` and `strength` come from event logs only.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    pub id: String,
    pub centre_hz: f64,
    pub low_hz: f64,
    pub high_hz: f64,
    #[serde(deserialize_with = "there")]
    pub bandwidth_hz: Option<f64>,
    pub bandwidth_is: String,
    pub first_s: f64,
    pub last_s: f64,
    pub shape: String,
    #[serde(deserialize_with = "there")]
    pub channels_hz: Option<Vec<f64>>,
    pub bursts: Bursts,
    #[serde(deserialize_with = "there")]
    pub level_dbfs: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub level_dbm: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub snr_db: Option<f64>,
    pub u: Uncertainty,
    pub measured: BTreeMap<String, Option<f64>>,
    #[serde(deserialize_with = "there")]
    pub modulation: Option<Modulation>,
    #[serde(deserialize_with = "there")]
    pub technology: Option<Technology>,
    pub allocations: Vec<Allocation>,
    pub label: Option<String>,
    pub strength: Option<Strength>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bursts {
    pub count: u64,
    #[serde(deserialize_with = "there")]
    pub median_s: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub period_s: Option<f64>,
    pub on_fraction: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Uncertainty {
    #[serde(deserialize_with = "there")]
    pub centre_hz: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub bandwidth_hz: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub level_db: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub first_s: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub last_s: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub period_s: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Modulation {
    pub label: String,
    pub probability: f64,
    pub others: Vec<Guess>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Technology {
    pub label: String,
    pub probability: f64,
    pub reasons: Vec<Reason>,
    pub others: Vec<Guess>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Guess {
    pub label: String,
    pub probability: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Allocation {
    pub service: String,
    pub region: String,
    pub low_hz: f64,
    pub high_hz: f64,
    pub source: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Strength {
    pub value: f64,
    pub of: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reason {
    pub code: String,
    pub text: String,
    pub values: BTreeMap<String, Value>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Listened {
    pub low_hz: f64,
    pub high_hz: f64,
    pub looked_s: f64,
    #[serde(deserialize_with = "there")]
    pub limit_dbfs: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub limit_dbm: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Burst {
    pub emission: String,
    pub start_s: f64,
    pub stop_s: f64,
    pub centre_hz: f64,
    #[serde(deserialize_with = "there")]
    pub bandwidth_hz: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub snr_db: Option<f64>,
}

/// The keys of `measured`, all of them always.
pub const MEASURED: [&str; 13] = [
    "chip_rate_hz",
    "chirp_hz_per_s",
    "deviation_hz",
    "field_hz",
    "frame_s",
    "hop_dwell_s",
    "hop_spacing_hz",
    "line_hz",
    "ofdm_guard_s",
    "ofdm_useful_s",
    "subcarrier_hz",
    "symbol_rate_hz",
    "tone_hz",
];

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ledger {
    pub schema: String,
    pub version: u64,
    pub survey: SurveyInfo,
    pub positions: Vec<Position>,
    pub captures: Vec<Capture>,
    pub emissions: Vec<LedgerRow>,
    pub balance: Balance,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SurveyInfo {
    pub id: String,
    pub name: String,
    pub region: String,
    pub time_zone: String,
    pub journal_head: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Position {
    pub id: String,
    pub name: String,
    pub zone: String,
    #[serde(deserialize_with = "there")]
    pub room: Option<String>,
    #[serde(deserialize_with = "there")]
    pub floor: Option<String>,
    #[serde(deserialize_with = "there")]
    pub x_m: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub y_m: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub height_m: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Capture {
    pub id: String,
    pub kind: String,
    pub role: String,
    #[serde(deserialize_with = "there")]
    pub position: Option<String>,
    #[serde(deserialize_with = "there")]
    pub chain: Option<String>,
    #[serde(deserialize_with = "there")]
    pub condition: Option<String>,
    pub files: Vec<File>,
    #[serde(deserialize_with = "there")]
    pub start: Option<String>,
    #[serde(deserialize_with = "there")]
    pub stop: Option<String>,
    pub listened: Vec<Listened>,
    pub warnings: Vec<Reason>,
    #[serde(deserialize_with = "there")]
    pub set_aside: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct File {
    pub name: String,
    pub sha256: String,
    pub bytes: u64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LedgerRow {
    pub label: Option<String>,
    pub id: String,
    pub aliases: Vec<String>,
    #[serde(deserialize_with = "there")]
    pub was_part_of: Option<String>,
    #[serde(deserialize_with = "there")]
    pub identity: Option<String>,
    #[serde(deserialize_with = "there")]
    pub first: Option<String>,
    #[serde(deserialize_with = "there")]
    pub last: Option<String>,
    pub centre_hz: f64,
    pub low_hz: f64,
    pub high_hz: f64,
    #[serde(deserialize_with = "there")]
    pub bandwidth_hz: Option<f64>,
    pub bandwidth_is: String,
    pub shape: String,
    #[serde(deserialize_with = "there")]
    pub channels_hz: Option<Vec<f64>>,
    pub bursts: Bursts,
    #[serde(deserialize_with = "there")]
    pub level_dbfs: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub level_dbm: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub snr_db: Option<f64>,
    pub u: Uncertainty,
    pub measured: BTreeMap<String, Option<f64>>,
    #[serde(deserialize_with = "there")]
    pub modulation: Option<Modulation>,
    #[serde(deserialize_with = "there")]
    pub technology: Option<Technology>,
    pub allocations: Vec<Allocation>,
    pub decision: Decision,
    pub attention: Attention,
    pub origin: Origin,
    #[serde(deserialize_with = "there")]
    pub receiver_line: Option<String>,
    pub may_be: Vec<MayBe>,
    pub receptions: Vec<Reception>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Decision {
    pub state: String,
    #[serde(deserialize_with = "there")]
    pub ground: Option<String>,
    #[serde(deserialize_with = "there")]
    pub reason: Option<String>,
    #[serde(deserialize_with = "there")]
    pub by: Option<String>,
    #[serde(deserialize_with = "there")]
    pub at: Option<String>,
    pub changed_since: Vec<Reason>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Attention {
    pub rank: u64,
    pub score: f64,
    pub reasons: Vec<Reason>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Origin {
    #[serde(deserialize_with = "there")]
    pub p_inside: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub excess_db: Option<f64>,
    pub excess_at_least: bool,
    #[serde(deserialize_with = "there")]
    pub excess_u_db: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MayBe {
    pub id: String,
    pub probability: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reception {
    pub capture: String,
    #[serde(deserialize_with = "there")]
    pub position: Option<String>,
    pub role: String,
    pub heard: bool,
    #[serde(deserialize_with = "there")]
    pub level_dbfs: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub level_dbm: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub strength: Option<Strength>,
    #[serde(deserialize_with = "there")]
    pub u_db: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub limit_dbfs: Option<f64>,
    #[serde(deserialize_with = "there")]
    pub limit_dbm: Option<f64>,
    pub looked_s: f64,
    #[serde(deserialize_with = "there")]
    pub first: Option<String>,
    #[serde(deserialize_with = "there")]
    pub last: Option<String>,
}

#[derive(Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct Balance {
    pub open: u64,
    pub accounted: u64,
    pub suspect: u64,
    pub located: u64,
    pub handed_over: u64,
    pub unresolved: u64,
    pub changed: u64,
}

/// A field that may be null but must be there (serde lets plain `Option`s be missing).
fn there<'de, D, T>(d: D) -> Result<Option<T>, D::Error>
where
    D: serde::Deserializer<'de>,
    T: Deserialize<'de>,
{
    Option::<T>::deserialize(d)
}
