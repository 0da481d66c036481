//! How much an emitter loses on the way to each place, for each scenario of where it is: mean and
//! variance over distances, walls and shadowing that nobody measured.

use crate::Observation;
use crate::plan::at_distance;
use crate::premises::Way;
use crate::scenarios::Place;
use propagate::{Building, LossPrior, Shadowing};
use units::Zone;

/// Small-scale fading, antenna orientation and the body of the person beside it: one place stands
/// for its room (common practice, no source; Rayleigh alone is 5.6 dB for a bare carrier, less
/// for a wide emission).
pub const FADING_SIGMA_DB: f64 = 4.0;

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
    /// Carrier.
    pub carrier_hz: f64,
    /// The same, within what the entry losses hold for.
    pub hz: f64,
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
    pub(crate) fn at(carrier_hz: f64) -> Priors {
        // ITU-R P.2109 holds from 80 MHz to 100 GHz; outside it the nearest end is taken.
        let hz = carrier_hz.clamp(80e6, 100e9);
        // ITU-R P.1238 edition 10, office, with and without line of sight.
        let indoors = |sight| Shadowing::indoors("office", sight).unwrap_or_default();
        let (in_sight, shadowing) = (indoors(true), indoors(false));
        // Common practice is 30 dB a decade where the table has no office.
        let decade_db = propagate::distance_coefficient("office", hz).unwrap_or(30.0);
        let traditional = propagate::entry_prior(Building::Traditional, hz);
        // Common practice is 10 dB a floor where the table has no office.
        let floor_db = propagate::floors_db("office", hz, 1).unwrap_or(10.0);
        Priors { carrier_hz, hz, decade_db, floor_db, in_sight, shadowing, traditional }
    }

    /// The way from the emitter to a place.
    pub(crate) fn way(&self, of: &Place, place: &Observation) -> Way {
        let near = place.is_inside();
        let outside = place.zone == Zone::Outside;
        // P.525 where nothing stands between; the P.1238 coefficient already holds the walls of
        // one floor.
        let (free, indoor) = (20.0, self.decade_db);
        let known = of.spot().zip(place.spot);
        let over = |decade_db: f64, low_m: f64, high_m: f64| match known {
            Some((from, to)) => at_distance(decade_db, &from, &to),
            None => over_distance(decade_db, low_m, high_m),
        };
        let floor = match known {
            Some((from, to)) if from.floor != to.floor => squared((self.floor_db, FLOOR_SIGMA_DB)),
            _ => NOTHING,
        };
        // The coefficient over a known distance holds that wall too.
        let wall = match known {
            Some(_) => (0.0, ADJACENT_WALL_DB.1.powi(2)),
            None => squared(ADJACENT_WALL_DB),
        };
        let clutter = (0.0, CLUTTER_DB * CLUTTER_DB);
        let mut shadowing = &self.shadowing;
        let mut entry = false;
        let mut enters = |distance: (f64, f64)| {
            entry = true;
            [distance, NOTHING, NOTHING]
        };
        let parts = match *of {
            Place::Room(room, _) if near && place.room == room => {
                shadowing = &self.in_sight;
                [over(free, 0.7, 6.0), NOTHING, NOTHING]
            }
            Place::Room(..) | Place::OtherRoom(..) if near => {
                [over(indoor, 4.0, 20.0), NOTHING, floor]
            }
            Place::OutsideAt { .. } if outside => [over(free, 8.0, 80.0), clutter, NOTHING],
            Place::OutsideAt { distance_m, .. } => {
                enters(over(free, distance_m + 1.0, distance_m + 16.0))
            }
            Place::Outside { distance_m, behind } if outside => {
                let (low, high) = ((distance_m - 20.0).abs().max(3.0), distance_m + 30.0);
                let way = if behind { squared(BEHIND_DB) } else { NOTHING };
                [over_distance(free, low, high), clutter, way]
            }
            Place::Outside { distance_m, .. } => {
                enters(over_distance(free, distance_m + 1.0, distance_m + 16.0))
            }
            _ if outside => enters(over(free, 8.0, 80.0)),
            Place::Room(..) | Place::OtherRoom(..) => [over(indoor, 2.0, 15.0), wall, floor],
            Place::Adjacent | Place::AdjacentAt(..) if near => {
                [over(indoor, 2.0, 15.0), wall, floor]
            }
            Place::AdjacentAt(number, _) if place.room == number => {
                shadowing = &self.in_sight;
                [over(free, 0.7, 10.0), NOTHING, NOTHING]
            }
            Place::Adjacent | Place::AdjacentAt(..) => [over(25.0, 1.0, 15.0), NOTHING, floor],
        };
        let local = shadowing.sigma_db.powi(2) + FADING_SIGMA_DB * FADING_SIGMA_DB;
        // How a known distance's loss spreads is the premises' doing, an unknown distance not.
        let [distance, rest @ ..] = parts;
        let (known_variance, variance) =
            if known.is_some() { (distance.1, 0.0) } else { (0.0, distance.1) };
        Way {
            loss_db: distance.0 + rest.iter().map(|part| part.0).sum::<f64>(),
            entry,
            variance: variance + rest.iter().map(|part| part.1).sum::<f64>(),
            uneven_variance: local + known_variance,
        }
    }
}

const NOTHING: (f64, f64) = (0.0, 0.0);

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
    fn loss_over_an_unknown_distance() {
        // 20 log d, d log-uniform from 1 m to 100 m: mean 20 dB, rectangular over 40 dB.
        let (mean, variance) = over_distance(20.0, 1.0, 100.0);
        assert!((mean - 20.0).abs() < 1e-12 && (variance - 1600.0 / 12.0).abs() < 1e-9);
    }
}
