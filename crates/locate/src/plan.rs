//! What a known plan adds: points at which an emitter may be, and the way from one to a place.

use crate::Spot;

/// Numbers of the places visited in some zone, with the spots at which, where known.
pub(crate) type Visited = Vec<(usize, Vec<Spot>)>;

/// Where the plan is known: an emitter in a room, and one in what is adjacent, are so far from the
/// place visited there, metres, as likely one as the other (our choice, no source).
pub(crate) const ROOM_RADII_M: [f64; 2] = [1.5, 3.0];
pub(crate) const ADJACENT_RADII_M: [f64; 2] = [2.0, 5.0];
/// The premises reach so far beyond the rooms visited, metres; so many points along each side.
const BEYOND_M: f64 = 4.0;
const ELSEWHERE: usize = 4;
/// What is outside and nearer than this is at points of the plan, so many round the premises.
pub(crate) const CLOSE_M: f64 = 50.0;
const ROUND: usize = 12;
/// Emitter and antenna seldom stand at one height; and one storey, metres (common practice).
const OTHER_HEIGHT_M: f64 = 0.7;
const STOREY_M: f64 = 3.0;
/// Loss per decade differs from way to way by so much, dB (a distance exponent of 3 ± 0.7: common
/// practice, no source).
const DECADE_SIGMA_DB: f64 = 7.0;

/// Points about the spots of a place: four on each circle, one circle turned by half a right angle.
pub(crate) fn about(spots: &[Spot], radii_m: [f64; 2]) -> Vec<Spot> {
    let point = |spot: &Spot, k: usize| {
        let angle = std::f64::consts::FRAC_PI_4 * k as f64;
        let r = radii_m[k % 2];
        Spot { x_m: spot.x_m + r * angle.cos(), y_m: spot.y_m + r * angle.sin(), ..*spot }
    };
    spots.iter().flat_map(|spot| (0..8).map(move |k| point(spot, k))).collect()
}

/// What a known plan says of where the premises are.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Extent {
    x_m: (f64, f64),
    y_m: (f64, f64),
    floor: usize,
}

impl Extent {
    /// About the rooms visited; the lowest floor's number stands for the street.
    pub(crate) fn of(rooms: &Visited) -> Option<Extent> {
        let spots = || rooms.iter().flat_map(|(_, spots)| spots);
        let ends = |of: fn(&Spot) -> f64| {
            let (low, high) = (spots().map(of))
                .fold((f64::INFINITY, f64::NEG_INFINITY), |e, v| (e.0.min(v), e.1.max(v)));
            (low - BEYOND_M, high + BEYOND_M)
        };
        let floor = spots().map(|spot| spot.floor).min()?;
        Some(Extent { x_m: ends(|spot| spot.x_m), y_m: ends(|spot| spot.y_m), floor })
    }

    /// Points all over one floor.
    fn all_over(&self, floor: usize) -> impl Iterator<Item = Spot> + use<> {
        let along =
            |(low, high): (f64, f64), k| low + (high - low) * (k as f64 + 0.5) / ELSEWHERE as f64;
        let (x, y) = (self.x_m, self.y_m);
        (0..ELSEWHERE * ELSEWHERE).map(move |k| Spot {
            x_m: along(x, k % ELSEWHERE),
            y_m: along(y, k / ELSEWHERE),
            floor,
        })
    }

    /// Points so far outside it, round about.
    pub(crate) fn round(&self, distance_m: f64) -> Vec<Spot> {
        let half = |(low, high): (f64, f64)| (0.5 * (low + high), 0.5 * (high - low) + distance_m);
        let ((x, across), (y, along)) = (half(self.x_m), half(self.y_m));
        let turn = |k: usize| std::f64::consts::TAU * (k as f64 + 0.5) / ROUND as f64;
        let point = |k: usize| Spot {
            x_m: x + across * turn(k).cos(),
            y_m: y + along * turn(k).sin(),
            floor: self.floor,
        };
        (0..ROUND).map(point).collect()
    }
}

/// Points all over the floors on which rooms were visited.
pub(crate) fn elsewhere(rooms: &Visited) -> Vec<Spot> {
    let Some(extent) = Extent::of(rooms) else { return Vec::new() };
    let mut floors: Vec<usize> =
        rooms.iter().flat_map(|(_, spots)| spots).map(|spot| spot.floor).collect();
    floors.sort_unstable();
    floors.dedup();
    floors.into_iter().flat_map(|floor| extent.all_over(floor)).collect()
}

/// Mean and variance of the loss over a known distance, the decade's own spread with it.
pub(crate) fn at_distance(decade_db: f64, from: &Spot, to: &Spot) -> (f64, f64) {
    let flat_m = (from.x_m - to.x_m).hypot(from.y_m - to.y_m);
    let up_m = if from.floor == to.floor { OTHER_HEIGHT_M } else { STOREY_M };
    let decades = flat_m.hypot(up_m).log10();
    (decade_db * decades, (DECADE_SIGMA_DB * decades).powi(2))
}
