//! The shared row of a group: one emission out of all that its captures showed.

use crate::atom::{Atom, Group, Of};
use crate::contract::{Reception, Role};
use crate::input::{CaptureRow, Input};
use detect::{BandwidthIs, BurstSummary, Shape, Uncertainty};
use identify::{Emission, Measured};
use units::Utc;

/// What a group's row says of itself.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Summary {
    /// The shared row.
    pub(crate) emission: Emission,
    /// A log's own word for a band that names no frequency.
    pub(crate) label: Option<String>,
    /// First time heard.
    pub(crate) first: Option<Utc>,
    /// Last time heard.
    pub(crate) last: Option<Utc>,
}

/// Sums a group up: centre, width and identification from its best row, level from its loudest
/// reception in a room, timing from all.
pub(crate) fn of(input: &Input, group: &Group, receptions: &[Reception]) -> Summary {
    let members = members(input, group, receptions);
    let mut emission = match members.iter().copied().reduce(better) {
        Some(best) => best.row.emission.clone(),
        None => of_readings(group),
    };
    emission.bursts = timing(&members, &mut emission.u).unwrap_or(emission.bursts);
    emission.shape = shape(&members, &emission.bursts).unwrap_or(emission.shape);
    level(input, &members, receptions, &mut emission);
    if group.coarse() {
        // What a log or a person notes has no width, and levels only by place.
        emission.bandwidth_hz = None;
        emission.bandwidth_is = BandwidthIs::UpperBound;
        (emission.level_dbfs, emission.level_dbm, emission.snr_db) = (None, None, None);
        (emission.u.bandwidth_hz, emission.u.level_db) = (None, None);
        emission.modulation = None;
    }
    Summary {
        label: (emission.high_hz == 0.0).then(|| label(input, group)).flatten(),
        emission,
        first: group.atoms.iter().filter_map(|atom| atom.first).min(),
        last: group.atoms.iter().filter_map(|atom| atom.last).max(),
    }
}

fn label(input: &Input, group: &Group) -> Option<String> {
    group.atoms.iter().find_map(|atom| {
        let events = &atom.capture(input)?.events;
        atom.events.iter().find_map(|e| events.get(e.index)?.event.label.clone())
    })
}

/// A row of a capture that counts in the summary: each once, the fine ones alone where there are
/// any.
#[derive(Debug, Clone, Copy)]
struct Member<'a> {
    row: &'a CaptureRow,
    atom: &'a Atom,
    /// Seconds that its capture looked there.
    looked_s: f64,
    /// Events of a log in this group, over all its places; `None` for other kinds.
    events: Option<Events>,
}

/// What a log's events in this group sum up to.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Events {
    count: u64,
    on_s: f64,
    median_s: Option<f64>,
    /// They are most of the row's, so that its period is theirs.
    most: bool,
}

fn members<'a>(input: &'a Input, group: &'a Group, receptions: &[Reception]) -> Vec<Member<'a>> {
    let fine = !group.coarse();
    let mut seen: Vec<Of> = Vec::new();
    let mut members = Vec::new();
    for atom in &group.atoms {
        let Some(row) = atom.row(input) else { continue };
        if (fine && atom.coarse) || seen.contains(&atom.of) {
            continue;
        }
        // The receiver's own lines tell nothing of what comes in by the antenna.
        let others = group.atoms.iter().any(|a| a.role(input) != Role::NoAntenna);
        if others && atom.role(input) == Role::NoAntenna {
            continue;
        }
        seen.push(atom.of);
        let Some(capture) = atom.capture(input) else { continue };
        let pieces: Vec<&Atom> = group.atoms.iter().filter(|a| a.of == atom.of).collect();
        let length = || Some(capture.stop?.seconds_since(capture.start?));
        let there = capture
            .listened
            .iter()
            .filter(|l| l.low_hz <= row.emission.high_hz && row.emission.low_hz <= l.high_hz);
        let listened: f64 = there.map(|l| l.looked_s).sum();
        let events = events(capture, &pieces);
        // A log went from place to place: what counts is where it was heard.
        let heard = receptions.iter().filter(|r| r.heard && r.capture == capture.id);
        let stayed: f64 = heard.map(|r| r.looked_s).sum();
        let looked_s = match events {
            Some(_) if stayed > 0.0 => stayed,
            _ if listened > 0.0 => listened,
            _ => length().unwrap_or(0.0),
        };
        members.push(Member { row, atom, looked_s, events });
    }
    members
}

fn events(capture: &crate::Capture, pieces: &[&Atom]) -> Option<Events> {
    let mine: Vec<&units::Event> = (pieces.iter())
        .flat_map(|atom| &atom.events)
        .filter_map(|e| Some(&capture.events.get(e.index)?.event))
        .collect();
    if mine.is_empty() {
        return None;
    }
    let Of::Row { row, .. } = pieces[0].of else { return None };
    let all = capture.events.iter().filter(|e| e.row as usize == row).count();
    let mut lengths: Vec<f64> = mine.iter().filter_map(|e| e.duration_s).collect();
    lengths.sort_by(f64::total_cmp);
    Some(Events {
        count: mine.len() as u64,
        on_s: lengths.iter().sum(),
        median_s: lengths.get(lengths.len() / 2).copied(),
        most: 2 * mine.len() > all,
    })
}

/// The better of two rows for centre and width: a measured width before a bound, then the higher
/// SNR, then the surer centre; the first where they are equal.
fn better<'a>(a: Member<'a>, b: Member<'a>) -> Member<'a> {
    let measured = |m: &Member<'_>| m.row.emission.bandwidth_is == BandwidthIs::Measured;
    let snr = |m: &Member<'_>| m.row.emission.snr_db.unwrap_or(f64::NEG_INFINITY);
    let channels = |m: &Member<'_>| m.row.emission.channels_hz.as_ref().map_or(0, Vec::len);
    // A hopper is known best by who saw most of its channels.
    let order = channels(&b)
        .cmp(&channels(&a))
        .then(measured(&b).cmp(&measured(&a)))
        .then(snr(&b).total_cmp(&snr(&a)))
        .then(a.atom.u_centre_hz.total_cmp(&b.atom.u_centre_hz));
    if order == std::cmp::Ordering::Greater { b } else { a }
}

/// Timing over all rows: counts add, on-time over time looked, the median of the row with most
/// bursts, periods weighted by their uncertainties.
fn timing(members: &[Member<'_>], u: &mut Uncertainty) -> Option<BurstSummary> {
    let count = |m: &Member<'_>| m.events.map_or(m.row.emission.bursts.count, |e| e.count);
    let most = members.iter().copied().reduce(|a, b| if count(&b) > count(&a) { b } else { a })?;
    let median_s = match most.events {
        Some(events) => events.median_s,
        None => most.row.emission.bursts.median_s,
    };
    let looked: f64 = members.iter().map(|m| m.looked_s).sum();
    let on: f64 = (members.iter())
        .map(|m| match m.events {
            Some(events) => events.on_s,
            None => m.row.emission.bursts.on_fraction * m.looked_s,
        })
        .sum();
    let on_fraction = if looked > 0.0 {
        (on / looked).clamp(0.0, 1.0)
    } else {
        most.row.emission.bursts.on_fraction
    };
    let period = period(members);
    u.period_s = period.and_then(|p| p.1);
    Some(BurstSummary {
        count: members.iter().map(count).sum(),
        median_s,
        period_s: period.map(|p| p.0),
        on_fraction,
    })
}

/// Periods that agree within so many standard uncertainties are one.
const AGREE: f64 = 3.0;

/// The period and its standard uncertainty: the surest row's, with every other that agrees with it
/// weighed in.
fn period(members: &[Member<'_>]) -> Option<(f64, Option<f64>)> {
    let periods: Vec<(f64, f64)> = (members.iter())
        .filter(|m| m.events.is_none_or(|e| e.most))
        .filter_map(|m| {
            let period_s = m.row.emission.bursts.period_s?;
            Some((period_s, m.row.emission.u.period_s.filter(|u| *u > 0.0)?))
        })
        .collect();
    let Some(&(best, u_best)) = periods.iter().min_by(|a, b| a.1.total_cmp(&b.1)) else {
        return members.iter().find_map(|m| Some((m.row.emission.bursts.period_s?, None)));
    };
    let agreeing = periods.iter().filter(|(p, u)| (p - best).abs() <= AGREE * u.hypot(u_best));
    let (weights, sum) = agreeing.fold((0.0, 0.0), |(w, s), (p, u)| {
        let weight = 1.0 / (u * u);
        (w + weight, s + weight * p)
    });
    Some((sum / weights, Some(1.0 / weights.sqrt())))
}

/// On-time over time looked from which an emission counts as continuous.
const CONTINUOUS: f64 = 0.9;

/// Behaviour over all that was looked at. Hopping and sweeping are seen or not; between
/// 'continuous' and 'bursts' the whole of the on-time decides, so that who looked longest has the
/// most to say.
fn shape(members: &[Member<'_>], bursts: &BurstSummary) -> Option<Shape> {
    let looked = |shape: Shape| -> f64 {
        let of = members.iter().filter(|m| m.row.emission.shape == shape);
        of.map(|m| m.looked_s).sum()
    };
    let has = |shape: Shape| members.iter().any(|m| m.row.emission.shape == shape);
    let all: f64 = members.iter().map(|m| m.looked_s).sum();
    let first = members.first()?.row.emission.shape;
    if members.iter().all(|m| m.row.emission.shape == first) {
        return Some(first);
    }
    for moving in [Shape::Hopping, Shape::Sweeping] {
        // One look in ten that shows it moving is enough: a short one sees a single hop.
        if has(moving) && looked(moving) >= 0.1 * all {
            return Some(moving);
        }
    }
    Some(if bursts.on_fraction >= CONTINUOUS { Shape::Continuous } else { Shape::Bursts })
}

/// Level of the loudest room reception, else of the loudest, with its uncertainty and SNR.
fn level(input: &Input, members: &[Member<'_>], receptions: &[Reception], emission: &mut Emission) {
    let height = |r: &Reception| r.level_dbm.map(|l| l.0).or(r.level_dbfs.map(|l| l.0));
    let loudest = |room: bool| {
        let with = receptions.iter().filter(|r| r.heard && (r.role == Role::Room || !room));
        let with = with.filter(|r| height(r).is_some());
        with.reduce(|a, b| if height(b) > height(a) { b } else { a })
    };
    let Some(reception) = loudest(true).or_else(|| loudest(false)) else { return };
    emission.level_dbfs = reception.level_dbfs;
    emission.level_dbm = reception.level_dbm;
    emission.u.level_db = reception.u_db;
    let of = members.iter().filter(|m| {
        m.atom.position == reception.position
            && m.atom.capture(input).is_some_and(|c| c.id == reception.capture)
    });
    let snr = of.filter_map(|m| m.row.emission.snr_db).max_by(f64::total_cmp);
    emission.snr_db = snr.or(emission.snr_db);
}

/// An emission that only readings know.
fn of_readings(group: &Group) -> Emission {
    let band = group.atoms[0].band;
    Emission {
        centre_hz: band.centre_hz(),
        low_hz: band.low_hz,
        high_hz: band.high_hz,
        bandwidth_hz: None,
        bandwidth_is: BandwidthIs::UpperBound,
        shape: Shape::Bursts,
        channels_hz: None,
        bursts: BurstSummary {
            count: group.atoms.len() as u64,
            median_s: None,
            period_s: None,
            on_fraction: 0.0,
        },
        level_dbfs: None,
        level_dbm: None,
        snr_db: None,
        u: Uncertainty::default(),
        measured: Measured::default(),
        modulation: None,
        technology: None,
        allocations: Vec::new(),
    }
}
