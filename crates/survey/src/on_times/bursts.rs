//! The bursts of one emission, one by one as long as they are few, else put together by cells of time.

use super::heard::{Burst, Heard};
use crate::SurveyError;
use crate::survey::Survey;
use serde::Serialize;
use units::{Strength, Utc};

/// A burst, or several that lie too close together to be told one by one.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct TimedBurst {
    /// Start of the first.
    pub from: Utc,
    /// End of the last.
    pub until: Utc,
    /// How many.
    pub count: u64,
    /// Centre of the first, hertz.
    pub centre_hz: Option<f64>,
    /// Bandwidth of the first, hertz.
    pub bandwidth_hz: Option<f64>,
    /// Highest signal to noise ratio of them.
    pub snr_db: Option<f64>,
    /// Strength of the first, on a detector's scale.
    pub strength: Option<Strength>,
}

/// The bursts of an emission in one capture that heard it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct BurstsHeard {
    /// Id of the capture in the ledger.
    pub capture: String,
    /// Start of the capture.
    pub from: Utc,
    /// Its end.
    pub until: Utc,
    /// Bursts in the part of time that was asked for.
    pub count: u64,
    /// By start.
    pub bursts: Vec<TimedBurst>,
}

impl Survey {
    /// The bursts of a row between two moments, by the captures that heard it: at most so many of
    /// each, one by one where they are no more than that.
    ///
    /// # Errors
    /// If the record or what was derived cannot be read.
    pub fn bursts(
        &self,
        id: &str,
        from: Option<Utc>,
        until: Option<Utc>,
        most: usize,
    ) -> Result<Vec<BurstsHeard>, SurveyError> {
        let mut found = Vec::new();
        self.each_heard(&[id.to_owned()], &mut |heard: &Heard<'_>| {
            let start = from.map_or(heard.from, |from| from.max(heard.from));
            let stop = until.map_or(heard.until, |until| until.min(heard.until));
            if stop < start {
                return Ok(());
            }
            let mut told = Told::new(start, stop, most.max(1));
            let window_s = start.seconds_since(heard.from)..=stop.seconds_since(heard.from);
            heard.each_burst(&mut |_, burst: &Burst| {
                if burst.stop_s >= *window_s.start() && burst.start_s <= *window_s.end() {
                    told.take(timed(burst, heard.from));
                }
            })?;
            let (count, bursts) = told.all();
            let (capture, from, until) = (heard.part.clone(), heard.from, heard.until);
            found.push(BurstsHeard { capture, from, until, count, bursts });
            Ok(())
        })?;
        Ok(found)
    }
}

fn timed(burst: &Burst, from: Utc) -> TimedBurst {
    TimedBurst {
        from: from.plus_seconds(burst.start_s),
        until: from.plus_seconds(burst.stop_s),
        count: 1,
        centre_hz: burst.centre_hz,
        bandwidth_hz: burst.bandwidth_hz,
        snr_db: burst.snr_db,
        strength: burst.strength,
    }
}

/// Bursts one by one, until they are too many.
struct Told {
    start: Utc,
    cell_s: f64,
    most: usize,
    few: Vec<TimedBurst>,
    /// By the cell in which they began; empty while they are few.
    cells: Vec<Option<TimedBurst>>,
}

impl Told {
    fn new(start: Utc, stop: Utc, most: usize) -> Told {
        let cell_s = (stop.seconds_since(start) / most as f64).max(1e-9);
        Told { start, cell_s, most, few: Vec::new(), cells: Vec::new() }
    }

    fn take(&mut self, burst: TimedBurst) {
        if self.cells.is_empty() && self.few.len() < self.most {
            self.few.push(burst);
            return;
        }
        if self.cells.is_empty() {
            self.cells = vec![None; self.most];
            std::mem::take(&mut self.few).into_iter().for_each(|few| self.put(few));
        }
        self.put(burst);
    }

    fn put(&mut self, burst: TimedBurst) {
        let cell = (burst.from.seconds_since(self.start) / self.cell_s).max(0.0) as usize;
        match &mut self.cells[cell.min(self.most - 1)] {
            Some(there) => {
                there.count += burst.count;
                there.until = there.until.max(burst.until);
                there.snr_db = match (there.snr_db, burst.snr_db) {
                    (Some(a), Some(b)) => Some(a.max(b)),
                    (one, other) => one.or(other),
                };
                if burst.from < there.from {
                    let (from, centre_hz) = (burst.from, burst.centre_hz);
                    let (bandwidth_hz, strength) = (burst.bandwidth_hz, burst.strength);
                    *there =
                        TimedBurst { from, centre_hz, bandwidth_hz, strength, ..there.clone() };
                }
            }
            free => *free = Some(burst),
        }
    }

    fn all(self) -> (u64, Vec<TimedBurst>) {
        let mut all: Vec<TimedBurst> =
            self.few.into_iter().chain(self.cells.into_iter().flatten()).collect();
        all.sort_by_key(|burst| burst.from);
        (all.iter().map(|burst| burst.count).sum(), all)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn burst(at_s: f64) -> TimedBurst {
        let burst = Burst {
            start_s: at_s,
            stop_s: at_s + 0.25,
            centre_hz: Some(433.92e6),
            bandwidth_hz: None,
            snr_db: Some(at_s),
            strength: None,
        };
        timed(&burst, Utc(0))
    }

    #[test]
    fn few_are_told_one_by_one_and_many_by_cells() {
        let stop = Utc(0).plus_seconds(100.0);
        let mut few = Told::new(Utc(0), stop, 10);
        [5.0, 5.5, 99.0].into_iter().for_each(|at_s| few.take(burst(at_s)));
        let (count, all) = few.all();
        assert_eq!((count, all.len()), (3, 3));
        let mut many = Told::new(Utc(0), stop, 10);
        (0..100).rev().for_each(|at| many.take(burst(f64::from(at))));
        let (count, all) = many.all();
        assert_eq!((count, all.len()), (100, 10));
        // Ten a cell: from the first's start to the last's end.
        assert_eq!(all[1].from, Utc(0).plus_seconds(10.0));
        assert_eq!(all[1].until, Utc(0).plus_seconds(19.25));
        assert_eq!((all[1].count, all[1].snr_db), (10, Some(19.0)));
    }
}
