//! A recording that is looked at around emissions: the band, the spectrum, the picture over time.

use super::{OverTime, Seen, Shown, Want};
use crate::plane::{CutAsk, Level, Plane};
use crate::{Progress, SurveyError};
use ledger::{LedgerRow, Reception};

/// The band that is shown is at least so many times as wide as the emission, and has so many cells
/// of the overview, where so much was recorded.
const AIR: f64 = 5.0;
const LEAST_CELLS: f64 = 60.0;
/// Points of a spectrum.
const MOST_POINTS: usize = 400;
/// Cells and rows of a picture over time.
const MOST_ACROSS: u64 = 300;
const MOST_ROWS: f64 = 96.0;
const LEAST_ROWS: usize = 8;
/// So large a part of the rows has something in it, where the levels allow: a receiver that steps
/// comes by now and then.
const FILLED: f64 = 0.95;

/// A recording that is looked at.
pub(super) struct Look<'a> {
    pub(super) plane: &'a Plane,
    pub(super) clock_s: f64,
    /// To be taken from its levels.
    pub(super) gain_db: f64,
    pub(super) progress: &'a dyn Progress,
}

impl Look<'_> {
    /// A row where it was loudest; `None` if nothing was recorded there.
    pub(super) fn shown(&self, want: &Want<'_>) -> Result<Option<Shown>, SurveyError> {
        let Some((mut low_hz, mut high_hz)) = self.band(want.row) else { return Ok(None) };
        let over_time = self.over_time((low_hz, high_hz))?;
        if let Some(picture) = &over_time {
            // Whole cells of the picture, under which the spectrum then lies.
            low_hz = picture.low_hz;
            high_hz = picture.low_hz + picture.cells as f64 * picture.cell_hz;
        }
        let unit = self.plane.scale().unit;
        let loudest = self.seen(want.loudest, (low_hz, high_hz))?;
        let shown = |loudest| Shown { unit, low_hz, high_hz, loudest, reference: None, over_time };
        Ok(loudest.map(shown))
    }

    /// The emission with air on both sides, within the band that it was received in.
    fn band(&self, row: &LedgerRow) -> Option<(f64, f64)> {
        let emission = &row.emission;
        let holds = |low_hz: f64, high_hz: f64| {
            low_hz <= emission.centre_hz && emission.centre_hz <= high_hz
        };
        let own = self.plane.stretches().iter().filter(|s| holds(s.low_hz, s.high_hz));
        let (low_hz, high_hz) = own.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), s| {
            (low.min(s.low_hz), high.max(s.high_hz))
        });
        let cell_hz = self.plane.levels().iter().find(|l| l.frequency == 0).map(|l| l.cell_hz);
        let least_hz = LEAST_CELLS * cell_hz.unwrap_or(0.0);
        let wide_hz = (AIR * (emission.high_hz - emission.low_hz)).max(least_hz);
        if !(low_hz < high_hz && wide_hz > 0.0) {
            return None;
        }
        let wide_hz = wide_hz.min(high_hz - low_hz);
        let from_hz = (emission.centre_hz - wide_hz / 2.0).clamp(low_hz, high_hz - wide_hz);
        Some((from_hz, from_hz + wide_hz))
    }

    /// The spectrum of the whole capture in a band.
    pub(super) fn seen(
        &self,
        reception: &Reception,
        (low_hz, high_hz): (f64, f64),
    ) -> Result<Option<Seen>, SurveyError> {
        let length_s = self.plane.duration_s();
        let ask = CutAsk {
            from_s: 0.0,
            until_s: length_s,
            low_hz,
            high_hz,
            points: MOST_POINTS,
            percentile: 50.0,
            at_s: None,
        };
        let Some(cut) = self.plane.cut(&ask, &|| !self.progress.cancelled())? else {
            return Ok(None);
        };
        let scale = self.plane.scale();
        let levels = |codes: &[u8]| -> Vec<Option<f64>> {
            codes.iter().map(|code| scale.level(*code).map(|level| level - self.gain_db)).collect()
        };
        Ok(Some(Seen {
            capture: reception.capture.clone(),
            position: reception.position.clone(),
            role: reception.role,
            start: self.plane.start().map(|at| at.plus_seconds(self.clock_s)),
            length_s,
            low_hz: cut.low_hz,
            cell_hz: cut.cell_hz,
            noise_bandwidth_hz: cut.noise_bandwidth_hz,
            largest: levels(&cut.max),
            mean: levels(&cut.mean),
        }))
    }

    /// The whole recording in a band: as fine in frequency as a picture is wide, and in time as
    /// leaves few rows in which the receiver was elsewhere.
    fn over_time(&self, (low_hz, high_hz): (f64, f64)) -> Result<Option<OverTime>, SurveyError> {
        let mut last = None;
        for level in self.plane.levels() {
            let cell = |hz: f64| (hz - level.low_hz) / level.cell_hz;
            let left = (cell(low_hz) + 1e-6).floor().max(0.0) as u64;
            let (first_hz, end_hz) = self.plane.span_hz();
            let all = ((end_hz - first_hz) / level.cell_hz).round().max(1.0);
            let right = (cell(high_hz) - 1e-6).ceil().min(all).max(left as f64 + 1.0) as u64;
            if right - left > MOST_ACROSS {
                continue;
            }
            for &time in &level.times {
                let row_s = self.plane.row_s() * 2f64.powi(time);
                let rows = (self.plane.duration_s() / row_s - 1e-6).ceil().max(1.0);
                if rows > MOST_ROWS {
                    continue;
                }
                let at = Level { frequency: level.frequency, time };
                let Some(codes) = self.codes(at, (left, right), rows as usize)? else { continue };
                let picture = OverTime {
                    low_hz: level.low_hz + left as f64 * level.cell_hz,
                    cell_hz: level.cell_hz,
                    row_s,
                    cells: (right - left) as usize,
                    codes,
                    level_of_1: self.plane.scale().level_of_1 - self.gain_db,
                    step_db: self.plane.scale().step_db,
                };
                if filled(&picture) {
                    return Ok(Some(picture));
                }
                last = Some(picture);
            }
            if last.is_some() {
                break;
            }
        }
        Ok(last.map(|mut picture| {
            while !filled(&picture) && halve(&mut picture) {}
            picture
        }))
    }

    /// The largest codes of the first rows of a level, from one cell up to another.
    fn codes(
        &self,
        level: Level,
        (left, right): (u64, u64),
        rows: usize,
    ) -> Result<Option<Vec<u8>>, SurveyError> {
        let going = || !self.progress.cancelled();
        let across = (left, (right - left) as usize);
        Ok(self.plane.picture(level, across, rows, &going)?.map(|picture| picture.max))
    }
}

/// Whether nearly all rows have something in them.
fn filled(picture: &OverTime) -> bool {
    let rows = picture.codes.chunks(picture.cells);
    let all = rows.len() as f64;
    rows.filter(|row| row.iter().any(|code| *code > 0)).count() as f64 >= FILLED * all
}

/// Makes one row of two, as long as enough are left; false where they are not.
fn halve(picture: &mut OverTime) -> bool {
    let cells = picture.cells;
    if picture.codes.len() / cells < 2 * LEAST_ROWS - 1 {
        return false;
    }
    let pairs = picture.codes.chunks(2 * cells).flat_map(|pair| {
        let (first, second) = pair.split_at(cells);
        let second = second.iter().copied().chain(std::iter::repeat(0));
        first.iter().zip(second).map(|(a, b)| (*a).max(b))
    });
    picture.codes = pairs.collect();
    picture.row_s *= 2.0;
    true
}
