//! Levels by position, a line for each.

use super::{AXIS, Drawing, LEFT, LINE, NAME, RIGHT, WIDTH, number, short};
use crate::escape::text;
use crate::model::{LevelPoint, Levels};
use std::fmt::Write as _;

pub(super) fn drawing(levels: &Levels) -> Drawing {
    let bottom = LINE * levels.points.len() as f64 + 4.0;
    let span = (levels.high - levels.low).max(1e-9);
    let at = |value: f64| LEFT + (RIGHT - LEFT) * ((value - levels.low) / span).clamp(0.0, 1.0);
    let mut out = String::new();
    let step = if span > 80.0 {
        20.0
    } else if span > 15.0 {
        10.0
    } else {
        (span / 6.0).ceil().max(1.0)
    };
    let mut mark = (levels.low / step).ceil() * step;
    while mark <= levels.high + 1e-9 {
        let x = at(mark);
        let _ = write!(
            out,
            "<path class=\"hair\" d=\"M{x:.1} 2V{bottom:.1}\"/>\
             <text class=\"soft mid\" x=\"{x:.1}\" y=\"{:.1}\">{}</text>",
            bottom + 14.0,
            number(mark)
        );
        mark += step;
    }
    let _ = write!(
        out,
        "<path class=\"axis\" d=\"M{LEFT} {bottom:.1}H{RIGHT}\"/>\
         <text class=\"soft\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
        RIGHT + 24.0,
        bottom + 14.0,
        text(&levels.unit)
    );
    for (i, point) in levels.points.iter().enumerate() {
        let y = LINE * (i as f64 + 0.5) + 2.0;
        let _ = write!(
            out,
            "<text x=\"0\" y=\"{:.1}\">{}<tspan class=\"soft\" dx=\"4\">{}</tspan></text>",
            y + 4.0,
            text(&short(&point.place, NAME.saturating_sub(point.zone.len() + 1))),
            text(&point.zone)
        );
        point_at(&mut out, point, levels, y, &at);
    }
    Drawing { width: WIDTH, height: bottom + AXIS, marks: out }
}

fn point_at(
    out: &mut String,
    point: &LevelPoint,
    levels: &Levels,
    y: f64,
    at: &impl Fn(f64) -> f64,
) {
    if levels.unit.starts_with("steps") {
        return steps_at(out, point, levels, y, at);
    }
    let x = at(point.value);
    let unit = levels.unit.as_str();
    let value = if point.heard {
        let _ = write!(out, "<path class=\"stem\" d=\"M{LEFT} {y:.1}H{x:.1}\"/>");
        if let Some(u) = point.u {
            let (low, high) = (at(point.value - u), at(point.value + u));
            let _ = write!(out, "<path class=\"spread\" d=\"M{low:.1} {y:.1}H{high:.1}\"/>");
        }
        // Round inside, square elsewhere: the shape tells it as the word does.
        let _ = if point.inside {
            write!(out, "<circle class=\"in\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3.6\"/>")
        } else {
            let (left, top) = (x - 3.2, y - 3.2);
            write!(
                out,
                "<rect class=\"out\" x=\"{left:.1}\" y=\"{top:.1}\" width=\"6.4\" height=\"6.4\"/>"
            )
        };
        format!("{} {unit}", number(point.value))
    } else {
        let _ = write!(
            out,
            "<path class=\"open\" d=\"M{:.1} {:.1}L{:.1} {y:.1}L{:.1} {:.1}Z\"/>",
            x + 2.5,
            y - 3.5,
            x - 4.5,
            x + 2.5,
            y + 3.5
        );
        format!("not heard, under {}", number(point.value))
    };
    let _ = write!(
        out,
        "<text x=\"{:.1}\" y=\"{:.1}\"{}>{}</text>",
        RIGHT + 14.0,
        y + 4.0,
        if point.heard { "" } else { " class=\"soft\"" },
        text(value.trim_end())
    );
}

/// A strength as so many steps of its scale: what counts is their order, not how far they are apart.
fn steps_at(
    out: &mut String,
    point: &LevelPoint,
    levels: &Levels,
    y: f64,
    at: &impl Fn(f64) -> f64,
) {
    let mut filled = String::new();
    let mut open = String::new();
    for step in 0..levels.high.round() as u32 {
        let (left, right) = (at(f64::from(step)) + 1.2, at(f64::from(step + 1)) - 1.2);
        let path = if f64::from(step) < point.value { &mut filled } else { &mut open };
        let _ = write!(path, "M{left:.1} {:.1}H{right:.1}v9H{left:.1}z", y - 4.5);
    }
    for (class, path) in [("in", filled), ("step", open)] {
        if !path.is_empty() {
            let _ = write!(out, "<path class=\"{class}\" d=\"{path}\"/>");
        }
    }
    let value = match point.heard {
        true => format!("{} of {}", number(point.value), number(levels.high)),
        false => "not heard".to_owned(),
    };
    let _ = write!(
        out,
        "<text x=\"{:.1}\" y=\"{:.1}\"{}>{value}</text>",
        RIGHT + 14.0,
        y + 4.0,
        if point.heard { "" } else { " class=\"soft\"" }
    );
}
