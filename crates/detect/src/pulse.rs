//! One on-period as the cells show it, before it is grouped with others of its emission.

use crate::Excerpt;

/// One on-period of something, measured. Frequencies are absolute where the segment's centre is
/// known, else offsets; times count in seconds from the recording's first sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pulse {
    /// Index of the segment that it lies in.
    pub segment: u32,
    /// Start.
    pub start_s: f64,
    /// End.
    pub stop_s: f64,
    /// Standard uncertainty of either time.
    pub u_time_s: f64,
    /// Lower 99 % edge.
    pub low_hz: f64,
    /// Upper 99 % edge.
    pub high_hz: f64,
    /// Centre of the occupied band; of the line for a bare carrier.
    pub centre_hz: f64,
    /// Its standard uncertainty.
    pub u_centre_hz: f64,
    /// 99 % occupied bandwidth; the resolution for a bare carrier.
    pub bandwidth_hz: f64,
    /// Its standard uncertainty.
    pub u_bandwidth_hz: f64,
    /// Not wider than the resolution: `bandwidth_hz` is an upper bound.
    pub bare: bool,
    /// Resolution bandwidth that it was measured with.
    pub resolution_hz: f64,
    /// Mean power while on, in `low_hz..high_hz`, noise subtracted.
    pub level_dbfs: f64,
    /// Its standard uncertainty, dB.
    pub u_level_db: f64,
    /// Level over the noise in the same band, dB.
    pub snr_db: f64,
    /// Already on when the segment began.
    pub cut_start: bool,
    /// Still on when the segment ended.
    pub cut_stop: bool,
    /// Slope of its frequency, where it sweeps.
    pub sweep_hz_per_s: Option<f64>,
    /// Samples to look at again.
    pub excerpt: Excerpt,
}
