//! The captures that heard rows of the ledger, and the bursts that were derived from each.

use crate::derive::Derived;
use crate::survey::Survey;
use crate::things::{Capture, Chain, Derivation};
use crate::{SurveyError, parts, record};
use ledger::{Anchor, ReceptionKey};
use std::collections::{BTreeMap, BTreeSet};
use std::io::{BufRead, BufReader, ErrorKind};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use units::{Strength, Utc};

/// Part of a frequency by which a bare carrier's centre may lie off its key.
const SHIFT: f64 = 5e-6;

/// A burst of a recording, or an event of a log.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Burst {
    /// Seconds from the start of the capture.
    pub(super) start_s: f64,
    pub(super) stop_s: f64,
    pub(super) centre_hz: Option<f64>,
    pub(super) bandwidth_hz: Option<f64>,
    pub(super) snr_db: Option<f64>,
    pub(super) strength: Option<Strength>,
}

/// A capture, or a part of one, that heard some of the rows.
pub(super) struct Heard<'a> {
    /// Its id in the ledger.
    pub(super) part: String,
    pub(super) from: Utc,
    pub(super) until: Utc,
    derived: Arc<Derived>,
    bursts: PathBuf,
    is_log: bool,
    clock_s: f64,
    /// What was found in it, by the row that it is of.
    rows: Vec<(&'a String, BTreeSet<usize>)>,
}

impl Survey {
    /// Sees each capture that heard one of the rows and knows its time.
    pub(super) fn each_heard(
        &self,
        ids: &[String],
        see: &mut dyn FnMut(&Heard<'_>) -> Result<(), SurveyError>,
    ) -> Result<(), SurveyError> {
        let all = self.read(|db| {
            let mut anchors: Vec<(&String, Anchor)> = Vec::new();
            for id in ids {
                anchors.extend(record::get::<Anchor>(db, id)?.map(|anchor| (id, anchor)));
            }
            let chains = record::all::<Chain>(db)?;
            let movements = parts::movements(db)?;
            let mut all = Vec::new();
            for capture in record::all::<Capture>(db)? {
                let of_it = |key: &&ReceptionKey| key.sha256 == capture.recording;
                let wanted = anchors.iter().any(|(_, a)| a.receptions.iter().any(|k| of_it(&k)));
                if !wanted || capture.set_aside.is_some() {
                    continue;
                }
                let chain = chains.iter().find(|chain| chain.name == capture.chain);
                let clock_s = parts::clock_of(&capture, chain);
                let Some((start, stop)) = parts::span_of(&capture, clock_s) else { continue };
                for part in parts::parts_of(&capture, clock_s, &movements) {
                    let Some(derivation) = record::get::<Derivation>(db, &part.id)? else {
                        continue;
                    };
                    let Some(derived) = self.derived(&derivation)? else { continue };
                    let here = |key: &&ReceptionKey| {
                        part.range_s.is_none() || key.position == part.position
                    };
                    let rows = anchors.iter().map(|(id, anchor)| {
                        let keys = anchor.receptions.iter().filter(of_it).filter(here);
                        (*id, keys.filter_map(|key| row_of(&derived, key)).collect())
                    });
                    let rows: Vec<(&String, BTreeSet<usize>)> =
                        rows.filter(|(_, rows): &(_, BTreeSet<usize>)| !rows.is_empty()).collect();
                    if rows.is_empty() {
                        continue;
                    }
                    let (from, until) = part.range_s.map_or((start, stop), |(from, until)| {
                        (start.plus_seconds(from), start.plus_seconds(until))
                    });
                    all.push(Heard {
                        part: part.id,
                        from,
                        until,
                        bursts: self.folder.derived(&derivation.folder).join("bursts.csv"),
                        derived,
                        is_log: capture.is_log(),
                        clock_s,
                        rows,
                    });
                }
            }
            Ok(all)
        })?;
        // Nobody waits for the database while files are read.
        all.iter().try_for_each(see)
    }
}

impl Heard<'_> {
    /// The rows that it heard.
    pub(super) fn ids(&self) -> impl Iterator<Item = &String> {
        self.rows.iter().map(|(id, _)| *id)
    }

    /// Every burst of the rows.
    pub(super) fn each_burst(
        &self,
        see: &mut dyn FnMut(&String, &Burst),
    ) -> Result<(), SurveyError> {
        if !self.is_log {
            return self.recorded(see);
        }
        for (event, row) in &self.derived.events {
            let Some(row) = row else { continue };
            let start_s = event.start.middle().seconds_since(self.from) + self.clock_s;
            let burst = Burst {
                start_s,
                stop_s: start_s + event.duration_s.unwrap_or(0.0),
                centre_hz: event.band.map(|band| (band.low_hz + band.high_hz) / 2.0),
                bandwidth_hz: None,
                snr_db: None,
                strength: event.strength,
            };
            let of = self.rows.iter().filter(|(_, rows)| rows.contains(&(*row as usize)));
            of.for_each(|(id, _)| see(id, &burst));
        }
        Ok(())
    }

    /// The bursts of samples or traces; a recording without any has no such file.
    fn recorded(&self, see: &mut dyn FnMut(&String, &Burst)) -> Result<(), SurveyError> {
        let mut of: BTreeMap<&str, Vec<&String>> = BTreeMap::new();
        for (id, rows) in &self.rows {
            for &row in rows {
                of.entry(&self.derived.analysis.emissions[row].id).or_default().push(id);
            }
        }
        each_line(&self.bursts, &mut |line| {
            let mut fields = line.split(',');
            let Some(ids) = fields.next().and_then(|id| of.get(id)) else { return };
            let mut number = || fields.next().and_then(|field| field.parse::<f64>().ok());
            let (Some(start_s), Some(stop_s)) = (number(), number()) else { return };
            let burst = Burst {
                start_s,
                stop_s,
                centre_hz: number(),
                bandwidth_hz: number(),
                snr_db: number(),
                strength: None,
            };
            ids.iter().for_each(|id| see(id, &burst));
        })
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

fn each_line(file: &Path, see: &mut dyn FnMut(&str)) -> Result<(), SurveyError> {
    let disk = |e| SurveyError::disk(file, "read it", e);
    let mut reader = match std::fs::File::open(file) {
        Ok(open) => BufReader::with_capacity(1 << 16, open),
        Err(e) if e.kind() == ErrorKind::NotFound => return Ok(()),
        Err(e) => return Err(disk(e)),
    };
    let mut line = String::new();
    let mut header = true;
    while reader.read_line(&mut line).map_err(disk)? > 0 {
        if !std::mem::take(&mut header) {
            see(line.trim_end());
        }
        line.clear();
    }
    Ok(())
}
