//! Joins receptions into emissions; decisions, attention, balance. Owns `stillroom.ledger/1`.
//! A pure function: [`Input`] in, [`Ledger`] and its anchors out.

mod contract;
mod input;

pub use contract::*;
pub use input::*;
