//! Synthetic premises and signals, with truth: a described place ([`Scene`]) becomes the samples
//! that receivers would record there ([`Simulation`]), the log that a hand-held detector would
//! store, and an account of what was really on the air ([`Truth`]).
//!
//! Same scene and seed: same bits, at any number of threads. Nothing here knows a file format or
//! the detection that it serves to test.

mod account;
mod audio;
mod check;
mod draw;
mod handheld;
mod occupied;
mod random;
mod receiver;
mod render;
mod resample;
mod schedule;
mod signals;
mod simulation;
mod site;
mod truth;
mod voice;

pub mod scene;

pub use audio::GivenSound;
pub use check::SceneError;
pub use handheld::{LogRow, Movement, WalkLog};
pub use random::random_scene;
pub use receiver::thermal_dbm_per_hz;
pub use scene::Scene;
pub use signals::{Direction, Lines, Signal, Sound};
pub use simulation::{Piece, SegmentPlan, Simulation, VisitPlan};
pub use truth::{Burst, EmitterTruth, Heard, Listened, Truth, VisitTruth};
