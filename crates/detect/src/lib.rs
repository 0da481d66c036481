//! From spectra, traces and events to what was found, and to what was listened to.

mod alone;
mod areas;
mod balance;
mod block;
mod cells;
mod components;
mod config;
mod constant;
mod deblend;
mod deep;
mod defects;
mod envelope;
mod events;
mod faint;
mod fleeting;
mod found;
mod gain;
mod group;
mod join;
mod limit;
mod listened;
mod lobes;
mod marks;
mod measure;
mod modulus;
mod narrow;
mod period;
mod pulse;
mod reader;
mod receiver;
mod samples;
mod sidebands;
mod slow;
mod spread;
mod stitch;
mod traces;
mod turns;
mod twin;

pub use deep::{Deep, DeepFound, DeepOptions, deep};
pub use events::{Listening, from_events};
pub use found::{
    BandwidthIs, Burst, BurstSummary, Detection, Excerpt, Found, Listened, Shape, Uncertainty,
};
pub use samples::{DetectError, Hooks, MOST_FALSE, OnSamples, Options, from_samples};
pub use spread::{Spread, SpreadFound};
pub use traces::from_traces;
