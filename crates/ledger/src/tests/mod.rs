//! The ledger as a whole, over made-up captures.

mod coarse;
mod deciding;
mod joining;
mod orders;
mod sequences;
