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
    /// Photographs or the image of a plan are brought in.
    Photographs,
    /// The report is made.
    Report,
    /// Evidence and journal are checked.
    Verification,
    /// Everything is analysed again by this version of the program.
    Reanalysis,
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

/// What analysing again changed.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct Reanalysed {
    /// Captures and parts that were analysed again.
    pub(crate) derived: u64,
    /// Captures and parts that there are.
    pub(crate) of: u64,
    /// Rows that were not there before.
    pub(crate) appeared: Vec<RowTold>,
    /// Rows that are not there any more, as they were.
    pub(crate) gone: Vec<RowTold>,
    /// Rows that say something else of themselves.
    pub(crate) changed: Vec<RowChanged>,
    /// What to tell of what was found altered.
    #[schema(value_type = Vec<contract::Reason>)]
    pub(crate) warnings: Vec<units::Reason>,
}

/// A row in short; the ledger has the whole.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct RowTold {
    /// Its id.
    pub(crate) id: String,
    /// Where in frequency, in words.
    pub(crate) place: String,
    /// Its bandwidth, hertz.
    pub(crate) bandwidth_hz: Option<f64>,
    /// Id of its technology, where it could be told.
    pub(crate) technology: Option<String>,
}

/// A row before and after.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct RowChanged {
    /// As it was.
    pub(crate) was: RowTold,
    /// As it is.
    pub(crate) is: RowTold,
}

impl From<&ledger::LedgerRow> for RowTold {
    fn from(row: &ledger::LedgerRow) -> Self {
        let technology = row.emission.technology.as_ref().map(|t| t.label.clone());
        RowTold {
            id: row.id.clone(),
            place: ledger::place(&row.emission, row.label.as_deref()),
            bandwidth_hz: row.emission.bandwidth_hz,
            technology: technology.filter(|label| label != "unknown"),
        }
    }
}

impl From<survey::Changes> for Reanalysed {
    fn from(changes: survey::Changes) -> Self {
        let told = |rows: &[ledger::LedgerRow]| rows.iter().map(RowTold::from).collect();
        let changed = changes.changed.iter();
        Reanalysed {
            derived: changes.derived,
            of: changes.of,
            appeared: told(&changes.appeared),
            gone: told(&changes.gone),
            changed: changed
                .map(|(was, is)| RowChanged { was: was.into(), is: is.into() })
                .collect(),
            warnings: changes.warnings,
        }
    }
}

/// One job, as pages see it.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct Job {
    /// Its id, of this start of the server alone: no later start gives it again.
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
    /// Pictures that are acknowledged.
    #[schema(value_type = Vec<contract::FileInfo>)]
    pub(crate) pictures: Vec<ledger::FileInfo>,
    /// What a verification found.
    pub(crate) verification: Option<Verification>,
    /// What analysing again changed.
    pub(crate) reanalysed: Option<Reanalysed>,
    /// Why it failed.
    pub(crate) problem: Option<Problem>,
}
