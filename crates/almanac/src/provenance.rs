//! Where a figure comes from, and how firm it is.

use crate::table::{Row, TableError};

/// What stands behind a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Basis {
    /// A published standard, regulation or recommendation; written from knowledge of its clause.
    Standard,
    /// Read in the named public repository and nowhere better.
    PublicRepository(String),
    /// A fact of the trade, no document.
    CommonPractice,
    /// Unverified.
    Memory,
}

/// Source of a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Provenance {
    /// Document and clause or table, and a second source where one was compared. Never empty.
    pub source: String,
    /// What stands behind the row.
    pub basis: Basis,
    /// At least one figure of the row was found in an independent public source as well.
    pub checked: bool,
    /// Line of the row in its table, 1-based, for messages and for correcting it.
    pub line: u64,
}

impl Provenance {
    /// Only rows both checked and of a standard should be treated as firm.
    pub fn is_firm(&self) -> bool {
        self.checked && self.basis == Basis::Standard
    }

    pub(crate) fn of(row: &Row<'_>) -> Result<Self, TableError> {
        let basis = match row.text("basis")? {
            "standard" => Basis::Standard,
            "common practice" => Basis::CommonPractice,
            "memory" => Basis::Memory,
            other => match other.strip_prefix("public repo: ") {
                Some(name) if !name.is_empty() => Basis::PublicRepository(name.to_owned()),
                _ => {
                    let words = "standard, common practice, memory or 'public repo: NAME'";
                    return Err(row.bad("basis", other, words));
                }
            },
        };
        Ok(Provenance {
            source: row.required("source")?,
            basis,
            checked: row.one_of("checked", &[("yes", true), ("no", false)])?,
            line: row.line,
        })
    }
}
