//! When an emission was on, from the bursts that were derived from each capture that heard it.

use crate::derive::Derived;
use crate::survey::Survey;
use crate::things::{Capture, Chain, Derivation};
use crate::{SurveyError, parts, record};
use ledger::{Anchor, ReceptionKey};
use rusqlite::Connection;
use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, ErrorKind};
use std::path::Path;
use units::Utc;

/// Cells of time into which one capture is cut; a cell counts as on if a burst touches it. So a
/// single short burst in a night is kept, and memory does not grow with the number of bursts.
const CELLS: usize = 2000;

/// Part of a frequency by which a bare carrier's centre may lie off its key.
const SHIFT: f64 = 5e-6;

/// When one capture heard an emission.
#[derive(Debug, Clone, PartialEq)]
pub struct OnTimes {
    /// Id of the capture in the ledger.
    pub capture: String,
    /// Start of the capture.
    pub from: Utc,
    /// Its end.
    pub until: Utc,
    /// On-times in it, rising and apart, to a two-thousandth of the capture; empty where its kind
    /// gives no times.
    pub on: Vec<(Utc, Utc)>,
}

impl Survey {
    /// When a row of the ledger was on, by the captures that heard it and know their times.
    ///
    /// # Errors
    /// If the record or what was derived cannot be read.
    pub fn on_times(&self, id: &str) -> Result<Vec<OnTimes>, SurveyError> {
        self.read(|db| self.on_times_of(db, id))
    }

    fn on_times_of(&self, db: &Connection, id: &str) -> Result<Vec<OnTimes>, SurveyError> {
        let Some(anchor) = record::get::<Anchor>(db, id)? else { return Ok(Vec::new()) };
        let chains = record::all::<Chain>(db)?;
        let movements = parts::movements(db)?;
        let mut found = Vec::new();
        for capture in record::all::<Capture>(db)? {
            let keys: Vec<&ReceptionKey> =
                anchor.receptions.iter().filter(|key| key.sha256 == capture.recording).collect();
            if keys.is_empty() || capture.set_aside.is_some() {
                continue;
            }
            let chain = chains.iter().find(|chain| chain.name == capture.chain);
            let clock_s = parts::clock_of(&capture, chain);
            let Some((start, stop)) = parts::span_of(&capture, clock_s) else { continue };
            for part in parts::parts_of(&capture, clock_s, &movements) {
                let Some(derivation) = record::get::<Derivation>(db, &part.id)? else { continue };
                let Some(derived) = self.derived(&derivation)? else { continue };
                let here =
                    |key: &&&ReceptionKey| part.range_s.is_none() || key.position == part.position;
                let rows: BTreeSet<usize> =
                    keys.iter().filter(here).filter_map(|key| row_of(&derived, key)).collect();
                if rows.is_empty() {
                    continue;
                }
                let (from, until) = part.range_s.map_or((start, stop), |(from, until)| {
                    (start.plus_seconds(from), start.plus_seconds(until))
                });
                let mut cells = Cells::new(until.seconds_since(from));
                if capture.is_log() {
                    log_events(&derived, &rows, clock_s, from, &mut cells);
                } else {
                    let folder = self.folder.derived(&derivation.folder);
                    let ids: Vec<&str> = rows
                        .iter()
                        .map(|&row| derived.analysis.emissions[row].id.as_str())
                        .collect();
                    bursts(&folder.join("bursts.csv"), &ids, &mut cells)?;
                }
                found.push(OnTimes { capture: part.id, from, until, on: cells.spans(from) });
            }
        }
        Ok(found)
    }
}

/// The row of a capture that a key names: the nearest within its reach.
fn row_of(derived: &Derived, key: &ReceptionKey) -> Option<usize> {
    let reach_hz = (0.25 * key.width_hz).max(SHIFT * key.centre_hz.abs()).max(1e-3);
    let off = |hz: f64| (hz - key.centre_hz).abs();
    let rows = derived.analysis.emissions.iter().enumerate();
    rows.map(|(row, e)| (off(e.emission.centre_hz), row))
        .filter(|(off, _)| *off <= reach_hz)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, row)| row)
}

fn log_events(derived: &Derived, rows: &BTreeSet<usize>, clock_s: f64, from: Utc, to: &mut Cells) {
    for (event, row) in &derived.events {
        if row.is_some_and(|row| rows.contains(&(row as usize))) {
            let start_s = event.start.middle().seconds_since(from) + clock_s;
            to.mark(start_s, start_s + event.duration_s.unwrap_or(0.0));
        }
    }
}

/// Marks the bursts of some rows; a recording without any has no such file.
fn bursts(file: &Path, ids: &[&str], to: &mut Cells) -> Result<(), SurveyError> {
    let disk = |e| SurveyError::disk(file, "read it", e);
    let reader = match std::fs::File::open(file) {
        Ok(open) => BufReader::new(open),
        Err(e) if e.kind() == ErrorKind::NotFound => return Ok(()),
        Err(e) => return Err(disk(e)),
    };
    for line in reader.lines().skip(1) {
        let line = line.map_err(disk)?;
        let mut fields = line.split(',');
        let (id, start, stop) = (fields.next(), fields.next(), fields.next());
        if id.is_some_and(|id| ids.contains(&id))
            && let (Some(Ok(start)), Some(Ok(stop))) = (start.map(str::parse), stop.map(str::parse))
        {
            to.mark(start, stop);
        }
    }
    Ok(())
}

/// A capture's time, cut into cells.
struct Cells {
    cell_s: f64,
    on: Vec<bool>,
}

impl Cells {
    fn new(duration_s: f64) -> Self {
        Cells { cell_s: (duration_s / CELLS as f64).max(1e-9), on: vec![false; CELLS] }
    }

    /// A burst, in seconds from the start; what lies outside the capture is left out.
    fn mark(&mut self, start_s: f64, stop_s: f64) {
        let end_s = self.cell_s * CELLS as f64;
        if !(start_s <= end_s && stop_s >= 0.0) {
            return;
        }
        let cell = |s: f64| ((s / self.cell_s).max(0.0) as usize).min(CELLS - 1);
        let (first, last) = (cell(start_s), cell(stop_s));
        self.on[first..=last.max(first)].fill(true);
    }

    fn spans(&self, from: Utc) -> Vec<(Utc, Utc)> {
        let at = |cell: usize| from.plus_seconds(cell as f64 * self.cell_s);
        let mut spans = Vec::new();
        let mut first = None;
        for (cell, on) in self.on.iter().chain(std::iter::once(&false)).enumerate() {
            match (on, first) {
                (true, None) => first = Some(cell),
                (false, Some(start)) => {
                    spans.push((at(start), at(cell)));
                    first = None;
                }
                _ => {}
            }
        }
        spans
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_short_burst_in_a_night_is_kept() {
        let from = Utc(0);
        let mut cells = Cells::new(36_000.0);
        cells.mark(18_000.0, 18_000.5);
        cells.mark(50_000.0, 50_001.0);
        let spans = cells.spans(from);
        assert_eq!(spans.len(), 1);
        assert!(spans[0].0 <= from.plus_seconds(18_000.0));
        assert!(spans[0].1 >= from.plus_seconds(18_000.5));
    }
}
