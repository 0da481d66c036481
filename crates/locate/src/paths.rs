//! How much an emitter loses on the way to each place, for each scenario of where it is: mean and
//! variance over distances, walls and shadowing that nobody measured.

use crate::plan::{
    ADJACENT_RADII_M, CLOSE_M, Extent, ROOM_RADII_M, Visited, about, at_distance, elsewhere,
};
use crate::{Observation, Spot};
use propagate::{Building, LossPrior, Shadowing};
use units::Zone;

/// Prior probabilities of where an emission comes from (methods give the outside about half; our
/// choice, no source).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZonePrior {
    /// Inside the premises.
    pub inside: f64,
    /// Corridor, next flat, floor above or below.
    pub adjacent: f64,
    /// Outside.
    pub outside: f64,
}

/// Premises with adjacent places that the technician named, and premises for which none was: who
/// stands alone has none, and where there is one it is a reference of every plan.
pub fn zone_prior(attached: bool) -> ZonePrior {
    match attached {
        true => ZonePrior { inside: 0.45, adjacent: 0.15, outside: 0.40 },
        false => ZonePrior { inside: 0.51, adjacent: 0.04, outside: 0.45 },
    }
}

/// Of what is inside, this part is in a room where nobody listened (our choice, no source).
pub const UNVISITED_ROOM_PRIOR: f64 = 0.3;
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

/// Distances of an emitter outside to the building, metres: the middles of eight equal parts of
/// the logarithm from 5 m (a car at the kerb) to 50 km (a broadcaster), equally likely (our
/// choice, no source).
const OUTSIDE_M: [f64; 8] = [8.9, 28.1, 88.9, 281.0, 889.0, 2810.0, 8890.0, 28_100.0];
/// Share of buildings with metallised glass (our choice, no source).
const EFFICIENT_SHARE: f64 = 0.3;
/// Entry loss varies from building to building and from place to place inside one, in equal parts
/// (our choice: ITU-R P.2109 gives only their sum).
const ENTRY_COMMON: f64 = std::f64::consts::FRAC_1_SQRT_2;
/// What a wall or floor towards an adjacent place takes, and its standard deviation, dB: from a
/// light corridor wall to a party wall (data/materials.csv, planning classes light_partition and
/// brick_double about 1 GHz, rounded).
const ADJACENT_WALL_DB: (f64, f64) = (5.0, 5.0);
/// What is adjacent is about a place visited there as often as elsewhere (our choice, no source).
const ADJACENT_VISITED: f64 = 0.5;
/// What a floor takes differs by so much, dB (common practice, no source).
const FLOOR_SIGMA_DB: f64 = 5.0;
/// What else stands between a reference and an emitter outside: standard deviation, dB (common
/// practice, no source).
const CLUTTER_DB: f64 = 4.0;
/// Half the building, and a reference's distance from its wall, metres (our choice, no source):
/// how often the building itself stands between a reference and an emitter outside.
const HALF_BUILDING_M: f64 = 8.0;
const REFERENCE_M: f64 = 20.0;
/// What it then takes, and its standard deviation, dB: what goes round and over it is no weaker
/// than that (common practice, no source).
const BEHIND_DB: (f64, f64) = (18.0, 7.0);

/// Where the emitter is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Place {
    /// In a room that was visited; at a point of it where the plan is known.
    Room(usize, Option<Spot>),
    /// In a room where nobody listened; somewhere about those visited where the plan is known.
    OtherRoom(Option<Spot>),
    /// Corridor, next flat, floor above or below.
    Adjacent,
    /// The same, at a point about an adjacent place (its number) of a known plan.
    AdjacentAt(usize, Spot),
    /// Outside, so far from the building; `behind` it, seen from the references.
    Outside { distance_m: f64, behind: bool },
    /// Outside, close by, at a point of a known plan.
    OutsideAt { distance_m: f64, at: Spot },
}

/// One scenario: where it is, and what the building lets through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Scenario {
    pub place: Place,
    pub prior: f64,
    entry_db: f64,
    entry_own_variance: f64,
}

/// What a carrier frequency makes of the priors.
#[derive(Debug, Clone)]
pub(crate) struct Priors {
    /// Entry loss of the building: loss, variance from place to place, weight.
    entries: Vec<(f64, f64, f64)>,
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

    /// Every scenario with its prior; they sum to one. `rooms` and `adjacent`: the numbers of the
    /// places visited there, with the spots at which.
    pub(crate) fn scenarios(
        &self,
        rooms: &Visited,
        adjacent: &Visited,
        references: usize,
        zones: &ZonePrior,
    ) -> Vec<Scenario> {
        let mut places: Vec<(Place, f64)> = Vec::new();
        let unvisited = if rooms.is_empty() { 1.0 } else { UNVISITED_ROOM_PRIOR };
        let each = zones.inside * (1.0 - unvisited) / rooms.len().max(1) as f64;
        for (room, spots) in rooms {
            let points = about(spots, ROOM_RADII_M);
            let part = each / points.len().max(1) as f64;
            places.extend(points.iter().map(|&at| (Place::Room(*room, Some(at)), part)));
            if points.is_empty() {
                places.push((Place::Room(*room, None), each));
            }
        }
        let points = elsewhere(rooms);
        let part = zones.inside * unvisited / points.len().max(1) as f64;
        places.extend(points.iter().map(|&at| (Place::OtherRoom(Some(at)), part)));
        if points.is_empty() {
            places.push((Place::OtherRoom(None), part));
        }
        // What is adjacent is about a place that was visited there, or anywhere else about.
        let points: Vec<(usize, Spot)> = (adjacent.iter())
            .flat_map(|(number, spots)| {
                about(spots, ADJACENT_RADII_M).into_iter().map(move |at| (*number, at))
            })
            .collect();
        let near = if points.is_empty() { 0.0 } else { ADJACENT_VISITED };
        let part = zones.adjacent * near / points.len().max(1) as f64;
        places.extend(points.iter().map(|&(number, at)| (Place::AdjacentAt(number, at), part)));
        places.push((Place::Adjacent, zones.adjacent * (1.0 - near)));
        let each = zones.outside / OUTSIDE_M.len() as f64;
        // Several references stand round the building: seldom is it between all of them.
        let round = Extent::of(rooms);
        for distance_m in OUTSIDE_M {
            if let Some(extent) = round.filter(|_| distance_m < CLOSE_M) {
                let points = extent.round(distance_m);
                let part = each / points.len() as f64;
                let place = |at| (Place::OutsideAt { distance_m, at }, part);
                places.extend(points.into_iter().map(place));
                continue;
            }
            let behind = behind(distance_m).powi(references.max(1) as i32);
            places.push((Place::Outside { distance_m, behind: false }, each * (1.0 - behind)));
            places.push((Place::Outside { distance_m, behind: true }, each * behind));
        }
        let mut all = Vec::with_capacity(places.len() * self.entries.len());
        for (place, p) in places {
            for &(entry_db, entry_own_variance, weight) in &self.entries {
                all.push(Scenario { place, prior: p * weight, entry_db, entry_own_variance });
            }
        }
        all
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

impl Place {
    fn spot(&self) -> Option<Spot> {
        match *self {
            Place::Room(_, at) | Place::OtherRoom(at) => at,
            Place::AdjacentAt(_, at) | Place::OutsideAt { at, .. } => Some(at),
            _ => None,
        }
    }
}

/// Chance that a round building hides one place at a random angle from another: half the angle
/// that it fills as seen from either, summed, over half a turn.
fn behind(distance_m: f64) -> f64 {
    let half = |away_m: f64| (HALF_BUILDING_M / (HALF_BUILDING_M + away_m)).asin();
    (half(distance_m) + half(REFERENCE_M)) / std::f64::consts::PI
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
    fn priors_sum_to_one() {
        let spot = Spot { x_m: 2.0, y_m: 3.0, floor: 0 };
        for rooms in [vec![], vec![(3, vec![spot])], vec![(0, vec![]), (7, vec![spot, spot])]] {
            let all = Priors::at(433.92e6).scenarios(&rooms, &rooms, 1, &zone_prior(true));
            let sum: f64 = all.iter().map(|s| s.prior).sum();
            assert!((sum - 1.0).abs() < 1e-9, "{sum}");
        }
        for attached in [true, false] {
            let zones = zone_prior(attached);
            assert!((zones.inside + zones.adjacent + zones.outside - 1.0).abs() < 1e-12);
        }
    }

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
    fn a_building_hides_what_is_behind_it() {
        // asin(8/16) + asin(8/28) = 0.5236 + 0.2898 of π.
        assert!((behind(8.0) - 0.2589).abs() < 1e-4, "{}", behind(8.0));
        assert!(behind(2000.0) < 0.1);
    }

    #[test]
    fn loss_over_an_unknown_distance() {
        // 20 log d, d log-uniform from 1 m to 100 m: mean 20 dB, rectangular over 40 dB.
        let (mean, variance) = over_distance(20.0, 1.0, 100.0);
        assert!((mean - 20.0).abs() < 1e-12 && (variance - 1600.0 / 12.0).abs() < 1e-9);
    }
}
