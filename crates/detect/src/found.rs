//! What this floor hands up: found emissions, their bursts, and what was listened to.

use serde::{Deserialize, Serialize};
use units::{Dbfs, Dbm, Reason, Strength};

/// How an emission behaves in time and frequency.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Shape {
    /// On for as long as it was looked at, or nearly.
    Continuous,
    /// Comes and goes at one place in frequency.
    Bursts,
    /// Bursts over a set of channels, one at a time.
    Hopping,
    /// One signal whose frequency runs.
    Sweeping,
}

/// Whether the bandwidth is the emission's or only the resolution's.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum BandwidthIs {
    /// 99 % occupied bandwidth as measured.
    Measured,
    /// A bare carrier: not wider than this.
    UpperBound,
}

/// Timing of an emission's bursts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct BurstSummary {
    /// How many bursts (1 for one that never stopped).
    pub count: u64,
    /// Median length, seconds; `None` where the recording gives no lengths.
    pub median_s: Option<f64>,
    /// Period of the starts, seconds, where they have one.
    pub period_s: Option<f64>,
    /// On-time over time looked, 0 to 1.
    pub on_fraction: f64,
}

/// Standard uncertainties of an emission's fields; `None` where not known.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Uncertainty {
    /// Of the centre, hertz.
    pub centre_hz: Option<f64>,
    /// Of the occupied bandwidth, hertz.
    pub bandwidth_hz: Option<f64>,
    /// Of the level, dB.
    pub level_db: Option<f64>,
    /// Of the first on-time, seconds.
    pub first_s: Option<f64>,
    /// Of the last on-time, seconds.
    pub last_s: Option<f64>,
    /// Of the period, seconds.
    pub period_s: Option<f64>,
}

/// Samples worth a closer look: where one burst, or a stretch of a continuous emission, lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Excerpt {
    /// First sample in the recording.
    pub first_sample: u64,
    /// Number of samples.
    pub samples: u64,
}

/// One emission as one recording shows it. Frequencies are absolute where the recording's centre
/// is known, else offsets from it. Times count in seconds from the recording's first sample,
/// trace or event.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// Centre of the occupied band; of the whole set for a hopper.
    pub centre_hz: f64,
    /// Lower edge (whole set for a hopper).
    pub low_hz: f64,
    /// Upper edge (whole set for a hopper).
    pub high_hz: f64,
    /// 99 % occupied bandwidth (ITU-R SM.328); of one hop for a hopper. `None` for event logs.
    pub bandwidth_hz: Option<f64>,
    /// Measured, or the resolution's upper bound.
    pub bandwidth_is: BandwidthIs,
    /// First time on.
    pub first_s: f64,
    /// Last time on.
    pub last_s: f64,
    /// Behaviour.
    pub shape: Shape,
    /// Channel centres of a hopper, rising.
    pub channels_hz: Option<Vec<f64>>,
    /// Timing.
    pub bursts: BurstSummary,
    /// Mean power while on, in low..high, noise subtracted.
    pub level_dbfs: Option<Dbfs>,
    /// The same in dBm.
    pub level_dbm: Option<Dbm>,
    /// Level over the noise in the same band, dB.
    pub snr_db: Option<f64>,
    /// Loudest strength on the detector's ordinal scale, for event logs.
    pub strength: Option<Strength>,
    /// Standard uncertainties.
    pub u: Uncertainty,
    /// Up to eight of its loudest bursts (stretches), in order of time. Empty without samples.
    pub excerpts: Vec<Excerpt>,
}

/// One on-period. Streamed while detecting, so it names a group; [`Detection::rows`] says which
/// found emission the group became.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Burst {
    /// Group it was put in when it was seen.
    pub group: u32,
    /// Start, seconds from the recording's first sample.
    pub start_s: f64,
    /// End.
    pub stop_s: f64,
    /// Centre, as in [`Found`].
    pub centre_hz: f64,
    /// Width.
    pub bandwidth_hz: f64,
    /// SNR in its band, dB.
    pub snr_db: f64,
    /// Mean power while on, dBFS.
    pub level_dbfs: f64,
}

/// A band that was listened to, how long, and the level that an emission needed to be found.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Listened {
    /// Lower edge.
    pub low_hz: f64,
    /// Upper edge.
    pub high_hz: f64,
    /// Seconds in which the receiver looked at this band.
    pub looked_s: f64,
    /// Level, in one resolution cell of the detector, above which a steady emission is found with
    /// probability 0.9.
    pub limit_dbfs: Option<Dbfs>,
    /// The same in dBm.
    pub limit_dbm: Option<Dbm>,
}

/// All that one recording showed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Detection {
    /// Found emissions, by rising centre.
    pub found: Vec<Found>,
    /// `rows[group]`: the index in `found` that a burst's group became; `None` for one that was
    /// dropped (image, spike, too weak in the end).
    pub rows: Vec<Option<u32>>,
    /// What was listened to, by rising frequency.
    pub listened: Vec<Listened>,
    /// Fraction of the samples with a rail at its limit; 0 where no limit is known.
    pub clipped_fraction: f64,
    /// Samples with a rail at its limit; 0 where no limit is known.
    pub clipped_samples: u64,
    /// Largest magnitude of a rail, full scale 1.
    pub peak_rail: f32,
    /// DC spike, image, clipping, uncertain floor…
    pub warnings: Vec<Reason>,
}
