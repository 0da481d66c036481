//! What is said of files that are brought in, and what is told of them afterwards.

use crate::things::Overrides;
use ledger::Role;
use std::path::PathBuf;
use units::{Band, Reason, Utc, Zone};

/// What is said of the files that are brought in.
#[derive(Debug, Clone)]
pub struct AddOptions {
    /// Why they were recorded.
    pub role: Role,
    /// Position, by name; made if it is named for the first time.
    pub at: Option<String>,
    /// What the position is to the premises, where it is new.
    pub zone: Option<Zone>,
    /// Chain, by the user's name.
    pub chain: Option<String>,
    /// Gain ahead of the converter, dB.
    pub gain_db: Option<f64>,
    /// Setting that changes what levels mean.
    pub setting: Option<String>,
    /// How the room was.
    pub condition: Option<String>,
    /// Listening began.
    pub from: Option<Utc>,
    /// Listening ended.
    pub until: Option<Utc>,
    /// Bands listened to.
    pub bands: Vec<Band>,
    /// What is said over the files' metadata.
    pub overrides: Overrides,
    /// Column mappings of single files, where that differs from one to the next.
    pub columns: Vec<(PathBuf, String)>,
    /// Store only; analyse at the next command.
    pub later: bool,
    /// The same recording may count at another position too.
    pub again: bool,
}

impl AddOptions {
    /// Nothing said but why.
    pub fn new(role: Role) -> Self {
        AddOptions {
            role,
            at: None,
            zone: None,
            chain: None,
            gain_db: None,
            setting: None,
            condition: None,
            from: None,
            until: None,
            bands: Vec::new(),
            overrides: Overrides::default(),
            columns: Vec::new(),
            later: false,
            again: false,
        }
    }
}

/// One recording that was brought in.
#[derive(Debug, Clone, PartialEq)]
pub struct Added {
    /// Its id, `C1`.
    pub capture: String,
    /// The file that holds its samples or rows, as it was named.
    pub file: PathBuf,
    /// Whether it was there before, and nothing was done.
    pub already: bool,
    /// What to distrust.
    pub warnings: Vec<Reason>,
}
