//! From spectra, traces and events to what was found, and to what was listened to.

mod found;
#[allow(dead_code)]
mod group;
mod period;
#[allow(dead_code)]
mod pulse;
mod samples;

pub use found::{
    BandwidthIs, Burst, BurstSummary, Detection, Excerpt, Found, Listened, Shape, Uncertainty,
};
pub use samples::{DetectError, Hooks, Options, from_samples};
