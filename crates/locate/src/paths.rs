//! How much an emitter loses on the way to each place, for each scenario of where it is: mean and
//! variance over distances, walls and shadowing that nobody measured.

use crate::Observation;
use crate::plan::at_distance;
use crate::scenarios::{Place, Scenario};
use propagate::{Building, LossPrior, Shadowing};
use units::Zone;

/// Small-scale fading, antenna orientation and the body of the person beside it: one place stands
/// for its room (common practice, no source; Rayleigh alone is 5.6 dB for a bare carrier, less
/// for a wide emission).
pub const FADING_SIGMA_DB: f64 = 4.0;

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

/// Share of buildings with metallised glass (our choice, no source).
const EFFICIENT_SHARE: f64 = 0.3;
/// Entry loss varies from building to building and from place to place inside one, in equal parts
/// (our choice: ITU-R P.2109 gives only their sum).
const ENTRY_COMMON: f64 = std::f64::consts::FRAC_1_SQRT_2;
/// What a wall or floor towards an adjacent place takes, and its standard deviation, dB: from a
/// light corridor wall to a party wall (data/materials.csv, planning classes light_partition and
/// brick_double about 1 GHz, rounded).
const ADJACENT_WALL_DB: (f64, f64) = (5.0, 5.0);
/// What a floor takes differs by so much, dB (common practice, no source).
const FLOOR_SIGMA_DB: f64 = 5.0;
/// What else stands between a reference and an emitter outside: standard deviation, dB (common
/// practice, no source).
const CLUTTER_DB: f64 = 4.0;
/// What it then takes, and its standard deviation, dB: what goes round and over it is no weaker
/// than that (common practice, no source).
const BEHIND_DB: (f64, f64) = (18.0, 7.0);

/// What a carrier frequency makes of the priors.
#[derive(Debug, Clone)]
pub(crate) struct Priors {
    /// Entry loss of the building: loss, variance from place to place, weight.
    pub entries: Vec<(f64, f64, f64)>,
    /// Loss per decade of distance between rooms, dB.
    decade_db: f64,
    /// What one floor takes, dB.
    floor_db: f64,
    /// Shadowing in the emitter's own room.
    pub in_sight: Shadowing,
    /// And everywhere else.
    pub shadowing: Shadowing,
    pub traditional: LossPrior,
}

impl Priors {
    pub(crate) fn at(hz: f64) -> Priors {
        // ITU-R P.2109 holds from 80 MHz to 100 GHz; outside it the nearest end is taken.
        let hz = hz.clamp(80e6, 100e9);
        let shares = [
            (Building::Traditional, 1.0 - EFFICIENT_SHARE),
            (Building::ThermallyEfficient, EFFICIENT_SHARE),
        ];
        // ITU-R P.1238 edition 10, office, with and without line of sight.
        let indoors = |sight| Shadowing::indoors("office", sight).unwrap_or_default();
        let (in_sight, shadowing) = (indoors(true), indoors(false));
        let mut entries = Vec::new();
        for (building, share) in shares {
            let sigma_db = propagate::entry_prior(building, hz).sigma_db;
            // P.2109 already counts the shadowing at each place inside.
            let own = (1.0 - ENTRY_COMMON * ENTRY_COMMON) * sigma_db * sigma_db;
            let own = (own - shadowing.sigma_db.powi(2)).max(0.0);
            for (z, weight) in THREE_POINTS {
                let loss = propagate::entry_loss_db(building, hz, ENTRY_COMMON * z);
                entries.push((loss, own, share * weight));
            }
        }
        // Common practice is 30 dB a decade where the table has no office.
        let decade_db = propagate::distance_coefficient("office", hz).unwrap_or(30.0);
        let traditional = propagate::entry_prior(Building::Traditional, hz);
        // Common practice is 10 dB a floor where the table has no office.
        let floor_db = propagate::floors_db("office", hz, 1).unwrap_or(10.0);
        Priors { entries, decade_db, floor_db, in_sight, shadowing, traditional }
    }

    /// Expected loss from the emitter to a place, relative to 1 m, and its variance.
    pub(crate) fn path(&self, scenario: &Scenario, place: &Observation) -> (f64, f64) {
        let near = place.is_inside();
        let outside = place.zone == Zone::Outside;
        let entry = (scenario.entry_db, scenario.entry_own_variance);
        // P.525 where nothing stands between; the P.1238 coefficient already holds the walls of
        // one floor.
        let (free, indoor) = (20.0, self.decade_db);
        let known = scenario.place.spot().zip(place.spot);
        let over = |decade_db: f64, low_m: f64, high_m: f64| match known {
            Some((from, to)) => at_distance(decade_db, &from, &to),
            None => over_distance(decade_db, low_m, high_m),
        };
        let floor = match known {
            Some((from, to)) if from.floor != to.floor => squared((self.floor_db, FLOOR_SIGMA_DB)),
            _ => (0.0, 0.0),
        };
        // The coefficient over a known distance holds that wall too.
        let wall = match known {
            Some(_) => (0.0, ADJACENT_WALL_DB.1.powi(2)),
            None => squared(ADJACENT_WALL_DB),
        };
        let mut shadowing = &self.shadowing;
        let parts = match scenario.place {
            Place::Room(room, _) if near && place.room == room => {
                shadowing = &self.in_sight;
                [over(free, 0.7, 6.0), (0.0, 0.0), (0.0, 0.0)]
            }
            Place::Room(..) | Place::OtherRoom(..) if near => {
                [over(indoor, 4.0, 20.0), (0.0, 0.0), floor]
            }
            Place::OutsideAt { .. } if outside => {
                [over(free, 8.0, 80.0), (0.0, CLUTTER_DB * CLUTTER_DB), (0.0, 0.0)]
            }
            Place::OutsideAt { distance_m, .. } => {
                [over(free, distance_m + 1.0, distance_m + 16.0), entry, (0.0, 0.0)]
            }
            Place::Outside { distance_m, behind } if outside => {
                let (low, high) = ((distance_m - 20.0).abs().max(3.0), distance_m + 30.0);
                let way = if behind { squared(BEHIND_DB) } else { (0.0, 0.0) };
                [over_distance(free, low, high), (0.0, CLUTTER_DB * CLUTTER_DB), way]
            }
            Place::Outside { distance_m, .. } => {
                [over_distance(free, distance_m + 1.0, distance_m + 16.0), entry, (0.0, 0.0)]
            }
            _ if outside => [over(free, 8.0, 80.0), entry, (0.0, 0.0)],
            Place::Room(..) | Place::OtherRoom(..) => [over(indoor, 2.0, 15.0), wall, floor],
            Place::Adjacent | Place::AdjacentAt(..) if near => {
                [over(indoor, 2.0, 15.0), wall, floor]
            }
            Place::AdjacentAt(number, _) if place.room == number => {
                shadowing = &self.in_sight;
                [over(free, 0.7, 10.0), (0.0, 0.0), (0.0, 0.0)]
            }
            Place::Adjacent | Place::AdjacentAt(..) => [over(25.0, 1.0, 15.0), (0.0, 0.0), floor],
        };
        let local = shadowing.sigma_db.powi(2) + FADING_SIGMA_DB * FADING_SIGMA_DB;
        parts.iter().fold((0.0, local), |(loss, variance), part| (loss + part.0, variance + part.1))
    }
}

fn squared((mean, sigma): (f64, f64)) -> (f64, f64) {
    (mean, sigma * sigma)
}

/// Mean and variance of `decade_db`·log10(d) for d log-uniform between two distances.
fn over_distance(decade_db: f64, low_m: f64, high_m: f64) -> (f64, f64) {
    let (low, high) = (low_m.log10(), high_m.log10());
    let spread = decade_db * (high - low);
    (decade_db * 0.5 * (low + high), spread * spread / 12.0)
}

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
    }

    #[test]
    fn loss_over_an_unknown_distance() {
        // 20 log d, d log-uniform from 1 m to 100 m: mean 20 dB, rectangular over 40 dB.
        let (mean, variance) = over_distance(20.0, 1.0, 100.0);
        assert!((mean - 20.0).abs() < 1e-12 && (variance - 1600.0 / 12.0).abs() < 1e-9);
    }
}
