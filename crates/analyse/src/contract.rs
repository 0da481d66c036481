//! `stillroom.analysis/1`: what `analyse --json` prints and the survey keeps as derived data.

use detect::Listened;
use identify::Emission;
use serde::{Deserialize, Serialize};
use units::{Reason, Strength, Utc};

/// The document.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Analysis {
    /// Always `stillroom.analysis/1`.
    pub schema: String,
    /// One element a file (SigMF recording).
    pub recordings: Vec<RecordingAnalysis>,
}

/// One recording and what it showed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct RecordingAnalysis {
    /// The recording itself.
    pub recording: RecordingInfo,
    /// Its emissions, by rising centre.
    pub emissions: Vec<EmissionRow>,
    /// What was listened to.
    pub listened: Vec<Listened>,
    /// What to distrust, and why.
    pub warnings: Vec<Reason>,
    /// Every burst, with `--bursts` only; always the last key.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub burst_list: Option<Vec<BurstRow>>,
}

/// What a recording is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct RecordingInfo {
    /// As given.
    pub path: String,
    /// SHA-256 of the data file, lower-case hex.
    pub sha256: String,
    /// `sigmf cf32_le`, `wav ci16_le`, `trace segment`, `event-log`…
    pub format: String,
    /// Samples a second; null where there are none.
    pub sample_rate_hz: Option<f64>,
    /// Centre of the first segment; null where not known.
    pub centre_hz: Option<f64>,
    /// Time of the first sample, trace or event; null where not known.
    pub start: Option<Utc>,
    /// From the first to the last sample.
    pub duration_s: f64,
    /// Number of samples; 0 where there are none.
    pub samples: u64,
    /// Fraction of samples with a rail at its limit; 0 where it cannot be told.
    pub clipped_fraction: f64,
    /// Stretches with one centre and no gap.
    pub segments: Vec<SegmentInfo>,
}

/// A stretch with one centre frequency.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SegmentInfo {
    /// Index of its first sample.
    pub first_sample: u64,
    /// Number of samples.
    pub samples: u64,
    /// Centre; null where not known.
    pub centre_hz: Option<f64>,
    /// Start; null where not known.
    pub start: Option<Utc>,
}

/// One emission of a recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct EmissionRow {
    /// `R1`, `R2`, … by rising centre.
    pub id: String,
    /// First time on, seconds from the recording's first sample.
    pub first_s: f64,
    /// Last time on.
    pub last_s: f64,
    /// The fields shared with the ledger.
    #[serde(flatten)]
    pub emission: Emission,
    /// The log's own word for a band that names no frequency, for event logs only.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub label: Option<String>,
    /// Loudest strength, for event logs only.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub strength: Option<Strength>,
}

/// One burst of `--bursts`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct BurstRow {
    /// Id of its emission.
    pub emission: String,
    /// Start, seconds from the recording's first sample.
    pub start_s: f64,
    /// End.
    pub stop_s: f64,
    /// Centre.
    pub centre_hz: f64,
    /// Width; null from event logs.
    pub bandwidth_hz: Option<f64>,
    /// SNR in its band; null where there is none.
    pub snr_db: Option<f64>,
}
