//! What all emissions of one survey share: how much this building lets through, and how unevenly
//! levels lie about their means in it. Nobody measured either; every emission tells of both.

use crate::paths::Priors;
use propagate::Building;

/// One kind of premises; what it lets through depends on the carrier (`Priors::entry`).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Premises {
    /// Kind of building.
    pub building: Building,
    /// Where among buildings of its kind, standard normal.
    pub z: f64,
    /// Factor on the standard deviations of levels about their means.
    pub uneven: f64,
    /// Prior probability.
    pub prior: f64,
}

/// Share of buildings with metallised glass (our choice, no source).
const EFFICIENT_SHARE: f64 = 0.3;
/// Standard deviation of the logarithm of how unevenly levels lie, from one premises to the next:
/// shadowing of 3 to 8 dB about some 5 (methods; Gudmundson 1991 and ITU-R P.1238 give as much).
const UNEVEN_LOG_SIGMA: f64 = 0.35;

/// Points and weights of a standard normal: three and five of Gauss–Hermite (Abramowitz and Stegun
/// 25.4.46; z = x√2, weight w/√π).
const THREE_POINTS: [(f64, f64); 3] =
    [(-1.732_050_807_568_877, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.732_050_807_568_877, 1.0 / 6.0)];
pub(crate) const NORMAL_POINTS: [(f64, f64); 5] = [
    (-2.856_970_013_872_806, 0.011_257_411_327_720_69),
    (-1.355_626_179_974_266, 0.222_075_922_005_612_64),
    (0.0, 0.533_333_333_333_333_3),
    (1.355_626_179_974_266, 0.222_075_922_005_612_64),
    (2.856_970_013_872_806, 0.011_257_411_327_720_69),
];

/// Kinds that differ in nothing but how unevenly levels lie stand side by side, so many.
pub(crate) const SPREADS: usize = THREE_POINTS.len();

/// All kinds, the same for every emission; their priors sum to one.
pub(crate) fn all() -> Vec<Premises> {
    let shares = [
        (Building::Traditional, 1.0 - EFFICIENT_SHARE),
        (Building::ThermallyEfficient, EFFICIENT_SHARE),
    ];
    let mut all = Vec::new();
    for (building, share) in shares {
        for (z, of_loss) in NORMAL_POINTS {
            for (of_spread, weight) in THREE_POINTS {
                let uneven = (UNEVEN_LOG_SIGMA * of_spread).exp();
                all.push(Premises { building, z, uneven, prior: share * of_loss * weight });
            }
        }
    }
    all
}

/// Premises with what their building takes of one carrier: loss and variance, dB and dB².
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Kind {
    pub premises: Premises,
    pub entry: (f64, f64),
}

impl Kind {
    /// All kinds, in the order of `all`.
    pub(crate) fn all(priors: &Priors) -> Vec<Kind> {
        let of = |premises: Premises| Kind { premises, entry: priors.entry(&premises) };
        all().into_iter().map(of).collect()
    }
}

/// An emission on given premises: what a scenario's way to a place loses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Way {
    /// Mean loss without that of the building, relative to 1 m, dB.
    pub loss_db: f64,
    /// Whether it enters or leaves the building.
    pub entry: bool,
    /// Variance that is the same on any premises, dB².
    pub variance: f64,
    /// Variance that their unevenness scales, dB².
    pub uneven_variance: f64,
}

impl Way {
    /// Mean loss and variance on given premises; `entry` is what `Priors::entry` makes of them.
    pub(crate) fn on(&self, premises: &Premises, entry: (f64, f64)) -> (f64, f64) {
        let (loss, own) = if self.entry { entry } else { (0.0, 0.0) };
        let scale = premises.uneven * premises.uneven;
        (self.loss_db + loss, self.variance + scale * (self.uneven_variance + own))
    }
}

impl Priors {
    /// What a building takes in the middle, and how its places differ, dB and dB².
    pub(crate) fn entry(&self, premises: &Premises) -> (f64, f64) {
        let sigma_db = propagate::entry_prior(premises.building, self.hz).sigma_db;
        // P.2109 already counts the shadowing at each place inside.
        let own = (1.0 - ENTRY_COMMON * ENTRY_COMMON) * sigma_db * sigma_db;
        let own = (own - self.shadowing.sigma_db.powi(2)).max(0.0);
        (propagate::entry_loss_db(premises.building, self.hz, ENTRY_COMMON * premises.z), own)
    }
}

/// Entry loss varies from building to building and from place to place inside one, in equal parts
/// (our choice: ITU-R P.2109 gives only their sum).
const ENTRY_COMMON: f64 = std::f64::consts::FRAC_1_SQRT_2;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_points_have_the_moments_of_a_normal() {
        // 1, 0, 1, 0, 3, 0, 15 (closed form).
        for (power, moment) in [(0, 1.0), (2, 1.0), (4, 3.0), (6, 15.0)] {
            let found: f64 = NORMAL_POINTS.iter().map(|(z, w)| w * z.powi(power)).sum();
            assert!((found - moment).abs() < 1e-9, "{power}: {found}");
            let found: f64 = THREE_POINTS.iter().map(|(z, w)| w * z.powi(power)).sum();
            assert!(power > 4 || (found - moment).abs() < 1e-9, "{power}: {found}");
        }
        assert!((all().iter().map(|p| p.prior).sum::<f64>() - 1.0).abs() < 1e-9);
    }
}
