//! What a found emission is, and the row that both machine contracts share.

mod row;

pub use row::{Allocation, Emission, Guess, Measured, Modulation, Technology};
