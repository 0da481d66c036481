//! Joins receptions into emissions; decisions, attention, balance. Owns `stillroom.ledger/1`.
//! A pure function: [`Input`] in, [`Ledger`] and its anchors out.

mod activity;
mod agree;
mod assign;
mod atom;
mod attention;
mod build;
mod changed;
mod circumstance;
mod clusters;
mod coarse;
mod compare;
mod contract;
mod decisions;
mod hand;
mod ids;
mod input;
mod join;
mod keys;
mod known;
mod known_device;
mod levels;
mod likelihood;
mod limits;
mod logs;
mod look;
#[cfg(test)]
mod made;
mod next;
mod origin;
mod places;
mod receiver;
mod receptions;
mod room;
mod round;
mod services;
mod shares;
mod signs;
mod step;
mod summary;
#[cfg(test)]
mod tests;
mod threat;
mod timing;

pub use build::build;
pub use compare::loudest;
pub use contract::*;
pub use input::*;
pub use known_device::KnownDevice;
pub use next::{Next, Step, StepKind, balances, frequency, lacking, next, place};
pub use room::RoomState;
// The floors above read rows without naming the floors beneath.
pub use detect::{BandwidthIs, Listened, Shape};
pub use identify::Emission;
