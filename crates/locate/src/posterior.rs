//! The posterior over where the emitter is, and the reasons that go with it.

use crate::chain::chain_evidence;
use crate::paths::{self, Priors};
use crate::plan::Visited;
use crate::scenarios::{Place, ZonePrior, zone_prior};
use crate::{Chain, Observation, Received, power, scale};
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
}

/// Where an emission radiates from. Levels compare inside a chain only. `None` where nothing was
/// heard at a place.
pub fn origin(hz: f64, context: &Context, chains: &[Chain]) -> Option<InsideOutside> {
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
    let scenarios = priors.scenarios(&rooms, &adjacent, references, &zones);
    let in_step = |place: Place| match (place, context.in_step) {
        (Place::Room(room, _), Some((own, ratio))) if room == own => ratio.ln(),
        _ => 0.0,
    };
    let logs: Vec<f64> = scenarios
        .iter()
        .map(|s| {
            let evidence: f64 =
                chains.iter().map(|chain| chain_evidence(hz, &priors, s, chain)).sum();
            s.prior.ln() + evidence + in_step(s.place)
        })
        .collect();
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = logs.iter().map(|l| (l - most).exp()).collect();
    let total: f64 = weights.iter().sum();
    let share = |of: &dyn Fn(Place) -> bool| -> f64 {
        let held = scenarios.iter().zip(&weights).filter(|(s, _)| of(s.place));
        held.map(|(_, w)| w).sum::<f64>() / total
    };
    let has_reference = everything().any(|o| !o.is_inside());
    let by_model = share(&|p| matches!(p, Place::Room(..) | Place::OtherRoom(..)));
    let raw = if has_reference { by_model } else { believed(by_model, zones.inside) };
    let room = rooms
        .iter()
        .map(|&(room, _)| (room, share(&|p| matches!(p, Place::Room(own, _) if own == room))))
        .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
    let other = |prior: f64| capped(with_prior(raw, zones.inside, prior));
    Some(InsideOutside {
        p_inside: capped(raw),
        prior: zones.inside,
        low: other(OTHER_PRIORS.0),
        high: other(OTHER_PRIORS.1),
        p_adjacent: share(&|p| matches!(p, Place::Adjacent | Place::AdjacentAt(..))) * (1.0 - raw)
            / (1.0 - by_model).max(1e-12),
        room,
        reasons: reasons(&priors, &zones, has_reference, everything())
            .into_iter()
            .chain(chains.iter().any(|c| c.to_dbm_db.is_some()).then(power::reason))
            .collect(),
    })
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

fn reasons<'a>(
    priors: &Priors,
    zones: &ZonePrior,
    has_reference: bool,
    all: impl Iterator<Item = &'a Observation>,
) -> Vec<Reason> {
    let entry = &priors.traditional;
    let (sight_db, sigma_db) = (priors.in_sight.sigma_db, priors.shadowing.sigma_db);
    let mut reasons = vec![
        Reason::new(
            "origin_priors",
            format!(
                "{} {:.0} dB ± {:.0} dB ({}); shadowing {sight_db:.0} dB in its room, {sigma_db:.0} dB elsewhere (ITU-R P.1238); inside {:.0} % and adjacent {:.0} % at first",
                entry.name,
                entry.median_db,
                entry.sigma_db,
                entry.source,
                100.0 * zones.inside,
                100.0 * zones.adjacent
            ),
        )
        .with("entry_db", entry.median_db)
        .with("entry_sigma_db", entry.sigma_db)
        .with("entry_source", entry.source.as_str())
        .with("shadowing_sigma_db", sigma_db)
        .with("shadowing_in_sight_db", sight_db)
        .with("fading_sigma_db", paths::FADING_SIGMA_DB)
        .with("prior_inside", zones.inside)
        .with("prior_adjacent", zones.adjacent),
    ];
    if !has_reference {
        reasons.push(Reason::new(
            "no_reference",
            "no reference outside or next door listened here: rooms alone tell little",
        ));
    }
    let zones: Vec<(Zone, bool)> = all
        .map(|o| (o.zone, matches!(o.received, Received::Strength(_) | Received::NoStrength)))
        .collect();
    if zones.iter().any(|z| z.1) {
        reasons.push(
            Reason::new(
                "ordinal_strength",
                format!(
                    "strengths of an uncalibrated scale, its span taken as {:.0} dB within a factor {:.1}",
                    scale::SPAN_MEDIAN_DB,
                    scale::SPAN_LOG_SIGMA.exp()
                ),
            )
            .with("span_db", scale::SPAN_MEDIAN_DB)
            .with("span_factor", scale::SPAN_LOG_SIGMA.exp()),
        );
    }
    reasons
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
