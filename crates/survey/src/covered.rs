//! What was listened to: for each place and band, how long, in which condition, the longest stretch
//! without a gap, and down to which level.

use crate::stays::Stay;
use crate::things::Capture;
use ledger::{CaptureInfo, CaptureKind, Ledger, Listened, Role};
use serde::Serialize;
use units::Zone;

/// A measurement that looked at a band for this part of its time looked without a gap; less is
/// looking in turns (common practice, no source).
const UNBROKEN: f64 = 0.95;
/// Bands whose edges agree to this part of their width are one row of the table.
const SAME_EDGE: f64 = 0.01;
/// Neighbouring bands whose times agree to this part are one.
const SAME_TIME: f64 = 0.1;

/// Time listened in one condition of the room.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct InCondition {
    /// Its name; null where nobody states it.
    pub name: Option<String>,
    /// Time, seconds.
    pub listened_s: f64,
}

/// One place and band.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Covered {
    /// Room, or position where it has none.
    pub place: String,
    /// Zone of the position.
    pub zone: Zone,
    /// Whether that is inside.
    pub inside: bool,
    /// The band, lower and upper edge; null where the detector's bands are not stated.
    pub band_hz: Option<(f64, f64)>,
    /// Time listened, summed over measurements, seconds.
    pub listened_s: f64,
    /// Longest stretch without a gap within one measurement, seconds.
    pub longest_s: f64,
    /// Whether every measurement looked at the band in turns with others, or is a log, which shows
    /// what was heard and not that nothing was missed; `longest_s` is then only an upper bound.
    pub in_turns: bool,
    /// Time by condition, in the order met.
    pub conditions: Vec<InCondition>,
    /// Weakest limit met: the level above which a steady emission was found.
    pub limit_dbm: Option<f64>,
    /// The same on a chain that is not calibrated.
    pub limit_dbfs: Option<f64>,
}

/// What was listened to, places inside first.
pub fn covered(ledger: &Ledger, captures: &[Capture], stays: &[Stay]) -> Vec<Covered> {
    let mut all: Vec<Covered> = Vec::new();
    let counts = |c: &&CaptureInfo| c.set_aside.is_none() && c.role != Role::NoAntenna;
    for capture in ledger.captures.iter().filter(counts) {
        let bands = joined(&capture.listened);
        let gain_db = gain(captures, &capture.id);
        let with_gaps = has_gaps(capture.kind);
        for (position, time_s) in stays_of(stays, capture) {
            let position = ledger.positions.iter().find(|p| Some(&p.id) == position);
            let Some(position) = position else { continue };
            let of_all = share(stays, capture, time_s);
            for band in bands.iter().map(Some).chain(bands.is_empty().then_some(None)) {
                let looked_s = band.map_or(time_s, |band| band.looked_s * of_all);
                let whole = band.is_some() && looked_s >= UNBROKEN * time_s;
                add(
                    &mut all,
                    Covered {
                        place: position.room.clone().unwrap_or_else(|| position.name.clone()),
                        zone: position.zone,
                        inside: matches!(position.zone, Zone::Inside | Zone::Moving),
                        band_hz: band.map(|band| (band.low_hz, band.high_hz)),
                        listened_s: looked_s,
                        longest_s: if whole { time_s } else { looked_s },
                        in_turns: with_gaps || !whole,
                        conditions: vec![InCondition {
                            name: capture.condition.clone(),
                            listened_s: looked_s,
                        }],
                        limit_dbm: band.and_then(|band| band.limit_dbm).map(|level| level.0),
                        limit_dbfs: band
                            .filter(|band| band.limit_dbm.is_none())
                            .and_then(|band| band.limit_dbfs)
                            .map(|level| level.0 - gain_db),
                    },
                );
            }
        }
    }
    all.sort_by(|a, b| {
        let low = |c: &Covered| c.band_hz.map_or(0.0, |band| band.0);
        let place = (!a.inside, a.zone, &a.place).cmp(&(!b.inside, b.zone, &b.place));
        place.then(low(a).total_cmp(&low(b)))
    });
    all
}

/// Whether what such a capture listened to had gaps, however long it lasted: swept spectra look at
/// each frequency for a part of every sweep.
fn has_gaps(kind: CaptureKind) -> bool {
    matches!(kind, CaptureKind::Traces | CaptureKind::EventLog | CaptureKind::Readings)
}

/// Gain of a capture, or of the one that a part is of: levels are told without it, and so are limits.
fn gain(captures: &[Capture], id: &str) -> f64 {
    let whole = id.split('.').next().unwrap_or(id);
    let capture = captures.iter().find(|capture| capture.id == whole);
    capture.and_then(|capture| capture.gain_db).unwrap_or(0.0)
}

/// Positions of a capture with the time spent at each, seconds.
fn stays_of<'a>(stays: &'a [Stay], capture: &'a CaptureInfo) -> Vec<(Option<&'a String>, f64)> {
    let stays = stays.iter().filter(|stay| stay.capture == capture.id);
    let stays: Vec<_> = stays
        .map(|stay| (stay.position.as_ref(), stay.until.seconds_since(stay.from).max(0.0)))
        .collect();
    if stays.is_empty() {
        let longest = capture.listened.iter().map(|band| band.looked_s).fold(0.0, f64::max);
        return vec![(capture.position.as_ref(), longest)];
    }
    stays
}

/// Part of a capture's time that one of its stays is.
fn share(stays: &[Stay], capture: &CaptureInfo, time_s: f64) -> f64 {
    let total: f64 = stays_of(stays, capture).iter().map(|(_, s)| s).sum();
    if total > 0.0 { time_s / total } else { 1.0 }
}

/// Bands that touch and were listened to alike, as one, with the weakest limit.
fn joined(listened: &[Listened]) -> Vec<Listened> {
    let mut sorted = listened.to_vec();
    sorted.sort_by(|a, b| a.low_hz.total_cmp(&b.low_hz));
    let mut bands: Vec<Listened> = Vec::new();
    for next in sorted {
        let alike = |last: &Listened| {
            let gap_hz = next.low_hz - last.high_hz;
            let off_s = (next.looked_s - last.looked_s).abs();
            gap_hz <= SAME_EDGE * (next.high_hz - next.low_hz)
                && off_s <= SAME_TIME * last.looked_s.max(next.looked_s)
        };
        match bands.last_mut().filter(|last| alike(last)) {
            Some(last) => {
                last.high_hz = last.high_hz.max(next.high_hz);
                last.looked_s = last.looked_s.min(next.looked_s);
                last.limit_dbm = weakest(last.limit_dbm, next.limit_dbm, |l| l.0);
                last.limit_dbfs = weakest(last.limit_dbfs, next.limit_dbfs, |l| l.0);
            }
            None => bands.push(next),
        }
    }
    bands
}

/// The higher of two limits.
fn weakest<T: Copy>(a: Option<T>, b: Option<T>, db: impl Fn(T) -> f64) -> Option<T> {
    match (a, b) {
        (Some(x), Some(y)) => Some(if db(x) >= db(y) { x } else { y }),
        (one, other) => one.or(other),
    }
}

fn add(all: &mut Vec<Covered>, new: Covered) {
    let same_band = |a: Option<(f64, f64)>, b: Option<(f64, f64)>| match (a, b) {
        (None, None) => true,
        (Some(a), Some(b)) => {
            let slack_hz = SAME_EDGE * (a.1 - a.0).max(b.1 - b.0);
            (a.0 - b.0).abs() <= slack_hz && (a.1 - b.1).abs() <= slack_hz
        }
        _ => false,
    };
    let same = |old: &&mut Covered| {
        old.place == new.place && old.zone == new.zone && same_band(old.band_hz, new.band_hz)
    };
    let Some(old) = all.iter_mut().find(same) else {
        all.push(new);
        return;
    };
    old.listened_s += new.listened_s;
    // What was listened to without a gap counts before what only might have been.
    if old.in_turns == new.in_turns {
        old.longest_s = old.longest_s.max(new.longest_s);
    } else if old.in_turns {
        (old.longest_s, old.in_turns) = (new.longest_s, false);
    }
    old.limit_dbm = weakest(old.limit_dbm, new.limit_dbm, |db| db);
    old.limit_dbfs = weakest(old.limit_dbfs, new.limit_dbfs, |db| db);
    for new in new.conditions {
        match old.conditions.iter_mut().find(|other| other.name == new.name) {
            Some(other) => other.listened_s += new.listened_s,
            None => old.conditions.push(new),
        }
    }
}
