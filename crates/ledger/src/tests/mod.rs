//! The ledger as a whole, over made-up captures.

mod deciding;
mod joining;
