//! Keeping step with a room: on while the room was in use, silent whenever it was listened for
//! elsewhere or in the empty room, though it would have been heard.

use crate::activity::Activity;
use crate::contract::{Reception, Role};
use crate::input::Input;
use crate::room::RoomState;
use units::Zone;

/// That it keeps step, and how much that says.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct InStep {
    /// Position in the room in use, where it was heard.
    pub(crate) position: String,
    /// Captures that would have heard it and did not.
    pub(crate) silent: usize,
    /// Seconds looked in them; in those of the same place where there are any.
    pub(crate) silent_s: f64,
    /// Least margin by which they would have heard it, the way through the building taken off, dB;
    /// `None` on a scale of steps.
    pub(crate) margin_db: Option<f64>,
    /// How many times likelier this is of an emitter in that room than of any other that comes
    /// and goes.
    pub(crate) ratio: f64,
    /// Some of that silence was in the same place while the room was empty.
    pub(crate) same_place: bool,
}

/// How far a level must lie over the limit for silence to count, dB: in the same place, and
/// elsewhere (walls, a floor and the way to it: 30 dB a decade over 2 m to 20 m, common practice).
const AUDIBLE_DB: f64 = 6.0;
const AUDIBLE_ELSEWHERE_DB: f64 = 40.0;
/// Silence of so short a look says nothing, seconds.
const SILENT_S: f64 = 0.1;
/// One that came and went is known to be silent when so many of its bursts would have come (bursts
/// come in groups, and a stepping receiver may miss all of a periodic one: our choice, no source).
const BURSTS_MISSED: f64 = 10.0;
/// Of what comes and goes in a room, so much goes with its use: what people there use, what they
/// bring with them, and what listens to them (our choice, no source).
const STEP_SHARE: f64 = 0.3;

/// `None` if it was heard anywhere but in one room in use, or nothing would have heard it else.
pub(crate) fn of(input: &Input, receptions: &[Reception], activity: &Activity) -> Option<InStep> {
    let listened =
        || receptions.iter().filter(|r| !matches!(r.role, Role::Check | Role::NoAntenna));
    let position =
        |r: &Reception| input.positions.iter().find(|p| Some(&p.id) == r.position.as_ref());
    let room = |r: &Reception| position(r).map(|p| p.room.as_ref().unwrap_or(&p.name));
    // Whether the room was in use, as somebody stated.
    let in_use = |r: &Reception| {
        let capture = input.captures.iter().find(|c| c.id == r.capture)?;
        Some(capture.room_state? != RoomState::Empty)
    };
    let heard: Vec<&Reception> = listened().filter(|r| r.heard).collect();
    let loudest = heard.iter().max_by(|a, b| level(a).total_cmp(&level(b)))?;
    let used = |r: &&&Reception| {
        let inside = position(r).is_some_and(|p| matches!(p.zone, Zone::Inside | Zone::Moving));
        inside && room(r) == room(loudest) && in_use(r) == Some(true)
    };
    if heard.iter().filter(used).count() != heard.len() {
        return None;
    }
    let silent: Vec<(&Reception, Option<f64>)> = listened()
        .filter(|r| !r.heard && r.looked_s >= SILENT_S)
        .filter(|r| room(r) != room(loudest) || in_use(r) != Some(true))
        .filter_map(|r| {
            let here = heard.iter().any(|h| h.position == r.position);
            let over = margin_db(&heard, r);
            let least = if here { AUDIBLE_DB } else { AUDIBLE_ELSEWHERE_DB };
            let audible = over.map_or(here && strong(&heard), |db| db >= least);
            audible
                .then_some((r, over.map(|db| db - if here { 0.0 } else { AUDIBLE_ELSEWHERE_DB })))
        })
        .collect();
    let all_s: f64 = silent.iter().map(|(r, _)| r.looked_s).sum();
    // A look that its pauses may have filled is no whole silence.
    let whole: f64 = silent.iter().map(|(r, _)| 1.0 - activity.p_between(r.looked_s)).sum();
    if whole < 1.0 || activity.missed(all_s) < BURSTS_MISSED {
        return None;
    }
    // One that comes and goes as it likes: the chance of this very sequence, beta–binomial with
    // Jeffreys' prior.
    let chance = sequence(heard.len(), whole as usize);
    // In the same place only what is stated to have been empty speaks of an empty room.
    let here = |r: &Reception| r.position == loudest.position && in_use(r) == Some(false);
    let same_place = silent.iter().any(|(r, _)| here(r));
    let counted = silent.iter().filter(|(r, _)| here(r) || !same_place);
    Some(InStep {
        position: loudest.position.clone()?,
        silent: silent.len(),
        silent_s: counted.map(|(r, _)| r.looked_s).sum(),
        margin_db: silent.iter().filter_map(|s| s.1).min_by(f64::total_cmp),
        ratio: (1.0 - STEP_SHARE) + STEP_SHARE / chance,
        same_place,
    })
}

fn level(r: &Reception) -> f64 {
    let db = r.level_dbfs.map(|l| l.0).or(r.level_dbm.map(|l| l.0));
    db.or(r.strength.map(|s| s.value)).unwrap_or(f64::NEG_INFINITY)
}

/// How far the loudest lies over what a capture would have heard; `None` without a common unit.
fn margin_db(heard: &[&Reception], quiet: &Reception) -> Option<f64> {
    let over = |loud: &&Reception| match (loud.level_dbm, quiet.limit_dbm) {
        (Some(level), Some(limit)) => Some(level.0 - limit.0),
        _ => Some(loud.level_dbfs?.0 - quiet.limit_dbfs?.0),
    };
    heard.iter().filter_map(over).max_by(f64::total_cmp)
}

/// A reading above the first step: silence in the same place counts.
fn strong(heard: &[&Reception]) -> bool {
    heard.iter().any(|r| r.strength.is_some_and(|s| s.value > 1.0))
}

/// B(on + ½, off + ½) / B(½, ½), as a product.
fn sequence(on: usize, off: usize) -> f64 {
    let part = |k: usize| (0..k).map(|j| j as f64 + 0.5);
    let all = (0..on + off).map(|j| j as f64 + 1.0);
    part(on).chain(part(off)).product::<f64>() / all.product::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy.special.beta(1.5, 8.5) / beta(0.5, 0.5) = 0.0109100342; one on, one off: 1/8.
    #[test]
    fn chance_of_a_sequence() {
        assert!((sequence(1, 1) - 0.125).abs() < 1e-15);
        assert!((sequence(1, 8) - 0.010910034179687503).abs() < 1e-9, "{}", sequence(1, 8));
    }
}
