//! Deriving again with this program, and what it changed. Until then a survey counts with what it
//! was derived with, also when a newer program opens it.

use crate::survey::Survey;
use crate::{Progress, SurveyError, jobs};
use ledger::LedgerRow;

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
}

impl Survey {
    /// Derives again from every capture that was derived from by another version (or failed), and
    /// tells which rows appeared, are gone or changed. What was derived before stays under derived/.
    ///
    /// # Errors
    /// If the disk will not, or `progress` says that it is cancelled.
    pub fn reanalyse(&self, by: &str, progress: &dyn Progress) -> Result<Changes, SurveyError> {
        let before = self.ledger(progress)?.ledger.emissions;
        let engine = self.deriver.engine();
        let derived;
        {
            let _lock = self.wait_to_work(progress)?;
            let wanted = self.read(jobs::wanted)?;
            let old: Vec<_> = wanted
                .into_iter()
                .filter(|need| need.now.as_ref().is_none_or(|now| now.engine != engine))
                .collect();
            self.derive_all(&old, by, progress)?;
            derived = old.len() as u64;
        }
        let after = self.ledger(progress)?.ledger.emissions;
        let mut changes = Changes { derived, ..Changes::default() };
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
