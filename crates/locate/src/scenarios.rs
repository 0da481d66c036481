//! Where an emitter may be, each with its prior.

use crate::Spot;
use crate::plan::{ADJACENT_RADII_M, CLOSE_M, Extent, ROOM_RADII_M, Visited, about, elsewhere};

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
/// Distances of an emitter outside to the building, metres: the middles of eight equal parts of
/// the logarithm from 5 m (a car at the kerb) to 50 km (a broadcaster), equally likely (our
/// choice, no source).
const OUTSIDE_M: [f64; 8] = [8.9, 28.1, 88.9, 281.0, 889.0, 2810.0, 8890.0, 28_100.0];
/// Half the building, and a reference's distance from its wall, metres (our choice, no source):
/// how often the building itself stands between a reference and an emitter outside.
const HALF_BUILDING_M: f64 = 8.0;
const REFERENCE_M: f64 = 20.0;
/// What is adjacent is about a place visited there as often as elsewhere (our choice, no source).
const ADJACENT_VISITED: f64 = 0.5;

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

/// Every place where it may be, with its prior; they sum to one. `rooms` and `adjacent`: the
/// numbers of the places visited there, with the spots at which.
pub(crate) fn scenarios(
    rooms: &Visited,
    adjacent: &Visited,
    references: usize,
    zones: &ZonePrior,
) -> Vec<(Place, f64)> {
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
    places
}

impl Place {
    pub(crate) fn spot(&self) -> Option<Spot> {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn priors_sum_to_one() {
        let spot = Spot { x_m: 2.0, y_m: 3.0, floor: 0 };
        for rooms in [vec![], vec![(3, vec![spot])], vec![(0, vec![]), (7, vec![spot, spot])]] {
            let all = scenarios(&rooms, &rooms, 1, &zone_prior(true));
            let sum: f64 = all.iter().map(|s| s.1).sum();
            assert!((sum - 1.0).abs() < 1e-9, "{sum}");
        }
        for attached in [true, false] {
            let zones = zone_prior(attached);
            assert!((zones.inside + zones.adjacent + zones.outside - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn a_building_hides_what_is_behind_it() {
        // asin(8/16) + asin(8/28) = 0.5236 + 0.2898 of π.
        assert!((behind(8.0) - 0.2589).abs() < 1e-4, "{}", behind(8.0));
        assert!(behind(2000.0) < 0.1);
    }
}
