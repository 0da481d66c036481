//! How a capture listened at a place for an emission: for how long, and down to which level.

use crate::atom::Group;
use crate::input::{Capture, Input};
use detect::Listened;
use identify::Emission;
use units::{Band, Dbfs, Dbm, db_from_ratio};

/// Width that the limit of [`Listened`] is for, hertz: one resolution cell of the detector. A
/// wider emission spreads over many, so needs more power in all (our choice: the cell is not
/// handed up; a cell taken too narrow only makes 'not heard' say less).
const CELL_HZ: f64 = 1e3;

/// How a capture listened at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Look {
    pub(crate) looked_s: f64,
    pub(crate) limit_dbfs: Option<Dbfs>,
    pub(crate) limit_dbm: Option<Dbm>,
}

impl Look {
    /// The same for an emission that the capture does not show: none is seen under what else it
    /// shows in the band.
    pub(crate) fn beside(self, capture: &Capture, band: Band) -> Look {
        let gain_db = capture.chain.gain_db.unwrap_or(0.0);
        let dbfs = hidden_db(capture, band, |e| e.level_dbfs.map(|l| l.0 - gain_db));
        let dbm = hidden_db(capture, band, |e| e.level_dbm.map(|l| l.0));
        Look {
            looked_s: self.looked_s,
            limit_dbfs: self.limit_dbfs.map(|limit| Dbfs(limit.0.max(dbfs))),
            limit_dbm: self.limit_dbm.map(|limit| Dbm(limit.0.max(dbm))),
        }
    }
}

/// `None` where the capture did not listen at the band, or nobody knows whether it did.
pub(crate) fn look_at(
    capture: &Capture,
    position: Option<&str>,
    band: Band,
    noise: &Noise,
) -> Option<Look> {
    let there: Vec<&Listened> = capture.listened.iter().filter(|l| covers(l, band)).collect();
    if there.is_empty() {
        return None;
    }
    // On a walk the time is shared by the places as the stays are.
    let share = match (position, stay_s(capture, position)) {
        (Some(_), Some((here, all))) if all > 0.0 => here / all,
        _ => 1.0,
    };
    let looked_s = share * there.iter().map(|l| l.looked_s).sum::<f64>();
    if looked_s <= 0.0 {
        return None;
    }
    let spread_db = db_from_ratio((band.width_hz() / CELL_HZ).max(1.0));
    let lowest = |of: &dyn Fn(&Listened) -> Option<f64>| {
        let limits = there.iter().filter_map(|l| of(l));
        limits.min_by(f64::total_cmp)
    };
    // Corrected for gain as levels are.
    let gain_db = capture.chain.gain_db.unwrap_or(0.0);
    let limit_dbfs = lowest(&|l| l.limit_dbfs.map(|l| l.0 - gain_db))
        .map(|line| Dbfs(noise.limit_db(capture, line, spread_db)));
    let limit_dbm = lowest(&|l| l.limit_dbm.map(|l| l.0)).map(|line| Dbm(line + spread_db));
    Some(Look { looked_s, limit_dbfs, limit_dbm })
}

/// Level in a band, dB, under which what a capture shows there would hide another emission, or be
/// taken for it.
fn hidden_db(capture: &Capture, band: Band, level: impl Fn(&Emission) -> Option<f64>) -> f64 {
    let there = capture.rows.iter().filter_map(|row| {
        let its = Band::new(row.emission.low_hz, row.emission.high_hz);
        let shared_hz = its.overlap(&band)?.width_hz();
        // It lies over most of the band; beside a line within it the rest would be seen.
        let hides = shared_hz > 0.0 && shared_hz >= 0.5 * band.width_hz();
        let part_db = db_from_ratio((shared_hz / its.width_hz()).min(1.0));
        Some(level(&row.emission).filter(|_| hides)? + part_db)
    });
    there.fold(f64::NEG_INFINITY, f64::max)
}

/// Whether a band that was listened to shows an emission: it holds its middle or half of it.
fn covers(listened: &Listened, band: Band) -> bool {
    let look = Band::new(listened.low_hz, listened.high_hz);
    let shared = look.overlap(&band).map_or(0.0, |part| part.width_hz());
    look.contains(band.centre_hz()) || (shared > 0.0 && shared >= 0.5 * band.width_hz())
}

/// Seconds of a capture's visits at a place, and at all; `None` without visits.
pub(crate) fn stay_s(capture: &Capture, position: Option<&str>) -> Option<(f64, f64)> {
    if capture.visits.is_empty() {
        return None;
    }
    let length = |v: &crate::Visit| v.until.seconds_since(v.from).max(0.0);
    let here = capture.visits.iter().filter(|v| Some(v.position.as_str()) == position);
    Some((here.map(length).sum(), capture.visits.iter().map(length).sum()))
}

/// Noise in the emission's own band where it was heard, by chain: no limit lies far above it.
pub(crate) struct Noise {
    /// Chain, setting, noise corrected for gain.
    of: Vec<(String, Option<String>, f64)>,
}

/// What lies so far over the noise of its own band, dB, is found whatever its width.
const SURE_SNR_DB: f64 = 10.0;

impl Noise {
    pub(crate) fn of(input: &Input, group: &Group) -> Noise {
        let of = group.atoms.iter().filter_map(|atom| {
            let emission = &atom.row(input)?.emission;
            let noise = emission.level_dbfs?.0 - emission.snr_db?;
            let chain = atom.chain(input);
            let gain_db = chain.gain_db.unwrap_or(0.0);
            Some((chain.name.clone(), chain.setting.clone(), noise - gain_db))
        });
        Noise { of: of.collect() }
    }

    fn limit_db(&self, capture: &Capture, line_db: f64, spread_db: f64) -> f64 {
        let chain = &capture.chain;
        let same = self.of.iter().filter(|n| n.0 == chain.name && n.1 == chain.setting);
        let sure = same.map(|n| n.2 + SURE_SNR_DB).fold(f64::INFINITY, f64::min);
        (line_db + spread_db).min(sure).max(line_db)
    }
}
