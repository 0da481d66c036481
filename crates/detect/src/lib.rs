//! From spectra, traces and events to what was found, and to what was listened to.

mod found;

pub use found::{
    BandwidthIs, Burst, BurstSummary, Detection, Excerpt, Found, Listened, Shape, Uncertainty,
};
