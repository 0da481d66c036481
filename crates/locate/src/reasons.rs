//! What a probability of 'inside' leans on, in words.

use crate::paths::{self, Priors};
use crate::scenarios::ZonePrior;
use crate::{Observation, Received, scale};
use units::{Reason, Zone};

/// What the emissions of a survey tell of its premises.
pub(crate) fn of_premises(others: usize, entry_db: f64, sigma_db: f64, uneven: f64) -> Reason {
    let emissions = if others == 1 { "other emission" } else { "other emissions" };
    Reason::new(
        "premises",
        format!(
            "with {others} {emissions}: this building takes {entry_db:.0} dB ± {sigma_db:.0} dB here, \
             levels in it are {uneven:.1} times as uneven as is usual"
        ),
    )
    .with("emissions", others as f64)
    .with("entry_db", (entry_db * 10.0).round() / 10.0)
    .with("entry_sigma_db", (sigma_db * 10.0).round() / 10.0)
    .with("uneven", (uneven * 100.0).round() / 100.0)
}

/// The priors that a result leans on, and what was missing.
pub(crate) fn reasons<'a>(
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
