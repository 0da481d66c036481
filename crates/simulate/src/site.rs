//! Where things are, and how much is lost between two places: free space (ITU-R P.525), every
//! wall and slab that the straight line crosses, log-normal shadowing drawn for each pair.

use crate::draw;
use crate::scene::{Place, Scene};
use units::{Db, Zone};

/// A place resolved to the grid: east, north, up, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// East.
    pub x_m: f64,
    /// North.
    pub y_m: f64,
    /// Above the ground.
    pub z_m: f64,
}

impl Point {
    /// Straight-line distance, metres.
    pub fn distance_m(&self, other: &Point) -> f64 {
        let d = [self.x_m - other.x_m, self.y_m - other.y_m, self.z_m - other.z_m];
        d.iter().map(|x| x * x).sum::<f64>().sqrt()
    }
}

/// Height of what stands or is held without saying, metres.
const USUAL_HEIGHT_M: f64 = 1.2;
/// No path is counted as shorter: nearer than this the far-field formulas mean nothing.
const NEAREST_M: f64 = 0.3;

/// The point that a place names. An unknown floor counts as the ground; the scene's check has
/// refused it before.
pub fn point(scene: &Scene, place: &Place) -> Point {
    let floor = place.floor.as_ref().and_then(|f| scene.floors.iter().find(|x| x.name == *f));
    let base_m = floor.map_or(0.0, |f| f.level_m);
    let [x_m, y_m] = place.at_m.unwrap_or_else(|| {
        let (sin, cos) = place.bearing_deg.unwrap_or(0.0).to_radians().sin_cos();
        let d = place.distance_m.unwrap_or(0.0);
        [d * sin, d * cos]
    });
    Point { x_m, y_m, z_m: base_m + place.height_m.unwrap_or(USUAL_HEIGHT_M) }
}

/// The zone and room of a place: that of the room that holds it, else outside.
pub fn zone(scene: &Scene, place: &Place) -> (Zone, Option<String>) {
    let p = point(scene, place);
    let within = |edge: [f64; 2], v: f64| edge[0].min(edge[1]) <= v && v <= edge[0].max(edge[1]);
    let floors = scene.floors.iter().filter(|f| place.floor.as_ref() == Some(&f.name));
    floors
        .flat_map(|f| &f.rooms)
        .find(|r| within(r.x_m, p.x_m) && within(r.y_m, p.y_m))
        .map_or((Zone::Outside, None), |r| (r.zone, Some(r.name.clone())))
}

/// Materials that the straight line crosses, in the order of the scene's floors and walls.
pub fn crossed<'a>(scene: &'a Scene, a: &Point, b: &Point) -> Vec<&'a str> {
    let mut found = Vec::new();
    for floor in &scene.floors {
        for wall in &floor.walls {
            if let Some(t) = crossing(a, b, wall.from_m, wall.to_m) {
                let z = a.z_m + t * (b.z_m - a.z_m);
                if floor.level_m <= z && z < floor.level_m + floor.height_m {
                    found.push(wall.material.as_str());
                }
            }
        }
        let Some(slab) = &floor.slab else { continue };
        let through = (floor.level_m - a.z_m) / (b.z_m - a.z_m);
        if (a.z_m < floor.level_m) != (b.z_m < floor.level_m) {
            let (x, y) = (a.x_m + through * (b.x_m - a.x_m), a.y_m + through * (b.y_m - a.y_m));
            let ends = || floor.walls.iter().flat_map(|w| [w.from_m, w.to_m]);
            let covers = |v: f64, axis: usize| {
                let low = ends().map(|e| e[axis]).fold(f64::INFINITY, f64::min);
                let high = ends().map(|e| e[axis]).fold(f64::NEG_INFINITY, f64::max);
                low <= v && v <= high
            };
            if covers(x, 0) && covers(y, 1) {
                found.push(slab.as_str());
            }
        }
    }
    found
}

/// Where the line a–b crosses a wall, 0 at `a`, 1 at `b`; `None` if it does not. A line through
/// the exact end of a wall crosses it once (half-open).
fn crossing(a: &Point, b: &Point, from: [f64; 2], to: [f64; 2]) -> Option<f64> {
    let (dx, dy) = (b.x_m - a.x_m, b.y_m - a.y_m);
    let (wx, wy) = (to[0] - from[0], to[1] - from[1]);
    let cross = dx * wy - dy * wx;
    if cross.abs() < 1e-12 {
        return None;
    }
    let (px, py) = (from[0] - a.x_m, from[1] - a.y_m);
    let t = (px * wy - py * wx) / cross;
    let u = (px * dy - py * dx) / cross;
    ((0.0..=1.0).contains(&t) && (0.0..1.0).contains(&u)).then_some(t)
}

/// Loss from an emitter to a position at a frequency, dB, positive: free space, walls, slabs.
/// Materials without figures count nothing; the scene's check has refused them before.
pub fn path_loss(scene: &Scene, from: &Place, to: &Place, hz: f64) -> Db {
    let (a, b) = (point(scene, from), point(scene, to));
    let walls: f64 =
        crossed(scene, &a, &b).iter().filter_map(|m| propagate::wall_loss_db(m, hz).ok()).sum();
    Db(propagate::free_space_db(hz, a.distance_m(&b).max(NEAREST_M)) + walls)
}

/// The shadowing between one emitter and one position, dB; the same whenever it is asked for.
pub fn shadowing(scene: &Scene, seed: u64, emitter: &str, position: &str) -> Db {
    if scene.shadowing_sigma_db == 0.0 {
        return Db(0.0);
    }
    let path = [0x54ad, draw::name(emitter), draw::name(position)];
    Db(scene.shadowing_sigma_db * draw::normal(&mut draw::rng(seed, &path)))
}
