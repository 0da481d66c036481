//! When emissions were on, from the bursts that were derived from each capture that heard them.

mod bursts;
mod cells;
mod heard;

pub use bursts::{BurstsHeard, TimedBurst};

use crate::SurveyError;
use crate::survey::Survey;
use cells::Cells;
use heard::{Burst, Heard};
use serde::Serialize;
use std::collections::BTreeMap;
use units::Utc;

/// Cells of time into which one capture is cut where nobody says how finely it is to be told.
const CELLS: usize = 2000;

/// When one capture heard an emission.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct OnTimes {
    /// Id of the capture in the ledger.
    pub capture: String,
    /// Start of the capture.
    pub from: Utc,
    /// Its end.
    pub until: Utc,
    /// On-times in it, rising and apart, each widened to the cells of time that it touches; empty
    /// where its kind gives no times.
    pub on: Vec<(Utc, Utc)>,
}

/// A part of time, and how finely it is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// From when.
    pub from: Utc,
    /// Until when.
    pub until: Utc,
    /// Cells into which it is cut: no more on-times are told for a row in one capture.
    pub cells: usize,
}

impl Survey {
    /// When a row of the ledger was on, by the captures that heard it and know their times, each to a
    /// two-thousandth of the capture.
    ///
    /// # Errors
    /// If the record or what was derived cannot be read.
    pub fn on_times(&self, id: &str) -> Result<Vec<OnTimes>, SurveyError> {
        let ids = [id.to_owned()];
        Ok(self.on_times_within(&ids, None)?.remove(id).unwrap_or_default())
    }

    /// When rows of the ledger were on, by the captures that heard them and know their times; in a
    /// window only captures that overlap it. An on-time shorter than a cell stays.
    ///
    /// # Errors
    /// If the record or what was derived cannot be read.
    pub fn on_times_within(
        &self,
        ids: &[String],
        window: Option<Window>,
    ) -> Result<BTreeMap<String, Vec<OnTimes>>, SurveyError> {
        let mut found: BTreeMap<String, Vec<OnTimes>> =
            ids.iter().map(|id| (id.clone(), Vec::new())).collect();
        self.each_heard(ids, &mut |heard: &Heard<'_>| {
            let (from, until) = match window {
                None => (heard.from, heard.until),
                Some(window) => (heard.from.max(window.from), heard.until.min(window.until)),
            };
            if until < from {
                return Ok(());
            }
            let span_s = until.seconds_since(from);
            let cells = window.map_or(CELLS, |window| {
                let whole_s = window.until.seconds_since(window.from).max(1e-9);
                (window.cells as f64 * span_s / whole_s).ceil() as usize
            });
            let mut on: BTreeMap<&String, Cells> =
                heard.ids().map(|id| (id, Cells::new(span_s, cells))).collect();
            let before_s = from.seconds_since(heard.from);
            heard.each_burst(&mut |id, burst: &Burst| {
                if let Some(cells) = on.get_mut(id) {
                    cells.mark(burst.start_s - before_s, burst.stop_s - before_s);
                }
            })?;
            for (id, cells) in on {
                let on = cells.spans(from, until);
                let (capture, from, until) = (heard.part.clone(), heard.from, heard.until);
                let told = OnTimes { capture, from, until, on };
                found.entry(id.clone()).or_default().push(told);
            }
            Ok(())
        })?;
        Ok(found)
    }
}
