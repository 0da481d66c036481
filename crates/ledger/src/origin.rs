//! Inside or outside, from the levels at each place.

use crate::activity::Activity;
use crate::atom::Group;
use crate::compare::{Comparable, Place, Unit, What, comparable, highest};
use crate::contract::{Origin, Reception};
use crate::input::Input;
use locate::{Chain, Context, InsideOutside, Observation, Received, Spot, Weighed};
use units::{Utc, Zone};

/// What attention wants to know of an origin beyond the wire's fields.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Facts {
    /// The posterior with its reasons.
    pub(crate) inside: Option<InsideOutside>,
    /// It keeps step with a room's use.
    pub(crate) in_step: Option<crate::step::InStep>,
    /// Loudest room against best reference.
    pub(crate) excess: Option<Excess>,
    /// Positions inside at which it was heard, loudest first.
    pub(crate) heard_inside: Vec<String>,
    /// Positions outside or adjacent at which it was heard, loudest first.
    pub(crate) heard_beyond: Vec<String>,
    /// Positions outside or adjacent at which it was listened for and not heard.
    pub(crate) silent_beyond: Vec<String>,
}

/// How far the loudest room lies over the best reference.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Excess {
    /// Position of the loudest room.
    pub(crate) room: String,
    /// Position of the reference.
    pub(crate) reference: String,
    /// How far; in dB, or in steps of a scale.
    pub(crate) value: f64,
    /// Its standard uncertainty, in the same.
    pub(crate) u: f64,
    /// dB, or steps of a scale of so many.
    pub(crate) unit: Unit,
    /// The reference heard nothing: it is at least so much.
    pub(crate) at_least: bool,
    /// Room and reference were recorded at hours of the day that are alike.
    pub(crate) like_hours: bool,
}

/// Hours of the day that differ by no more are alike, seconds (common practice, no source).
const LIKE_HOURS_S: f64 = 2.0 * 3600.0;
/// What a change of the hour adds to the uncertainty of a level, dB (common practice, no source).
const U_OTHER_HOUR_DB: f64 = 3.0;

/// What the levels of one group say of where it radiates from, before the others' are known.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Levels {
    weighed: Option<Weighed>,
    facts: Facts,
}

/// The levels of a group, weighed. `own`: it is a line of the receiver's own, which tells nothing of
/// the premises.
pub(crate) fn levels(input: &Input, group: &Group, receptions: &[Reception], own: bool) -> Levels {
    let chains: Vec<Comparable> =
        comparable(input, receptions).into_iter().map(with_like_references).collect();
    let rooms = rooms_of(input, &chains);
    let activity = Activity::of(input, group, receptions);
    let observed: Vec<Chain> = (chains.iter())
        .map(|chain| {
            let of = |place| observation(input, place, chain, &rooms, &activity);
            let observations = chain.places.iter().filter_map(of).collect();
            Chain { observations, to_dbm_db: chain.to_dbm_db }
        })
        .collect();
    let centre_hz = group.atoms[0].centre_hz;
    let in_step = crate::step::of(input, receptions, &activity);
    let context = Context {
        attached: input.positions.iter().any(|p| p.zone == Zone::Adjacent),
        in_step: in_step.as_ref().and_then(|step| {
            let (_, room) = rooms.iter().find(|(position, _)| *position == step.position)?;
            Some((rooms.iter().position(|(_, other)| other == room)?, step.ratio))
        }),
        own,
    };
    let weighed = locate::weigh(centre_hz, &context, &observed);
    let facts = Facts {
        inside: None,
        in_step,
        excess: chains.iter().filter_map(excess).reduce(better),
        heard_inside: positions(&chains, |p| p.is_inside() && p.is_heard()),
        heard_beyond: positions(&chains, |p| !p.is_inside() && p.is_heard()),
        silent_beyond: positions(&chains, |p| !p.is_inside() && !p.is_heard()),
    };
    Levels { weighed, facts }
}

/// Where all groups of a survey radiate from, and on what that rests: each tells of the premises
/// that it shares with the others.
pub(crate) fn of(all: Vec<Levels>) -> Vec<(Origin, Facts)> {
    let (weighed, facts): (Vec<Option<Weighed>>, Vec<Facts>) =
        all.into_iter().map(|levels| (levels.weighed, levels.facts)).unzip();
    let origin = |(inside, facts): (Option<InsideOutside>, Facts)| {
        let db = facts.excess.as_ref().filter(|e| !matches!(e.unit, Unit::Steps(_)));
        let origin = Origin {
            p_inside: inside.as_ref().map(|i| rounded(i.p_inside, 1e4)),
            excess_db: db.map(|e| rounded(e.value, 1e2)),
            excess_at_least: db.is_some_and(|e| e.at_least),
            excess_u_db: db.map(|e| rounded(e.u, 1e2)),
        };
        (origin, Facts { inside, ..facts })
    };
    locate::origins(&weighed).into_iter().zip(facts).map(origin).collect()
}

/// To so many parts of one: what is finer means nothing, and differs between machines.
pub(crate) fn rounded(x: f64, parts: f64) -> f64 {
    (x * parts).round() / parts
}

/// Without the references of other hours, where there is one of a like hour.
fn with_like_references(mut chain: Comparable) -> Comparable {
    let Some(at) = loudest(&chain, Place::is_inside).and_then(|place| place.at) else {
        return chain;
    };
    let like = |place: &Place| place.at.is_some_and(|other| alike(at, other));
    if chain.places.iter().any(|place| !place.is_inside() && like(place)) {
        chain.places.retain(|place| place.is_inside() || like(place));
    }
    chain
}

/// Whether two moments lie at like hours of the day.
fn alike(a: Utc, b: Utc) -> bool {
    const DAY_S: f64 = 86_400.0;
    let apart = a.seconds_since(b).rem_euclid(DAY_S);
    apart.min(DAY_S - apart) <= LIKE_HOURS_S
}

fn loudest(chain: &Comparable, of: impl Fn(&Place) -> bool) -> Option<&Place> {
    highest(chain.places.iter().filter(|p| p.is_heard() && of(p)), |p| p.height())
}

/// Numbers of rooms, the same through all chains: by the room's name, else by position.
fn rooms_of(input: &Input, chains: &[Comparable]) -> Vec<(String, String)> {
    let mut rooms: Vec<(String, String)> = Vec::new();
    for place in chains.iter().flat_map(|chain| &chain.places) {
        if rooms.iter().all(|(position, _)| *position != place.position) {
            let position = input.positions.iter().find(|p| p.id == place.position);
            let name = position.and_then(|p| p.room.clone());
            rooms.push((place.position.clone(), name.unwrap_or_else(|| place.position.clone())));
        }
    }
    rooms
}

fn observation(
    input: &Input,
    place: &Place,
    chain: &Comparable,
    rooms: &[(String, String)],
    activity: &Activity,
) -> Option<Observation> {
    let name = &rooms.iter().find(|(position, _)| *position == place.position)?.1;
    let room = rooms.iter().position(|(_, other)| other == name)?;
    let with = loudest(chain, |_| true).and_then(|loudest| loudest.at);
    let like_hours = match (with, place.at) {
        (Some(a), Some(b)) => alike(a, b),
        _ => true,
    };
    let other_hour = if like_hours { 0.0 } else { U_OTHER_HOUR_DB };
    let received = match place.what {
        What::Level { db, u_db } => Received::Level { db, u_db: u_db.hypot(other_hour) },
        What::Steps(strength) => Received::Strength(strength),
        What::Nothing { limit_db: Some(limit_db) } => Received::Below { limit_db },
        What::Nothing { limit_db: None } => Received::NoStrength,
    };
    let p_silent = activity.p_silent(place.looked_s, between_s(place, chain));
    let spot = spot(input, &place.position);
    Some(Observation { zone: place.zone, room, spot, received, p_silent })
}

/// Where a position lies on the plan; floors are numbered as positions first name them.
fn spot(input: &Input, position: &str) -> Option<Spot> {
    let at = input.positions.iter().find(|p| p.id == position)?;
    // What is outside stands at the lowest floor: nothing is said of its own.
    let mut floors: Vec<&str> = input.positions.iter().filter_map(|p| p.floor.as_deref()).collect();
    floors.sort_unstable();
    floors.dedup();
    let floor = floors.iter().position(|f| Some(*f) == at.floor.as_deref()).unwrap_or(0);
    Some(Spot { x_m: at.x_m?, y_m: at.y_m?, floor })
}

/// Seconds between the listening at a place and the nearest time at which it was heard anywhere.
fn between_s(place: &Place, chain: &Comparable) -> Option<f64> {
    let (from, until) = place.span?;
    let heard = chain.places.iter().filter(|p| p.is_heard()).filter_map(|p| p.span);
    heard
        .map(|(first, last)| first.seconds_since(until).max(from.seconds_since(last)).max(0.0))
        .min_by(f64::total_cmp)
}

/// Loudest room over best reference on one chain. Where no reference heard it, over the best of
/// their limits: at least so much.
fn excess(chain: &Comparable) -> Option<Excess> {
    let room = loudest(chain, Place::is_inside)?;
    let reference = loudest(chain, |p| !p.is_inside()).or_else(|| {
        let silent = chain.places.iter().filter(|p| !p.is_inside());
        // The lowest limit proves most.
        silent.reduce(|a, b| if limit(b) < limit(a) { b } else { a })
    })?;
    let (high, u_high) = height(room)?;
    let (low, u_low) = height(reference)?;
    let like_hours = match (room.at, reference.at) {
        (Some(a), Some(b)) => alike(a, b),
        _ => false,
    };
    let is_db = !matches!(chain.unit, Unit::Steps(_));
    let other_hour = if is_db && !like_hours { U_OTHER_HOUR_DB } else { 0.0 };
    Some(Excess {
        room: room.position.clone(),
        reference: reference.position.clone(),
        value: high - low,
        u: u_high.hypot(u_low).hypot(other_hour),
        unit: chain.unit,
        at_least: !reference.is_heard(),
        like_hours,
    })
}

fn limit(place: &Place) -> f64 {
    match place.what {
        What::Nothing { limit_db } => limit_db.unwrap_or(0.0),
        _ => f64::INFINITY,
    }
}

/// Level, or limit, with its standard uncertainty.
fn height(place: &Place) -> Option<(f64, f64)> {
    match place.what {
        What::Level { db, u_db } => Some((db, u_db)),
        // Anywhere within a step: rectangular.
        What::Steps(s) => Some((s.value, 1.0 / 12f64.sqrt())),
        What::Nothing { limit_db } => Some((limit_db.unwrap_or(0.0), 0.0)),
    }
}

/// Of two chains: dB before steps, a reference that heard before one that did not, then the
/// surer.
fn better(a: Excess, b: Excess) -> Excess {
    let order = |e: &Excess| (matches!(e.unit, Unit::Steps(_)), e.at_least);
    let b_first = order(&b) < order(&a) || (order(&b) == order(&a) && b.u < a.u);
    if b_first { b } else { a }
}

/// Positions that pass, each once, loudest first within a chain.
fn positions(chains: &[Comparable], of: impl Fn(&Place) -> bool) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for chain in chains {
        let mut places: Vec<&Place> = chain.places.iter().filter(|p| of(p)).collect();
        let height = |p: &Place| p.height().unwrap_or(f64::NEG_INFINITY);
        places.sort_by(|a, b| height(b).total_cmp(&height(a)));
        for place in places {
            if !found.contains(&place.position) {
                found.push(place.position.clone());
            }
        }
    }
    found
}
