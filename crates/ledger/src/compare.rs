//! Which receptions compare: one chain, one setting, one unit. Places with what they received.

use crate::contract::{Reception, Role};
use crate::input::{Chain, Input};
use std::collections::BTreeMap;
use units::{Position, Strength, Utc, Zone};

/// Receptions that compare with each other.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Comparable {
    /// Chain, by the user's name.
    pub(crate) chain: String,
    /// What its numbers are.
    pub(crate) unit: Unit,
    /// What to add to its levels for dBm at the antenna, dB, where calibrated.
    pub(crate) to_dbm_db: Option<f64>,
    /// One for each place, in the order of its receptions (ids decide nothing).
    pub(crate) places: Vec<Place>,
}

/// What the numbers of a chain are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Unit {
    /// dBFS corrected for gain.
    Dbfs,
    /// dBm.
    Dbm,
    /// Steps of a scale of so many.
    Steps(u32),
}

/// One place on one chain: the loudest that it received of the emission, or that it did not.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Place {
    /// Id of the position.
    pub(crate) position: String,
    /// Its zone.
    pub(crate) zone: Zone,
    /// What was received.
    pub(crate) what: What,
    /// Time of that, as far as known.
    pub(crate) at: Option<Utc>,
    /// From when to when it was heard there, or listened for.
    pub(crate) span: Option<(Utc, Utc)>,
    /// Seconds listened there, over all receptions.
    pub(crate) looked_s: f64,
}

/// What a place received.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum What {
    /// A level with its standard uncertainty.
    Level { db: f64, u_db: f64 },
    /// A reading of the scale.
    Steps(Strength),
    /// Nothing, down to a limit (none on a scale of steps).
    Nothing { limit_db: Option<f64> },
}

impl Place {
    pub(crate) fn is_inside(&self) -> bool {
        matches!(self.zone, Zone::Inside | Zone::Moving)
    }
    pub(crate) fn is_heard(&self) -> bool {
        !matches!(self.what, What::Nothing { .. })
    }
    /// Level or step, to order by; `None` for nothing.
    pub(crate) fn height(&self) -> Option<f64> {
        match self.what {
            What::Level { db, .. } => Some(db),
            What::Steps(s) => Some(s.value),
            What::Nothing { .. } => None,
        }
    }
}

/// Uncertainty of a level whose own is not known, dB (common practice, no source).
const U_UNSTATED_DB: f64 = 1.5;

/// A reception with what the record says of it.
struct Told<'a> {
    reception: &'a Reception,
    chain: &'a Chain,
    position: &'a Position,
    at: Option<Utc>,
    span: Option<(Utc, Utc)>,
}

/// Groups receptions by what compares. Checks, no-antenna captures and places that nobody named
/// are left out.
pub(crate) fn comparable(input: &Input, receptions: &[Reception]) -> Vec<Comparable> {
    let told: Vec<Told<'_>> = receptions.iter().filter_map(|r| told(input, r)).collect();
    let mut groups: BTreeMap<(&str, Option<&str>, Unit), Vec<&Told<'_>>> = BTreeMap::new();
    for t in &told {
        for unit in units_of(t.reception) {
            let key = (t.chain.name.as_str(), t.chain.setting.as_deref(), unit);
            groups.entry(key).or_default().push(t);
        }
    }
    // 'Not heard' of a scale names no steps: it belongs to every scale of its chain.
    for t in told.iter().filter(|t| units_of(t.reception).is_empty()) {
        for (key, members) in &mut groups {
            let same = key.0 == t.chain.name && key.1 == t.chain.setting.as_deref();
            if same && matches!(key.2, Unit::Steps(_)) {
                members.push(t);
            }
        }
    }
    let made = groups.into_iter().map(|((chain, _, unit), members)| Comparable {
        chain: chain.to_owned(),
        unit,
        to_dbm_db: to_dbm_db(unit, &members),
        places: places(unit, &members),
    });
    made.filter(|c| c.places.iter().any(Place::is_heard)).collect()
}

fn told<'a>(input: &'a Input, reception: &'a Reception) -> Option<Told<'a>> {
    if matches!(reception.role, Role::Check | Role::NoAntenna) {
        return None;
    }
    let position = reception.position.as_deref()?;
    let position = input.positions.iter().find(|p| p.id == position)?;
    let middle = |from: Option<Utc>, until: Option<Utc>| match (from, until) {
        (Some(a), Some(b)) => Some(a.plus_seconds(b.seconds_since(a) / 2.0)),
        (a, b) => a.or(b),
    };
    let heard_at = middle(reception.first, reception.last);
    if let Some(capture) = input.captures.iter().find(|c| c.id == reception.capture) {
        let mut stays = capture.visits.iter().filter(|v| v.position == position.id);
        let stay = stays.next().map(|v| (Some(v.from), Some(v.until)));
        let (from, until) = stay.unwrap_or((capture.start, capture.stop));
        let at = heard_at.or(middle(from, until));
        let heard = reception.first.zip(reception.last);
        let span = if reception.heard { heard } else { from.zip(until) };
        return Some(Told { reception, chain: &capture.chain, position, at, span });
    }
    let reading = input.readings.iter().find(|r| r.id == reception.capture)?;
    let span = reading.at.map(|at| (at, at));
    Some(Told { reception, chain: &reading.chain, position, at: reading.at, span })
}

/// In which units a reception speaks: one where there is a choice (dBFS before dBm).
fn units_of(reception: &Reception) -> Vec<Unit> {
    let dbfs = reception.level_dbfs.is_some() || reception.limit_dbfs.is_some();
    let dbm = reception.level_dbm.is_some() || reception.limit_dbm.is_some();
    if dbfs {
        return vec![Unit::Dbfs];
    }
    if dbm {
        return vec![Unit::Dbm];
    }
    reception.strength.iter().map(|s| Unit::Steps(s.of.round().max(1.0) as u32)).collect()
}

/// Of the first reception that has both units: one chain and setting has one calibration.
fn to_dbm_db(unit: Unit, members: &[&Told<'_>]) -> Option<f64> {
    let both = |t: &&Told<'_>| Some(t.reception.level_dbm?.0 - t.reception.level_dbfs?.0);
    match unit {
        Unit::Dbfs => members.iter().find_map(both),
        Unit::Dbm => Some(0.0),
        Unit::Steps(_) => None,
    }
}

fn places(unit: Unit, members: &[&Told<'_>]) -> Vec<Place> {
    let mut places: Vec<Place> = Vec::new();
    for t in members {
        let Some(what) = what(unit, t.reception) else { continue };
        let (zone, position) = (t.position.zone, t.position.id.clone());
        let looked_s = t.reception.looked_s;
        let new = Place { position, zone, what, at: t.at, span: t.span, looked_s };
        match places.iter_mut().find(|place| place.position == new.position) {
            Some(old) => {
                let looked_s = old.looked_s + new.looked_s;
                let more = if says_more(&new, old) { new } else { old.clone() };
                *old = Place { looked_s, ..more };
            }
            None => places.push(new),
        }
    }
    places
}

/// Heard outdoes not heard, louder quieter; of two that heard nothing the lower limit.
fn says_more(b: &Place, a: &Place) -> bool {
    match (b.height(), a.height()) {
        (Some(b), Some(a)) => b > a,
        (b, a) if b.is_some() != a.is_some() => b.is_some(),
        _ => match (b.what, a.what) {
            (What::Nothing { limit_db: Some(b) }, What::Nothing { limit_db: Some(a) }) => b < a,
            _ => false,
        },
    }
}

fn what(unit: Unit, r: &Reception) -> Option<What> {
    let u_db = r.u_db.unwrap_or(U_UNSTATED_DB);
    let level = |level: Option<f64>, limit: Option<f64>| match (r.heard, level, limit) {
        (true, Some(db), _) => Some(What::Level { db, u_db }),
        (false, _, Some(limit)) => Some(What::Nothing { limit_db: Some(limit) }),
        _ => None,
    };
    match unit {
        Unit::Dbfs => level(r.level_dbfs.map(|l| l.0), r.limit_dbfs.map(|l| l.0)),
        Unit::Dbm => level(r.level_dbm.map(|l| l.0), r.limit_dbm.map(|l| l.0)),
        Unit::Steps(_) if !r.heard => Some(What::Nothing { limit_db: None }),
        Unit::Steps(_) => r.strength.map(What::Steps),
    }
}

/// The first of the highest, so that all who tell where it is loudest tell the same place.
pub(crate) fn highest<T>(
    of: impl Iterator<Item = T>,
    height: impl Fn(&T) -> Option<f64>,
) -> Option<T> {
    of.reduce(|a, b| if height(&b) > height(&a) { b } else { a })
}

/// The reception that was heard loudest; of places that heard it alike, the one that the
/// reasons name. Levels before strengths, dBm before dBFS: they do not compare with each other.
pub fn loudest(receptions: &[Reception]) -> Option<&Reception> {
    let kinds: [fn(&Reception) -> Option<f64>; 3] = [
        |r| r.level_dbm.map(|l| l.0),
        |r| r.level_dbfs.map(|l| l.0),
        |r| r.strength.map(|s| s.value / s.of),
    ];
    // Places stand in the order of their first receptions.
    let place = |r: &Reception| receptions.iter().position(|other| other.position == r.position);
    let mut heard: Vec<&Reception> = receptions.iter().filter(|r| r.heard).collect();
    heard.sort_by_key(|r| place(r));
    kinds.iter().find_map(|level| {
        highest(heard.iter().copied().filter(|r| level(r).is_some()), |r| level(r))
    })
}

/// A heard level with what it compares with.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct OwnLevel<'a> {
    /// Chain, setting, unit.
    pub(crate) key: (&'a str, Option<&'a str>, Unit),
    /// Level, dB.
    pub(crate) db: f64,
    /// Its standard uncertainty.
    pub(crate) u_db: f64,
}

/// The level of a capture's reception, of whatever role; `None` for one without.
pub(crate) fn own_level<'a>(input: &'a Input, r: &Reception) -> Option<OwnLevel<'a>> {
    let chain = &input.captures.iter().find(|c| c.id == r.capture)?.chain;
    let (unit, db) = match (r.level_dbfs, r.level_dbm) {
        (Some(l), _) => (Unit::Dbfs, l.0),
        (None, Some(l)) => (Unit::Dbm, l.0),
        (None, None) => return None,
    };
    let key = (chain.name.as_str(), chain.setting.as_deref(), unit);
    Some(OwnLevel { key, db, u_db: r.u_db.unwrap_or(U_UNSTATED_DB) })
}
