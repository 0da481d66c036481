//! One emission as each capture that listened there received it, or did not.

use crate::atom::{Atom, Group};
use crate::contract::{Reception, Role};
use crate::input::{Capture, Input, Reading};
use crate::limits::{Look, Noise, look_at, stay_s};
use units::{Band, Dbfs, Dbm, LevelUnit, Strength, Utc};

/// The receptions of a group, in canonical order of captures, then of places as they were visited.
pub(crate) fn of(input: &Input, group: &Group) -> Vec<Reception> {
    let band = band_of(group);
    let noise = Noise::of(input, group);
    let mut receptions = Vec::new();
    for capture in input.captures.iter().filter(|c| c.set_aside.is_none()) {
        let members: Vec<&Atom> = (group.atoms.iter())
            .filter(|atom| atom.capture(input).is_some_and(|c| std::ptr::eq(c, capture)))
            .collect();
        for position in places_of(capture, &members) {
            let here: Vec<&Atom> =
                members.iter().copied().filter(|atom| atom.position == position).collect();
            let look = look_at(capture, position.as_deref(), band, &noise);
            if here.is_empty() {
                receptions
                    .extend(look.map(|l| unheard(capture, position, &l.beside(capture, band))));
            } else {
                receptions.push(heard(input, capture, position, &here, look));
            }
        }
    }
    receptions.extend(group.atoms.iter().filter_map(|atom| of_reading(input, atom)));
    // Strength 0 of this row: somebody looked for it there, and read nothing.
    let silent = group.silent.iter().filter_map(|&index| input.readings.get(index));
    receptions.extend(silent.map(|reading| read(reading, false)));
    receptions
}

/// Where the emission lies: what its finest atoms span.
fn band_of(group: &Group) -> Band {
    let fine = group.atoms.iter().any(|atom| !atom.coarse);
    let of = group.atoms.iter().filter(|atom| atom.coarse != fine);
    of.map(|atom| atom.band)
        .reduce(|a, b| Band { low_hz: a.low_hz.min(b.low_hz), high_hz: a.high_hz.max(b.high_hz) })
        .unwrap_or(group.atoms[0].band)
}

/// Places of a capture: where it stayed, or each place it visited once, in that order; and where
/// an atom says it was heard (a log may name places itself).
fn places_of(capture: &Capture, members: &[&Atom]) -> Vec<Option<String>> {
    let mut places: Vec<Option<String>> = Vec::new();
    let mut add = |place: Option<String>| {
        if !places.contains(&place) {
            places.push(place);
        }
    };
    if capture.visits.is_empty() {
        // A log that names its places says nothing of others.
        if members.iter().all(|atom| atom.position == capture.position) {
            add(capture.position.clone());
        }
    } else {
        capture.visits.iter().for_each(|visit| add(Some(visit.position.clone())));
    }
    members.iter().for_each(|atom| add(atom.position.clone()));
    places
}

fn unheard(capture: &Capture, position: Option<String>, look: &Look) -> Reception {
    Reception {
        capture: capture.id.clone(),
        position,
        role: capture.role,
        heard: false,
        level_dbfs: None,
        level_dbm: None,
        strength: None,
        u_db: None,
        limit_dbfs: look.limit_dbfs,
        limit_dbm: look.limit_dbm,
        looked_s: look.looked_s,
        first: None,
        last: None,
    }
}

fn heard(
    input: &Input,
    capture: &Capture,
    position: Option<String>,
    here: &[&Atom],
    look: Option<Look>,
) -> Reception {
    let gain_db = capture.chain.gain_db.unwrap_or(0.0);
    let received: Vec<Received> = here.iter().filter_map(|a| of_atom(input, a)).collect();
    let (level_dbfs, u_db) = loudest(&received, |r| r.dbfs);
    let (level_dbm, u_dbm) = loudest(&received, |r| r.dbm);
    let strengths = received.iter().filter_map(|r| r.strength);
    // Without a look of known bands: the stay is all that is known.
    let looked_s = look.map(|l| l.looked_s).or_else(|| {
        let stay = stay_s(capture, position.as_deref()).map(|(here, _)| here);
        stay.or_else(|| Some(capture.stop?.seconds_since(capture.start?)))
    });
    Reception {
        capture: capture.id.clone(),
        position,
        role: capture.role,
        heard: true,
        level_dbfs: level_dbfs.map(|db| Dbfs(db - gain_db)),
        level_dbm: level_dbm.map(Dbm),
        strength: strengths.reduce(stronger),
        u_db: u_db.or(u_dbm),
        limit_dbfs: look.and_then(|l| l.limit_dbfs),
        limit_dbm: look.and_then(|l| l.limit_dbm),
        looked_s: looked_s.unwrap_or(0.0).max(0.0),
        first: earliest(here),
        last: here.iter().filter_map(|atom| atom.last).max(),
    }
}

fn earliest(atoms: &[&Atom]) -> Option<Utc> {
    atoms.iter().filter_map(|atom| atom.first).min()
}

/// Events this likely to have been logged at a place tell its strength (our choice).
const SURELY_HERE: f64 = 0.9;

/// What one atom received, as measured.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Received {
    dbfs: Option<f64>,
    dbm: Option<f64>,
    u_db: Option<f64>,
    strength: Option<Strength>,
}

fn of_atom(input: &Input, atom: &Atom) -> Option<Received> {
    let (capture, row) = (atom.capture(input)?, atom.row(input)?);
    let emission = &row.emission;
    if !atom.events.is_empty() {
        // Of a log, or a table of readings: the row is over all places; the events are of this one.
        // An event in the minute of a move counts only where no surer one was logged here.
        let sure = atom.events.iter().any(|e| e.p_here >= SURELY_HERE);
        let least = if sure { SURELY_HERE } else { 0.0 };
        let events = atom.events.iter().filter(|e| e.p_here >= least);
        let events = events.filter_map(|e| Some(&capture.events.get(e.index)?.event));
        let loudest = |levels: &mut dyn Iterator<Item = f64>| levels.max_by(f64::total_cmp);
        let levels = events.clone().filter_map(|e| e.level);
        return Some(Received {
            dbfs: loudest(&mut levels.clone().filter(|l| l.1 == LevelUnit::Dbfs).map(|l| l.0)),
            dbm: loudest(&mut levels.filter_map(dbm)),
            u_db: emission.u.level_db,
            strength: events.filter_map(|e| e.strength).reduce(stronger),
        });
    }
    Some(Received {
        dbfs: emission.level_dbfs.map(|l| l.0),
        dbm: emission.level_dbm.map(|l| l.0),
        u_db: emission.u.level_db,
        strength: row.strength,
    })
}

/// A level in dBm: dBm = dBµV − 106.99 across 50 Ω.
fn dbm((level, unit): (f64, LevelUnit)) -> Option<f64> {
    match unit {
        LevelUnit::Dbm => Some(level),
        LevelUnit::Dbuv => Some(level - 106.99),
        LevelUnit::Dbfs => None,
    }
}

fn stronger(a: Strength, b: Strength) -> Strength {
    if b.value / b.of > a.value / a.of { b } else { a }
}

/// The loudest level with its uncertainty. Pieces of one emission are not added: they were on one
/// after the other.
fn loudest(
    all: &[Received],
    level: impl Fn(&Received) -> Option<f64>,
) -> (Option<f64>, Option<f64>) {
    let with = all.iter().filter_map(|r| Some((level(r)?, r.u_db)));
    let best = with.max_by(|a, b| a.0.total_cmp(&b.0));
    (best.map(|b| b.0), best.and_then(|b| b.1))
}

fn of_reading(input: &Input, atom: &Atom) -> Option<Reception> {
    let reading = atom.reading(input)?;
    let is_heard = reading.level_dbm.is_some() || reading.strength.is_none_or(|s| s.value > 0.0);
    Some(read(reading, is_heard))
}

fn read(reading: &Reading, heard: bool) -> Reception {
    Reception {
        capture: reading.id.clone(),
        position: Some(reading.position.clone()),
        role: Role::Walk,
        heard,
        level_dbfs: None,
        level_dbm: reading.level_dbm.map(Dbm),
        strength: reading.strength.filter(|_| heard),
        u_db: None,
        limit_dbfs: None,
        limit_dbm: None,
        looked_s: 0.0,
        first: reading.at.filter(|_| heard),
        last: reading.at.filter(|_| heard),
    }
}
