//! The posterior over where the emitter is, and the reasons that go with it.

use crate::chain::{chain_evidence, ln_sum};
use crate::paths::Priors;
use crate::plan::Visited;
use crate::premises::{self, Kind};
use crate::reasons::{of_premises, reasons};
use crate::scenarios::{Place, ZonePrior, scenarios, zone_prior};
use crate::{Chain, Observation, others, power};
use units::{Reason, Zone};

/// Without a position fix no level makes it surer than this, either way (methods).
const SUREST: f64 = 0.99;
/// Rooms alone: how much of the logarithm of the odds is believed. How levels spread over rooms
/// says less than the model thinks (found by tests/calibrated.rs).
const ROOMS_ALONE: f64 = 0.45;
/// The prior is a judgement: the interval is what these priors of 'inside' give.
const OTHER_PRIORS: (f64, f64) = (0.25, 0.65);

/// Where it radiates from, as far as levels tell.
#[derive(Debug, Clone, PartialEq)]
pub struct InsideOutside {
    /// Probability that it is inside.
    pub p_inside: f64,
    /// What that was before any level was known.
    pub prior: f64,
    /// The same had one thought 'inside' unlikely at first.
    pub low: f64,
    /// The same had one thought it likely.
    pub high: f64,
    /// Probability that it is adjacent (corridor, next flat, floor above or below).
    pub p_adjacent: f64,
    /// Most likely room, if inside, and the probability of that.
    pub room: Option<(usize, f64)>,
    /// What the result leans on: priors with their sources, and what was missing.
    pub reasons: Vec<Reason>,
}

/// What is known beside levels.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Context {
    /// The record names an adjacent place, so that there is one.
    pub attached: bool,
    /// A room, and how many times likelier what came and went is, were the emitter in it.
    pub in_step: Option<(usize, f64)>,
    /// It is the receiver's own, and tells nothing of the premises to the others.
    pub own: bool,
}

/// What the levels of one emission say, for each kind of premises.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    own: bool,
    hz: f64,
    zones: ZonePrior,
    has_reference: bool,
    rooms: Vec<usize>,
    /// By kind: ln evidence, and what of it is inside, adjacent, in each room.
    kinds: Vec<OnKind>,
    reasons: Vec<Reason>,
}

#[derive(Debug, Clone, PartialEq)]
struct OnKind {
    /// What the building takes, dB.
    entry_db: f64,
    ln_evidence: f64,
    inside: f64,
    adjacent: f64,
    by_room: Vec<f64>,
}

/// Weighs the levels of an emission. Levels compare inside a chain only. `None` where nothing was
/// heard at a place.
pub fn weigh(hz: f64, context: &Context, chains: &[Chain]) -> Option<Weighed> {
    let chains: Vec<&Chain> = chains
        .iter()
        .filter(|chain| chain.observations.iter().any(Observation::is_heard))
        .collect();
    if chains.is_empty() {
        return None;
    }
    let everything = || chains.iter().flat_map(|chain| &chain.observations);
    let rooms = visited(everything().filter(|o| o.is_inside()));
    let adjacent = visited(everything().filter(|o| o.zone == Zone::Adjacent));
    let of_outside =
        |chain: &&Chain| chain.observations.iter().filter(|o| o.zone == Zone::Outside).count();
    let references = chains.iter().map(of_outside).max().unwrap_or(0);
    let priors = Priors::at(hz);
    let zones = zone_prior(context.attached);
    let places = scenarios(&rooms, &adjacent, references, &zones);
    let kinds = Kind::all(&priors);
    let in_step = |place: Place| match (place, context.in_step) {
        (Place::Room(room, _), Some((own, ratio))) if room == own => ratio.ln(),
        _ => 0.0,
    };
    // By place, then by kind of premises.
    let logs: Vec<Vec<f64>> = (places.iter())
        .map(|(place, prior)| {
            let mut ln = vec![prior.ln() + in_step(*place); kinds.len()];
            for chain in &chains {
                let evidence = chain_evidence(&priors, place, chain, &kinds);
                ln.iter_mut().zip(evidence).for_each(|(sum, of)| *sum += of);
            }
            ln
        })
        .collect();
    let rooms: Vec<usize> = rooms.iter().map(|(room, _)| *room).collect();
    let on = |kind: usize| {
        let own: Vec<f64> = logs.iter().map(|of_place| of_place[kind]).collect();
        let ln_evidence = ln_sum(&own);
        let share = |of: &dyn Fn(Place) -> bool| -> f64 {
            let held = places.iter().zip(&own).filter(|((place, _), _)| of(*place));
            held.map(|(_, ln)| (ln - ln_evidence).exp()).sum()
        };
        let in_room = |room: &usize| share(&|p| matches!(p, Place::Room(own, _) if own == *room));
        OnKind {
            entry_db: kinds[kind].entry.0,
            ln_evidence,
            inside: share(&|p| matches!(p, Place::Room(..) | Place::OtherRoom(..))),
            adjacent: share(&|p| matches!(p, Place::Adjacent | Place::AdjacentAt(..))),
            by_room: rooms.iter().map(in_room).collect(),
        }
    };
    let has_reference = everything().any(|o| !o.is_inside());
    Some(Weighed {
        own: context.own,
        hz,
        zones,
        has_reference,
        kinds: (0..kinds.len()).map(on).collect(),
        reasons: reasons(&priors, &zones, has_reference, everything())
            .into_iter()
            .chain(chains.iter().any(|c| c.to_dbm_db.is_some()).then(power::reason))
            .collect(),
        rooms,
    })
}

/// Where an emission that is the only one of its premises radiates from. `None` where nothing was
/// heard at a place.
pub fn origin(hz: f64, context: &Context, chains: &[Chain]) -> Option<InsideOutside> {
    Some(weigh(hz, context, chains)?.on(&[], 0))
}

/// Where the emissions of one survey radiate from: each as its own levels and what all the others
/// tell of the premises make it.
pub fn origins(all: &[Option<Weighed>]) -> Vec<Option<InsideOutside>> {
    let others = others::told(all.iter().map(|one| {
        let one = one.as_ref().filter(|one| !one.own)?;
        Some((one.hz, one.kinds.iter().map(|kind| kind.ln_evidence).collect()))
    }));
    let tell = all.iter().flatten().filter(|one| !one.own).count();
    let of = |(index, one): (usize, &Option<Weighed>)| {
        let one = one.as_ref()?;
        Some(one.on(&others.to(index, one.hz), tell - usize::from(!one.own)))
    };
    all.iter().enumerate().map(of).collect()
}

impl Weighed {
    /// The posterior; `others`: the logarithms of what so many others say for each kind of premises.
    fn on(&self, others: &[f64], count: usize) -> InsideOutside {
        let all = premises::all();
        let logs: Vec<f64> = (self.kinds.iter().zip(&all).enumerate())
            .map(|(k, (own, kind))| {
                kind.prior.ln() + own.ln_evidence + others.get(k).copied().unwrap_or(0.0)
            })
            .collect();
        let total = ln_sum(&logs);
        let mean = |of: &dyn Fn(&OnKind) -> f64| -> f64 {
            self.kinds.iter().zip(&logs).map(|(kind, ln)| (ln - total).exp() * of(kind)).sum()
        };
        let (by_model, inside) = (mean(&|kind| kind.inside), self.zones.inside);
        let raw = if self.has_reference { by_model } else { believed(by_model, inside) };
        let room = (self.rooms.iter().enumerate())
            .map(|(index, &room)| (room, mean(&|kind| kind.by_room[index])))
            .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
        let other = |prior: f64| capped(with_prior(raw, inside, prior));
        let told = || {
            let entry_db = mean(&|kind| kind.entry_db);
            let sigma_db = mean(&|kind| (kind.entry_db - entry_db).powi(2)).sqrt();
            let uneven = all.iter().zip(&logs).map(|(kind, ln)| (ln - total).exp() * kind.uneven);
            of_premises(count, entry_db, sigma_db, uneven.sum())
        };
        InsideOutside {
            p_inside: capped(raw),
            prior: inside,
            low: other(OTHER_PRIORS.0),
            high: other(OTHER_PRIORS.1),
            p_adjacent: mean(&|kind| kind.adjacent) * (1.0 - raw) / (1.0 - by_model).max(1e-12),
            room,
            reasons: self.reasons.iter().cloned().chain((count > 0).then(told)).collect(),
        }
    }
}

/// Numbers of rooms, in order, with the spots visited in each.
fn visited<'a>(places: impl Iterator<Item = &'a Observation>) -> Visited {
    let mut all: Visited = Vec::new();
    for place in places {
        let known = all.iter().position(|(room, _)| *room == place.room);
        let index = known.unwrap_or_else(|| {
            all.push((place.room, Vec::new()));
            all.len() - 1
        });
        let spots = &mut all[index].1;
        spots.extend(place.spot.filter(|spot| !spots.contains(spot)));
    }
    all.sort_by_key(|(room, _)| *room);
    all
}

fn capped(p: f64) -> f64 {
    p.clamp(1.0 - SUREST, SUREST)
}

/// Part of the way, in the logarithm of the odds, from the prior to the posterior.
fn believed(posterior: f64, prior: f64) -> f64 {
    let logit = |p: f64| (p / (1.0 - p).max(1e-12)).ln();
    let l = logit(prior) + ROOMS_ALONE * (logit(posterior) - logit(prior));
    1.0 / (1.0 + (-l).exp())
}

/// The posterior that another prior would have given: odds scale.
fn with_prior(posterior: f64, prior: f64, other: f64) -> f64 {
    let odds = |p: f64| p / (1.0 - p).max(1e-12);
    let o = odds(posterior) * odds(other) / odds(prior);
    o / (1.0 + o)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::strengths;

    #[test]
    fn the_end_of_the_scale_everywhere_is_not_a_room() {
        let p = |values: &[f64]| {
            origin(450e6, &Context::default(), &[strengths(values, 12.0).into()]).expect("heard")
        };
        let all = p(&[12.0, 12.0, 12.0, 12.0, 12.0]);
        assert!(all.p_inside < 0.5, "{}", all.p_inside);
        let one = p(&[0.0, 4.0, 12.0, 5.0, 4.0]);
        assert!(one.p_inside > 0.9, "{}", one.p_inside);
    }
}
