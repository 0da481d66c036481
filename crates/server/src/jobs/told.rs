//! Jobs as pages see them.

use crate::contract;
use crate::problem::Problem;
use serde::Serialize;
use utoipa::ToSchema;

/// What is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Kind {
    /// Captures are brought in and analysed.
    Import,
    /// What waits is analysed.
    Analysis,
    /// Photographs of a found item are brought in.
    Photographs,
    /// Evidence and journal are checked.
    Verification,
}

/// How a job stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum JobState {
    /// Under way.
    Running,
    /// Done.
    Done,
    /// Could not; `problem` says why.
    Failed,
    /// Cancelled; what was acknowledged stays.
    Cancelled,
}

/// A capture that a job brought in: from then on it outlives the server.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct Imported {
    /// Its id.
    pub(crate) capture: String,
    /// The file that holds its samples or rows.
    pub(crate) file: String,
    /// Whether it was there before, and nothing was done.
    pub(crate) already: bool,
    /// What to distrust.
    #[schema(value_type = Vec<contract::Reason>)]
    pub(crate) warnings: Vec<units::Reason>,
}

/// What a check of evidence and journal found.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct Verification {
    /// Whether nothing is altered or missing.
    pub(crate) ok: bool,
    /// What is.
    pub(crate) faults: Vec<String>,
    /// What is odd and yet no fault.
    pub(crate) warnings: Vec<String>,
    /// Evidence files checked.
    pub(crate) files: u64,
    /// Their size in all.
    pub(crate) bytes: u64,
    /// Entries of the journal.
    pub(crate) entries: u64,
    /// Hash of the last one.
    pub(crate) journal_head: String,
}

/// One job, as pages see it.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct Job {
    /// `J1`; while this server runs.
    pub(crate) id: String,
    /// What is done.
    pub(crate) kind: Kind,
    /// How it stands.
    pub(crate) state: JobState,
    /// What it does just now.
    pub(crate) what: String,
    /// Steps done.
    pub(crate) done: u64,
    /// Steps in all; 0 while unknown.
    pub(crate) of: u64,
    /// Captures that are acknowledged.
    pub(crate) imported: Vec<Imported>,
    /// What a verification found.
    pub(crate) verification: Option<Verification>,
    /// Why it failed.
    pub(crate) problem: Option<Problem>,
}
