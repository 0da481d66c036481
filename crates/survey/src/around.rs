//! The spectrum around rows of the ledger: as the capture received it where it was loudest, and as
//! the best reference did, so that a document can show both without looking at evidence itself.

mod look;

use crate::survey::Survey;
use crate::things::Capture;
use crate::{Progress, SurveyError};
use ledger::{CaptureKind, LedgerRow, Reception, Role};
use look::Look;
use std::collections::BTreeMap;
use units::Utc;

/// What can be shown of the spectrum around a row.
#[derive(Debug, Clone, PartialEq)]
pub enum Around {
    /// What was received there.
    Shown(Box<Shown>),
    /// The recording of this capture cannot be read.
    Unreadable(String),
}

/// The spectrum around a row. Levels are per bin, corrected for gain as those of the ledger are.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// `dBm` or `dBFS`.
    pub unit: &'static str,
    /// Lower edge of the band that is shown, hertz.
    pub low_hz: f64,
    /// Its upper edge.
    pub high_hz: f64,
    /// Where it was loudest: in a room, if one heard it.
    pub loudest: Seen,
    /// The reference of the same chain, setting and unit that received most of it, or could have
    /// received least; none where there is no such capture.
    pub reference: Option<Seen>,
    /// The loudest over time; none where the recording gives no picture of its whole length.
    pub over_time: Option<OverTime>,
}

/// The spectrum of a whole capture: its largest and its mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen {
    /// Id of the capture in the ledger.
    pub capture: String,
    /// Id of the position.
    pub position: Option<String>,
    /// Role of the capture.
    pub role: Role,
    /// Its start, clock corrected, where stated.
    pub start: Option<Utc>,
    /// Its length, seconds.
    pub length_s: f64,
    /// Lower edge of the first cell, hertz.
    pub low_hz: f64,
    /// Width of a cell.
    pub cell_hz: f64,
    /// Noise bandwidth of the spectra under it; none for swept spectra.
    pub noise_bandwidth_hz: Option<f64>,
    /// Largest level in each cell; none where nothing was received.
    pub largest: Vec<Option<f64>>,
    /// Mean power in each cell, as a level.
    pub mean: Vec<Option<f64>>,
}

/// Largest levels by time and frequency: rows from the earliest on, each from the lowest cell on.
#[derive(Debug, Clone, PartialEq)]
pub struct OverTime {
    /// Lower edge of the first cell, hertz.
    pub low_hz: f64,
    /// Width of a cell.
    pub cell_hz: f64,
    /// Length of a row, seconds.
    pub row_s: f64,
    /// Cells of a row.
    pub cells: usize,
    /// Codes: c from 1 on is `level_of_1 + (c − 1)·step_db`, 0 is nothing.
    pub codes: Vec<u8>,
    /// Level of code 1.
    pub level_of_1: f64,
    /// From one code to the next, dB.
    pub step_db: f64,
}

/// What is wanted of a row.
struct Want<'a> {
    row: &'a LedgerRow,
    loudest: &'a Reception,
    reference: Option<&'a Reception>,
}

impl Survey {
    /// The spectrum around rows of the ledger, by their ids; a row that no samples and no swept
    /// spectra received is not in it. Each recording is opened once for all rows that it shows.
    ///
    /// # Errors
    /// If the record cannot be read, or `progress` says that it is cancelled. A recording that
    /// cannot be read is told in the answer.
    pub fn around(
        &self,
        rows: &[&LedgerRow],
        progress: &dyn Progress,
    ) -> Result<BTreeMap<String, Around>, SurveyError> {
        let captures = self.captures()?;
        let wants: Vec<Want<'_>> = rows.iter().filter_map(|row| Want::of(row, &captures)).collect();
        let mut found = BTreeMap::new();
        for (capture, wants) in grouped(&wants, |want| Some(want.loudest)) {
            let told = self.look(capture, &captures, progress, &mut |look| {
                wants.iter().map(|want| look.shown(want)).collect::<Result<Vec<_>, _>>()
            })?;
            match told {
                None => found.extend(
                    wants
                        .iter()
                        .map(|want| (want.row.id.clone(), Around::Unreadable(capture.to_owned()))),
                ),
                Some(told) => {
                    let told = wants.iter().zip(told);
                    found.extend(told.filter_map(|(want, shown)| {
                        Some((want.row.id.clone(), Around::Shown(Box::new(shown?))))
                    }));
                }
            }
        }
        for (capture, wants) in grouped(&wants, |want| want.reference) {
            let mut under = |look: &Look<'_>| {
                for want in &wants {
                    let (Some(reference), Some(Around::Shown(shown))) =
                        (want.reference, found.get_mut(&want.row.id))
                    else {
                        continue;
                    };
                    if look.plane.scale().unit == shown.unit {
                        shown.reference = look.seen(reference, (shown.low_hz, shown.high_hz))?;
                    }
                }
                Ok(())
            };
            let told = self.look(capture, &captures, progress, &mut under)?;
            // Without it the picture would say that there is none.
            for want in wants.iter().filter(|_| told.is_none()) {
                if let Some(shown @ Around::Shown(_)) = found.get_mut(&want.row.id) {
                    *shown = Around::Unreadable(capture.to_owned());
                }
            }
        }
        Ok(found)
    }

    /// Opens a capture for as long as something is asked of it; `None` if it cannot be read.
    fn look<T>(
        &self,
        id: &str,
        captures: &[Capture],
        progress: &dyn Progress,
        see: &mut dyn FnMut(&Look<'_>) -> Result<T, SurveyError>,
    ) -> Result<Option<T>, SurveyError> {
        let seen = self.sight(id).and_then(|sight| {
            let plane = self.plane(&sight)?;
            // Levels in dBm are corrected already, by the calibration that they are made with.
            let gain_db = match plane.scale().unit {
                "dBFS" => whole_of(captures, id).and_then(|capture| capture.gain_db).unwrap_or(0.0),
                _ => 0.0,
            };
            see(&Look { plane: &plane, clock_s: sight.clock_s(), gain_db, progress })
        });
        match seen {
            Ok(seen) => Ok(Some(seen)),
            Err(error @ (SurveyError::Cancelled | SurveyError::Database { .. })) => Err(error),
            Err(_) => Ok(None),
        }
    }
}

/// What is wanted of each capture, in the order of their ids.
fn grouped<'a, 'b>(
    wants: &'a [Want<'b>],
    of: impl Fn(&Want<'b>) -> Option<&'b Reception>,
) -> BTreeMap<&'b str, Vec<&'a Want<'b>>> {
    let mut groups: BTreeMap<&str, Vec<&Want<'_>>> = BTreeMap::new();
    for want in wants {
        if let Some(reception) = of(want) {
            groups.entry(&reception.capture).or_default().push(want);
        }
    }
    groups
}

/// The capture of which an id names a part, or the whole.
fn whole_of<'a>(captures: &'a [Capture], id: &str) -> Option<&'a Capture> {
    let whole = id.split('.').next().unwrap_or(id);
    captures.iter().find(|capture| capture.id == whole)
}

impl<'a> Want<'a> {
    fn of(row: &'a LedgerRow, captures: &[Capture]) -> Option<Want<'a>> {
        let spectral = |r: &&Reception| {
            whole_of(captures, &r.capture)
                .is_some_and(|c| matches!(c.kind, CaptureKind::Iq | CaptureKind::Traces))
        };
        let receptions: Vec<&Reception> = row.receptions.iter().filter(spectral).collect();
        let heard_in = |roles: &[Role]| -> Option<&'a Reception> {
            let of = receptions.iter().filter(|r| r.heard && roles.contains(&r.role));
            let of: Vec<Reception> = of.map(|r| (*r).clone()).collect();
            let loudest = ledger::loudest(&of)?;
            receptions.iter().copied().find(|r| *r == loudest)
        };
        let loudest = heard_in(&[Role::Room, Role::Walk])
            .or_else(|| heard_in(&[Role::Reference, Role::Check, Role::NoAntenna]))?;
        let like = |id: &str| {
            let capture = whole_of(captures, id)?;
            Some((&capture.chain, &capture.setting, capture.kind))
        };
        let alike: Vec<Reception> = receptions
            .iter()
            .filter(|r| r.role == Role::Reference && r.capture != loudest.capture)
            .filter(|r| like(&r.capture) == like(&loudest.capture))
            .map(|r| (*r).clone())
            .collect();
        let limit = |r: &Reception| r.limit_dbm.map(|l| l.0).or(r.limit_dbfs.map(|l| l.0));
        let deepest = || {
            let deepest = alike.iter().filter_map(|r| Some((limit(r)?, r)));
            deepest.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, r)| r)
        };
        let best = ledger::loudest(&alike).or_else(deepest);
        let reference = best.and_then(|best| receptions.iter().copied().find(|r| *r == best));
        Some(Want { row, loudest, reference })
    }
}
