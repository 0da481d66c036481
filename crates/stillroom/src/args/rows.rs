//! The ledger's rows: printing, deciding, putting together, taking apart.

use super::{Reading, Writing};
use clap::{Args as Group, ValueEnum};

/// `emissions`.
#[derive(Debug, Group)]
pub struct Emissions {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub survey: Reading,
    /// Only the first N rows by attention.
    #[arg(long, value_name = "N")]
    pub first: Option<usize>,
    /// Print nothing but the balance; status 1 while rows are open or changed, or no
    /// room or no reference was listened to.
    #[arg(long)]
    pub balanced: bool,
}

/// States of a decision.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[allow(missing_docs)]
pub enum StateArg {
    Open,
    Accounted,
    Suspect,
    Located,
    HandedOver,
    Unresolved,
}

/// Grounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[allow(missing_docs)]
pub enum GroundArg {
    Seen,
    SwitchedOff,
    StrongerOutside,
    Decoded,
    OwnKit,
    ReceiverOwn,
    Inferred,
}

/// `decide`.
#[derive(Debug, Group)]
pub struct Decide {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub survey: Writing,
    /// Rows, `E7`.
    #[arg(required = true, value_name = "ID")]
    pub ids: Vec<String>,
    /// The decision.
    #[arg(long = "as", value_enum, value_name = "STATE")]
    pub state: StateArg,
    /// On what it is accounted.
    #[arg(long, value_enum, required_if_eq("state", "accounted"))]
    pub ground: Option<GroundArg>,
    /// Why, in your words. Permanent; may be read in court.
    #[arg(long, value_name = "TEXT")]
    pub reason: String,
    /// Refuse if a row is no longer as the ledger of this version showed it.
    #[arg(long, value_name = "N")]
    pub if_version: Option<u64>,
}

/// `join`.
#[derive(Debug, Group)]
pub struct Join {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub survey: Writing,
    /// Two rows or more.
    #[arg(required = true, num_args = 2.., value_name = "ID")]
    pub ids: Vec<String>,
    /// Why they are one, in your words. Permanent; may be read in court.
    #[arg(long, value_name = "TEXT")]
    pub reason: String,
    /// They are one although the measurements say otherwise; the reason says why.
    #[arg(long)]
    pub although_apart: bool,
}

/// `split`.
#[derive(Debug, Group)]
pub struct Split {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub survey: Writing,
    /// The row.
    pub id: String,
    /// Captures whose receptions leave it.
    #[arg(required = true, value_name = "CAPTURE")]
    pub captures: Vec<String>,
    /// Why they are another's, in your words. Permanent; may be read in court.
    #[arg(long, value_name = "TEXT")]
    pub reason: String,
}
