//! What is true of a simulation, for scoring: every emitter, and how every visit received it.

use crate::scene::Role;
use serde::Serialize;
use units::{Band, Utc, Zone};

/// Everything that is true of a simulation.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Truth {
    /// Name of the scene.
    pub scene: String,
    /// Seed that made it.
    pub seed: u64,
    /// Region of the scene.
    pub region: String,
    /// Emitters, in the scene's order.
    pub emitters: Vec<EmitterTruth>,
    /// Visits, in the scene's order.
    pub visits: Vec<VisitTruth>,
}

/// One emitter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EmitterTruth {
    /// Its name.
    pub name: String,
    /// Whether it was planted.
    pub planted: bool,
    /// Kind of signal, as in the scene.
    pub kind: String,
    /// Middle of its occupied bandwidth (of all its channels together), RF.
    pub centre_hz: f64,
    /// 99 % occupied bandwidth of one of its channels (ITU-R SM.328), from the waveform itself.
    /// A carrier has 0.
    pub bandwidth_hz: f64,
    /// Channels that it uses, where it uses several.
    pub channels_hz: Vec<f64>,
    /// Zone of its place; `None` without a place.
    pub zone: Option<Zone>,
    /// Room that holds it.
    pub room: Option<String>,
    /// East, north, up.
    pub position_m: Option<[f64; 3]>,
    /// Mean radiated power while on.
    pub eirp_dbm: Option<f64>,
}

/// One visit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VisitTruth {
    /// Its name.
    pub name: String,
    /// Position.
    pub position: String,
    /// Zone of the position.
    pub zone: Zone,
    /// Why it was made.
    pub role: Role,
    /// First sample.
    pub start: Utc,
    /// From the first sample to one past the last.
    pub duration_s: f64,
    /// Bands tuned to, with the time spent at each.
    pub listened: Vec<Listened>,
    /// Noise density at the converter, dBFS per hertz, quantisation included.
    pub noise_dbfs_per_hz: f64,
    /// dBm at the antenna connector = dBFS + this.
    pub dbm_from_dbfs_db: f64,
    /// Emitters, in the scene's order, whose frequency was listened to.
    pub emitters: Vec<Heard>,
}

/// A band and how long it was listened to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Listened {
    /// The band.
    #[serde(flatten)]
    pub band: Band,
    /// Seconds.
    pub looked_s: f64,
}

/// How one visit received one emitter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Heard {
    /// Index of the emitter.
    pub emitter: usize,
    /// Its name.
    pub name: String,
    /// Mean level while on, at the antenna connector, fading of this visit included.
    pub level_dbm: f64,
    /// The same at the converter.
    pub level_dbfs: f64,
    /// Signal-to-noise ratio in its own 99 % bandwidth while on (a carrier: in 1 kHz).
    pub snr_db: f64,
    /// Part of its power that falls inside the tuned band where most of it does, 0 to 1 (a flat
    /// spectrum assumed).
    pub share_in_band: f64,
    /// Seconds tuned to it.
    pub looked_s: f64,
    /// Seconds on while tuned to it.
    pub on_s: f64,
    /// Bursts while tuned to it: all of them.
    pub burst_count: u64,
    /// The first of them, at most 5000.
    pub bursts: Vec<Burst>,
}

/// One on-period as far as a receiver was tuned to it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Burst {
    /// From the visit's first sample.
    pub start_s: f64,
    /// From the visit's first sample.
    pub stop_s: f64,
    /// Centre, RF.
    pub centre_hz: f64,
    /// Whether it had begun before the receiver came, or went on after it left.
    pub cut: bool,
}
