//! Deriving from a few captures at once; each result is the same whatever runs beside it.

use crate::jobs::Need;
use crate::survey::Survey;
use crate::{Progress, SurveyError};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

/// Captures derived from at once. An analysis uses every core for most of its time, and a bounded
/// memory of a few hundred megabytes: a second one fills the gaps, a third would only take memory.
const AT_ONCE: usize = 2;

impl Survey {
    /// Derives from parts, a few at once, and lets them count. To be called by the one who holds
    /// the lock. What was begun is ended (or cancelled) when one fails.
    pub(crate) fn derive_all(
        &self,
        needs: &[Need],
        by: &str,
        progress: &dyn Progress,
    ) -> Result<(), SurveyError> {
        let whole = Whole { progress, done: Mutex::new(vec![0; needs.len()]) };
        let next = AtomicUsize::new(0);
        let failed: Mutex<Option<SurveyError>> = Mutex::new(None);
        let work = || {
            while let Some((i, need)) = {
                let i = next.fetch_add(1, Ordering::Relaxed);
                needs.get(i).map(|need| (i, need))
            } {
                let one = One { whole: &whole, index: i, part: &need.part.id };
                one.step(0, 1, "");
                let mut ended = self.derive_now(need, by, &one);
                if ended.is_ok() && progress.cancelled() && i + 1 < needs.len() {
                    ended = Err(SurveyError::Cancelled);
                }
                if let Err(error) = ended {
                    next.store(needs.len(), Ordering::Relaxed);
                    failed.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert(error);
                }
                one.step(1, 1, "");
            }
        };
        std::thread::scope(|scope| {
            for _ in 1..needs.len().min(AT_ONCE) {
                scope.spawn(work);
            }
            work();
        });
        failed.into_inner().unwrap_or_else(PoisonError::into_inner).map_or(Ok(()), Err)
    }
}

/// Progress over all parts, each a thousand steps.
struct Whole<'a> {
    progress: &'a dyn Progress,
    done: Mutex<Vec<u64>>,
}

/// The share of one of them.
struct One<'a> {
    whole: &'a Whole<'a>,
    index: usize,
    part: &'a str,
}

impl Progress for One<'_> {
    fn step(&self, done: u64, of: u64, _what: &str) {
        let mut all = self.whole.done.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(own) = all.get_mut(self.index) {
            // Never backwards: an analysis has several passes, each from its own beginning.
            *own = (*own).max(1000 * done.min(of) / of.max(1));
        }
        let (sum, of) = (all.iter().sum(), 1000 * all.len() as u64);
        drop(all);
        let what = format!("analysing {} ({} of {})", self.part, self.index + 1, of / 1000);
        self.whole.progress.step(sum, of, &what);
    }
    fn cancelled(&self) -> bool {
        self.whole.progress.cancelled()
    }
}
