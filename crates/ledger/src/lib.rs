//! Joins receptions into emissions; decisions, attention, balance. Owns `stillroom.ledger/1`.
//! A pure function: [`Input`] in, [`Ledger`] and its anchors out.

mod atom;
mod attention;
mod build;
mod contract;
mod ids;
mod input;
mod join;
mod origin;
mod places;
mod receiver;
mod receptions;
mod summary;

pub use build::build;
pub use contract::*;
pub use input::*;
// The floors above read rows without naming the floors beneath.
pub use detect::{BandwidthIs, Listened, Shape};
pub use identify::Emission;
