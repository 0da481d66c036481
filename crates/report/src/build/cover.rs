//! Coverage as the survey knows it now: for each place and band, how long was listened, in which
//! condition, the longest stretch without a gap, and down to which level.

use super::limits;
use super::view::View;
use crate::facts::Facts;
use crate::model::{Block, ColumnKind, Nature, Section, Table, column, fact};
use crate::words;
use ledger::{CaptureInfo, Listened, Role};
use units::Zone;

/// A measurement that looked at a band for this part of its time looked without a gap; less is
/// looking in turns (common practice, no source).
const UNBROKEN: f64 = 0.95;
/// Bands whose edges agree to this part of their width are one row of the table.
const SAME_EDGE: f64 = 0.01;
/// Neighbouring bands whose times agree to this part are one.
const SAME_TIME: f64 = 0.1;

/// One place and band.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Covered {
    /// Room, or position where it has none.
    pub(super) place: String,
    /// Zone of the position.
    pub(super) zone: Zone,
    /// Whether that is inside.
    pub(super) inside: bool,
    /// The band; `None` where the detector's bands are not stated.
    pub(super) band_hz: Option<(f64, f64)>,
    /// Time listened, summed over measurements, seconds.
    pub(super) listened_s: f64,
    /// Longest stretch without a gap within one measurement, seconds.
    pub(super) longest_s: f64,
    /// Whether every measurement looked at the band in turns with others, so that
    /// `longest_s` is only an upper bound.
    pub(super) in_turns: bool,
    /// Time by condition, seconds, in the order met.
    pub(super) conditions: Vec<(String, f64)>,
    /// Weakest limits met: the level above which a steady emission was found, by unit.
    pub(super) limit_dbm: Option<f64>,
    /// The same on a chain that is not calibrated.
    pub(super) limit_dbfs: Option<f64>,
}

impl Covered {
    fn has_limit(&self) -> bool {
        self.limit_dbm.is_some() || self.limit_dbfs.is_some()
    }
}

/// What was listened to, places inside first.
pub(super) fn covered(facts: &Facts) -> Vec<Covered> {
    let mut all: Vec<Covered> = Vec::new();
    let counts = |c: &&CaptureInfo| c.set_aside.is_none() && c.role != Role::NoAntenna;
    for capture in facts.ledger.captures.iter().filter(counts) {
        let bands = joined(&capture.listened);
        let gain_db = gain(facts, &capture.id);
        for (position, time_s) in stays(facts, capture) {
            let position = facts.record.positions.iter().find(|p| Some(&p.id) == position);
            let Some(position) = position else { continue };
            let of_all = share(facts, capture, time_s);
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
                        in_turns: !whole,
                        conditions: vec![(
                            capture.condition.clone().unwrap_or_else(|| "not stated".into()),
                            looked_s,
                        )],
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

/// Gain of a capture, or of the one that a part is of: levels are told without it, and so are limits.
fn gain(facts: &Facts, id: &str) -> f64 {
    let whole = id.split('.').next().unwrap_or(id);
    let capture = facts.captures.iter().find(|capture| capture.id == whole);
    capture.and_then(|capture| capture.gain_db).unwrap_or(0.0)
}

/// Positions of a capture with the time spent at each, seconds.
fn stays<'a>(facts: &'a Facts, capture: &'a CaptureInfo) -> Vec<(Option<&'a String>, f64)> {
    let stays = facts.stays.iter().filter(|stay| stay.capture == capture.id);
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
fn share(facts: &Facts, capture: &CaptureInfo, time_s: f64) -> f64 {
    let total: f64 = stays(facts, capture).iter().map(|(_, s)| s).sum();
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
    for (name, s) in new.conditions {
        match old.conditions.iter_mut().find(|(other, _)| *other == name) {
            Some((_, sum)) => *sum += s,
            None => old.conditions.push((name, s)),
        }
    }
}

pub(super) fn section(view: &View<'_>) -> Section {
    let mut blocks = Vec::new();
    if view.covered.is_empty() {
        blocks.push(fact(
            "Nothing was listened to that counts, at no place and in no band. This survey says \
             nothing about whether a transmitter is there.",
        ));
    } else {
        blocks.push(Block::Heading("What was listened to".into()));
        blocks.push(Block::Table(table(view)));
    }
    blocks.push(Block::Heading("What this survey cannot say".into()));
    blocks.push(Block::List(Nature::Fact, "", limits::all(view)));
    Section {
        id: "coverage",
        title: "Coverage: what this survey could have received".into(),
        blocks,
        ..Section::default()
    }
}

/// The bands of a place that were listened to alike are one row of the table.
fn alike(a: &Covered, b: &Covered) -> bool {
    let close = |x: f64, y: f64| (x - y).abs() <= SAME_TIME * x.max(y);
    let conditions =
        |c: &Covered| c.conditions.iter().map(|(name, _)| name.clone()).collect::<Vec<_>>();
    (&a.place, a.zone, a.in_turns) == (&b.place, b.zone, b.in_turns)
        && a.band_hz.is_some() == b.band_hz.is_some()
        && a.has_limit() == b.has_limit()
        && close(a.listened_s, b.listened_s)
        && close(a.longest_s, b.longest_s)
        && conditions(a) == conditions(b)
}

fn table(view: &View<'_>) -> Table {
    let mut groups: Vec<Vec<&Covered>> = Vec::new();
    for covered in &view.covered {
        match groups.iter_mut().find(|group| alike(group[0], covered)) {
            Some(group) => group.push(covered),
            None => groups.push(vec![covered]),
        }
    }
    let rows = groups.iter().filter_map(|group| {
        let first = group.first()?;
        let place = if first.inside {
            first.place.clone()
        } else {
            format!("{} ({})", first.place, words::zone(first.zone))
        };
        let bands = group.iter().filter_map(|covered| covered.band_hz);
        let bands: Vec<String> = bands.map(|(low, high)| words::band(low, high)).collect();
        Some(vec![
            place,
            if bands.is_empty() { "bands not stated".into() } else { bands.join(", ") },
            words::length(first.listened_s),
            longest(first),
            conditions(first),
            limits_of(group),
        ])
    });
    Table {
        caption: "Bands that were listened to alike share a row. Time is summed over measurements; the \
                  longest stretch is that of one measurement. The level is that of a steady emission \
                  which would have been found nine times in ten; where it differs between the bands, \
                  from the best to the worst of them."
            .into(),
        nature: Nature::Calculation,
        rows: rows.collect(),
        columns: vec![
            column("Room or position", ColumnKind::Text),
            column("Bands", ColumnKind::Wide),
            column("Listened", ColumnKind::Number),
            column("Longest unbroken", ColumnKind::Text),
            column("Condition", ColumnKind::Text),
            column("Down to", ColumnKind::Text),
        ],
    }
}

/// The longest stretch in words.
pub(super) fn longest(covered: &Covered) -> String {
    let length = words::length(covered.longest_s);
    match (covered.band_hz, covered.in_turns) {
        (None, _) => "not known".into(),
        (_, true) => format!("in turns, under {length}"),
        (_, false) => length,
    }
}

fn conditions(covered: &Covered) -> String {
    match &covered.conditions[..] {
        [(only, _)] => only.clone(),
        several => {
            let each = several.iter().map(|(name, s)| format!("{name} {}", words::length(*s)));
            each.collect::<Vec<_>>().join("; ")
        }
    }
}

/// Best to worst limit of some bands, by unit.
fn limits_of(group: &[&Covered]) -> String {
    let range = |of: &dyn Fn(&Covered) -> Option<f64>, unit: &str| {
        let limits = || group.iter().filter_map(|covered| of(covered));
        let low = limits().fold(f64::INFINITY, f64::min);
        let high = limits().fold(f64::NEG_INFINITY, f64::max);
        match (low <= high, high - low < 1.0) {
            (false, _) => None,
            (true, true) => Some(words::signed(high, unit)),
            (true, false) => {
                Some(format!("{} to {}", words::signed(low, unit), words::signed(high, unit)))
            }
        }
    };
    let dbm = range(&|covered| covered.limit_dbm, "dBm");
    let dbfs = range(&|covered| covered.limit_dbfs, "dBFS");
    match (dbm, dbfs) {
        (Some(dbm), Some(dbfs)) => format!("{dbm}; {dbfs}"),
        (Some(one), None) | (None, Some(one)) => one,
        (None, None) => "not known".into(),
    }
}
