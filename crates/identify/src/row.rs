//! The row that `analyse --json` and `emissions --json` share.

use detect::{BandwidthIs, BurstSummary, Shape, Uncertainty};
use serde::{Deserialize, Serialize};
use units::{Dbfs, Dbm, Reason};

/// One emission: the fields shared by analysis/1 and ledger/1. Both add an id and times.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Emission {
    /// Centre frequency (RF; offset where the recording's centre is unknown).
    pub centre_hz: f64,
    /// Lower edge.
    pub low_hz: f64,
    /// Upper edge.
    pub high_hz: f64,
    /// 99 % occupied bandwidth; one hop's for a hopper; null from event logs alone.
    pub bandwidth_hz: Option<f64>,
    /// Measured, or the resolution as upper bound.
    pub bandwidth_is: BandwidthIs,
    /// Behaviour in time and frequency.
    pub shape: Shape,
    /// A hopper's channel centres.
    pub channels_hz: Option<Vec<f64>>,
    /// Timing.
    pub bursts: BurstSummary,
    /// Mean power while on, noise subtracted.
    pub level_dbfs: Option<Dbfs>,
    /// The same in dBm, from a calibrated chain or a trace.
    pub level_dbm: Option<Dbm>,
    /// Level over noise in low..high.
    pub snr_db: Option<f64>,
    /// Standard uncertainties.
    pub u: Uncertainty,
    /// Blind measurements; null where not measured.
    pub measured: Measured,
    /// Modulation, where it can be told.
    pub modulation: Option<Modulation>,
    /// Technology, where it can be told.
    pub technology: Option<Technology>,
    /// What lives at this frequency in the survey's region.
    pub allocations: Vec<Allocation>,
}

/// Blind measurements, each null where it does not apply.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Measured {
    /// Symbols a second.
    pub symbol_rate_hz: Option<f64>,
    /// Peak deviation.
    pub deviation_hz: Option<f64>,
    /// Useful symbol time of OFDM.
    pub ofdm_useful_s: Option<f64>,
    /// Guard time of OFDM.
    pub ofdm_guard_s: Option<f64>,
    /// Slope of a chirp.
    pub chirp_hz_per_s: Option<f64>,
    /// Chips a second.
    pub chip_rate_hz: Option<f64>,
    /// Frame period.
    pub frame_s: Option<f64>,
    /// Pilot or squelch tone.
    pub tone_hz: Option<f64>,
    /// Picture lines a second.
    pub line_hz: Option<f64>,
    /// Picture fields a second.
    pub field_hz: Option<f64>,
    /// Subcarrier.
    pub subcarrier_hz: Option<f64>,
    /// Time on one channel of a hopper.
    pub hop_dwell_s: Option<f64>,
    /// Channel spacing of a hopper.
    pub hop_spacing_hz: Option<f64>,
}

/// A label with its probability.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Guess {
    /// Label of the closed list.
    pub label: String,
    /// 0 to 1.
    pub probability: f64,
}

/// Modulation, with the runners-up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Modulation {
    /// `cw`, `nfm`, … (design: closed list).
    pub label: String,
    /// 0 to 1.
    pub probability: f64,
    /// Others, by falling probability.
    pub others: Vec<Guess>,
}

/// Technology, with reasons and runners-up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Technology {
    /// Id of data/technologies.csv, or `unknown`.
    pub label: String,
    /// 0 to 1.
    pub probability: f64,
    /// Why.
    pub reasons: Vec<Reason>,
    /// Others, by falling probability.
    pub others: Vec<Guess>,
}

/// A service that lives at a frequency.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Allocation {
    /// Service and use in words.
    pub service: String,
    /// Region of the row.
    pub region: String,
    /// Lower edge.
    pub low_hz: f64,
    /// Upper edge.
    pub high_hz: f64,
    /// Where the row comes from.
    pub source: String,
}
