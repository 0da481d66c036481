//! What one chain's observations say of one scenario.

use crate::evidence::{POWER_SIGMA_DB, Term, log_evidence};
use crate::paths::Priors;
use crate::premises::{Kind, Way};
use crate::scale::{self, Reading};
use crate::scenarios::Place;
use crate::{Chain, Observation, Received, power};

/// ln evidence of one chain for each kind of premises, its unknown scale integrated out where it
/// has one.
pub(crate) fn chain_evidence(priors: &Priors, of: &Place, chain: &Chain, all: &[Kind]) -> Vec<f64> {
    let places = &chain.observations;
    let ways: Vec<Way> = places.iter().map(|place| priors.way(of, place)).collect();
    let ordinal =
        places.iter().any(|o| matches!(o.received, Received::Strength(_) | Received::NoStrength));
    // Power as the terms have it: what a place 1 m away would receive, in the chain's unit.
    let as_received =
        |to_dbm_db: f64| -propagate::free_space_db(priors.carrier_hz.max(1e6), 1.0) - to_dbm_db;
    let own = chain.to_dbm_db.filter(|_| !ordinal).map(as_received);
    let on = |kind: &Kind| {
        let on = |way: &Way| way.on(&kind.premises, kind.entry);
        let losses: Vec<(f64, f64)> = ways.iter().map(on).collect();
        if !ordinal {
            return evidence_at(of, &losses, places, 0.0, own);
        }
        let logs = scale::spans_db()
            .map(|(span_db, weight)| weight.ln() + evidence_at(of, &losses, places, span_db, None));
        ln_sum(&logs)
    };
    all.iter().map(on).collect()
}

/// ln Σ exp.
pub(crate) fn ln_sum(logs: &[f64]) -> f64 {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    most + logs.iter().map(|l| (l - most).exp()).sum::<f64>().ln()
}

/// The same for one span of the scale; `from_eirp_db`: what makes an EIRP in dBm a power in the
/// chain's unit, where that is known.
fn evidence_at(
    of: &Place,
    losses: &[(f64, f64)],
    chain: &[Observation],
    span_db: f64,
    from_eirp_db: Option<f64>,
) -> f64 {
    let mut terms = Vec::with_capacity(chain.len());
    let mut loudest = (f64::NEG_INFINITY, 0.0);
    let mut ln_widths = 0.0;
    for (place, &(loss, variance)) in chain.iter().zip(losses) {
        // Of equal ones the nearer.
        let louder = |old: (f64, f64), db: f64| {
            let over = db > old.0 || (db == old.0 && loss < old.1);
            if over { (db, loss) } else { old }
        };
        let heard =
            |db: f64, own: f64| Term::Heard { power_db: db + loss, variance: variance + own };
        let not_heard = |limit: f64| Term::NotHeard {
            power_db: limit + loss,
            variance,
            p_silent: place.p_silent,
        };
        let term = match place.received {
            Received::Level { db, u_db } => {
                loudest = louder(loudest, db);
                heard(db, u_db * u_db)
            }
            Received::Strength(strength) => match scale::reading(strength, span_db) {
                Reading::About(db, own) => {
                    loudest = louder(loudest, db);
                    // What was read is a step, not a level: density times the step's width.
                    ln_widths += (span_db / strength.of).ln();
                    heard(db, own)
                }
                Reading::AtLeast(db, own) => {
                    loudest = louder(loudest, db);
                    Term::Over { power_db: db + loss, variance: variance + own }
                }
            },
            Received::Below { limit_db } => not_heard(limit_db),
            Received::NoStrength => not_heard(scale::BOTTOM_DB),
        };
        terms.push(term);
    }
    let Some(from_eirp_db) = from_eirp_db else {
        // What is heard from afar sends with more: what is likely is the level, not the power.
        return log_evidence(&terms, loudest.0 + loudest.1, POWER_SIGMA_DB) + ln_widths;
    };
    let sent = |(eirp_dbm, sigma_db, weight): (f64, f64, f64)| {
        weight.ln() + log_evidence(&terms, eirp_dbm + from_eirp_db, sigma_db)
    };
    ln_sum(&power::eirp_dbm(of).map(sent)) + ln_widths
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::strengths;
    use units::Strength;

    /// A step of a scale is two steps of one twice as fine: the chances add.
    #[test]
    fn a_reading_is_as_likely_as_the_two_halves_of_its_step() {
        let priors = Priors::at(450e6);
        let kind = Kind::all(&priors).swap_remove(0);
        let far = Place::Outside { distance_m: 281.0, behind: false };
        for (span_db, of) in [(25.0, Place::Room(1, None)), (64.0, far)] {
            let chance = |own: f64, steps: f64| {
                let mut chain = strengths(&[0.0, 5.0, 7.0], 12.0);
                chain[1].received = Received::Strength(Strength { value: own, of: steps });
                let on = |place| priors.way(&of, place).on(&kind.premises, kind.entry);
                let losses: Vec<(f64, f64)> = chain.iter().map(on).collect();
                evidence_at(&of, &losses, &chain, span_db, None).exp()
            };
            let (whole, halves) = (chance(5.0, 12.0), chance(9.0, 24.0) + chance(10.0, 24.0));
            assert!((whole / halves - 1.0).abs() < 0.05, "{span_db}: {whole} {halves}");
        }
    }
}
