//! Levels on the floor plans: rooms as hairlines, a mark where was measured, its size by level.

use super::{Drawing, WIDTH, number, short};
use crate::escape::text;
use crate::model::{LevelPoint, Plan, PlanFloor};
use std::fmt::Write as _;

/// Between floors side by side.
const GAP: f64 = 26.0;
/// Over each floor, for its name.
const HEAD: f64 = 20.0;
/// Most units for a metre, and the highest floor.
const MOST_SCALE: f64 = 24.0;
const MOST_HEIGHT: f64 = 300.0;
/// Radii of the weakest and the strongest mark.
const RADII: (f64, f64) = (3.0, 12.0);
/// Width of a letter of a small text.
const LETTER: f64 = 4.9;

/// A rectangle in metres: west, south, east, north.
#[derive(Clone, Copy)]
struct Bounds([f64; 4]);

impl Bounds {
    fn of(floor: &PlanFloor) -> Bounds {
        let corners = floor.rooms.iter().flat_map(|(_, corners)| corners);
        let places = corners.chain(floor.marks.iter().map(|(at, _)| at));
        let start = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
        Bounds(
            places.fold(start, |[w, s, e, n], [x, y]| [w.min(*x), s.min(*y), e.max(*x), n.max(*y)]),
        )
    }
    fn size(self) -> (f64, f64) {
        let [west, south, east, north] = self.0;
        ((east - west).max(1.0), (north - south).max(1.0))
    }
}

pub(super) fn drawing(plan: &Plan) -> Drawing {
    let floors: Vec<(&PlanFloor, Bounds)> =
        plan.floors.iter().map(|floor| (floor, Bounds::of(floor))).collect();
    let mut widths: Vec<f64> = floors.iter().map(|(_, bounds)| bounds.size().0).collect();
    widths.sort_by(|a, b| b.total_cmp(a));
    let across: f64 = widths.iter().take(2).sum();
    let highest = floors.iter().map(|(_, bounds)| bounds.size().1).fold(1.0, f64::max);
    let gaps = if floors.len() > 1 { GAP } else { 0.0 };
    let scale = ((WIDTH - 2.0 - gaps) / across.max(1.0)).min(MOST_SCALE).min(MOST_HEIGHT / highest);
    let mut out = String::new();
    let (mut left, mut top, mut bottom) = (1.0, 0.0, 0.0f64);
    for (floor, bounds) in floors {
        let (wide, high) = bounds.size();
        if left > 1.0 && left + wide * scale > WIDTH {
            (left, top) = (1.0, bottom + 12.0);
        }
        floor_at(&mut out, plan, floor, &Frame { bounds, scale, left, top: top + HEAD });
        left += wide * scale + GAP;
        bottom = bottom.max(top + HEAD + high * scale + 2.0);
    }
    Drawing { width: WIDTH, height: bottom, marks: out }
}

/// Where a floor stands in the drawing.
struct Frame {
    bounds: Bounds,
    scale: f64,
    left: f64,
    top: f64,
}

impl Frame {
    fn at(&self, [x, y]: [f64; 2]) -> (f64, f64) {
        let [west, _, _, north] = self.bounds.0;
        (self.left + (x - west) * self.scale, self.top + (north - y) * self.scale)
    }
}

fn floor_at(out: &mut String, plan: &Plan, floor: &PlanFloor, frame: &Frame) {
    let _ = write!(
        out,
        "<text class=\"strong\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
        frame.left,
        frame.top - 7.0,
        text(&floor.name)
    );
    for (_, corners) in &floor.rooms {
        let mut path = String::new();
        for (i, corner) in corners.iter().enumerate() {
            let (x, y) = frame.at(*corner);
            let _ = write!(path, "{}{x:.1} {y:.1}", if i == 0 { 'M' } else { 'L' });
        }
        let _ = write!(out, "<path class=\"wall\" d=\"{path}Z\"/>");
    }
    for (name, corners) in &floor.rooms {
        let west = corners.iter().map(|c| c[0]).fold(f64::INFINITY, f64::min);
        let east = corners.iter().map(|c| c[0]).fold(f64::NEG_INFINITY, f64::max);
        let north = corners.iter().map(|c| c[1]).fold(f64::NEG_INFINITY, f64::max);
        let letters = ((east - west) * frame.scale - 8.0) / LETTER;
        if letters >= 3.0 {
            let (x, y) = frame.at([west, north]);
            let _ = write!(
                out,
                "<text class=\"soft small\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
                x + 4.0,
                y + 11.0,
                text(&short(name, letters as usize))
            );
        }
    }
    // Small marks over large ones.
    let mut marks: Vec<&([f64; 2], LevelPoint)> = floor.marks.iter().collect();
    marks.sort_by(|a, b| b.1.value.total_cmp(&a.1.value));
    for (at, point) in marks {
        mark_at(out, plan, frame, *at, point);
    }
}

fn mark_at(out: &mut String, plan: &Plan, frame: &Frame, at: [f64; 2], point: &LevelPoint) {
    let (x, y) = frame.at(at);
    let part = ((point.value - plan.low) / (plan.high - plan.low).max(1e-9)).clamp(0.0, 1.0);
    let radius = RADII.0 + (RADII.1 - RADII.0) * part;
    if !point.heard {
        let _ = write!(out, "<path class=\"open\" d=\"M{:.1} {:.1}h8l-4 7z\"/>", x - 4.0, y - 3.0);
    } else if point.inside {
        let _ = write!(out, "<circle class=\"in\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius:.1}\"/>");
    } else {
        let side = 1.8 * radius;
        let _ = write!(
            out,
            "<rect class=\"out\" x=\"{:.1}\" y=\"{:.1}\" width=\"{side:.1}\" height=\"{side:.1}\"/>",
            x - side / 2.0,
            y - side / 2.0
        );
    }
    if !point.heard {
        // Its limit stands in the picture of the levels; here it would crowd the plan.
        return;
    }
    let unit = if plan.unit.starts_with("steps") { "" } else { plan.unit.as_str() };
    let value = format!("{} {unit}", number(point.value));
    let value = value.trim_end().to_owned();
    // Below the mark, where neighbours side by side leave room.
    let (value, y) = (text(&value), y + radius + 9.5);
    let _ = write!(
        out,
        "<text class=\"small mid halo\" x=\"{x:.1}\" y=\"{y:.1}\">{value}</text>\
         <text class=\"small mid strong\" x=\"{x:.1}\" y=\"{y:.1}\">{value}</text>"
    );
}
