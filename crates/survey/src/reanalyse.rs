//! Deriving again with this program, and what it changed. Until then a survey counts with what it
//! was derived with, also when a newer program opens it.

use crate::survey::Survey;
use crate::{Progress, SurveyError, jobs};
use ledger::LedgerRow;
use units::Reason;

/// What deriving again changed in the ledger.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Changes {
    /// Rows that were not there before.
    pub appeared: Vec<LedgerRow>,
    /// Rows that are not there any more.
    pub gone: Vec<LedgerRow>,
    /// Rows that say something else of themselves, before and after.
    pub changed: Vec<(LedgerRow, LedgerRow)>,
    /// Captures and parts that were derived again.
    pub derived: u64,
    /// Captures and parts that there are to derive from.
    pub of: u64,
    /// What to tell of those that were found altered.
    pub warnings: Vec<Reason>,
}

impl Survey {
    /// Derives again from every capture that was derived from by another version, failed, or
    /// was derived without its hashes being written down or altered since, and
    /// tells which rows appeared, are gone or changed. What was derived before stays under derived/.
    ///
    /// # Errors
    /// If the disk will not, or `progress` says that it is cancelled.
    pub fn reanalyse(&self, by: &str, progress: &dyn Progress) -> Result<Changes, SurveyError> {
        let before = self.ledger(progress)?;
        let warnings: Vec<Reason> =
            before.warnings.into_iter().filter(|w| w.code == "derived_altered").collect();
        let before = before.ledger.emissions;
        let engine = self.deriver.engine();
        let (derived, of);
        {
            let _lock = self.wait_to_work(progress)?;
            let wanted = self.read(jobs::wanted)?;
            of = wanted.len() as u64;
            let mut old = Vec::new();
            for need in wanted {
                let as_derived = match &need.now {
                    Some(now) if now.engine == engine && !now.files.is_empty() => {
                        now.altered(&self.folder)?.is_none()
                    }
                    _ => false,
                };
                if !as_derived {
                    old.push(need);
                }
            }
            self.derive_all(&old, by, progress)?;
            derived = (old.len() + warnings.len()) as u64;
        }
        let after = self.ledger(progress)?.ledger.emissions;
        let mut changes = Changes { derived, of, warnings, ..Changes::default() };
        for row in &after {
            match before.iter().find(|old| old.id == row.id) {
                None => changes.appeared.push(row.clone()),
                Some(old) if bare(old) != bare(row) => {
                    changes.changed.push((old.clone(), row.clone()));
                }
                Some(_) => {}
            }
        }
        changes.gone =
            before.into_iter().filter(|old| !after.iter().any(|row| row.id == old.id)).collect();
        Ok(changes)
    }
}

/// A row without what other rows do to it.
fn bare(row: &LedgerRow) -> LedgerRow {
    LedgerRow { attention: ledger::Attention::default(), may_be: Vec::new(), ..row.clone() }
}
