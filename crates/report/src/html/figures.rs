//! Pictures as inline SVG: thin ink, direct labels, nothing told by colour alone.

use super::escape::text;
use crate::model::{Figure, Lanes, LevelPoint, Levels, Plot};
use std::fmt::Write as _;

/// Units across; at the width of a page one is a quarter of a millimetre.
const WIDTH: f64 = 680.0;
/// Where the drawing begins, beside the names.
const LEFT: f64 = 204.0;
/// Where it ends, before the values.
const RIGHT: f64 = 526.0;
/// Height of one line.
const LINE: f64 = 19.0;
/// Room for the marks of the axis.
const AXIS: f64 = 22.0;
/// Letters of a name that fit beside the drawing.
const NAME: usize = 31;
/// Narrowest bar that print shows.
const BAR: f64 = 1.1;

/// A figure's drawing; its words stand in `title`.
pub(super) fn svg(figure: &Figure) -> String {
    let (height, drawing) = match &figure.plot {
        Plot::Levels(levels) => drawn_levels(levels),
        Plot::OnTimes(lanes) => drawn_lanes(lanes),
    };
    let words = text(&figure.alternative);
    format!(
        "<svg viewBox=\"0 0 {WIDTH:.0} {height:.0}\" role=\"img\" aria-label=\"{words}\">\
         <title>{words}</title>{drawing}</svg>\n"
    )
}

fn drawn_levels(levels: &Levels) -> (f64, String) {
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
             <text class=\"soft\" x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>",
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
            "<text x=\"0\" y=\"{:.1}\">{}<tspan class=\"soft\"> {}</tspan></text>",
            y + 4.0,
            text(&short(&point.place, NAME.saturating_sub(point.zone.len() + 1))),
            text(&point.zone)
        );
        point_at(&mut out, point, levels, y, &at);
    }
    (bottom + AXIS, out)
}

fn point_at(
    out: &mut String,
    point: &LevelPoint,
    levels: &Levels,
    y: f64,
    at: &impl Fn(f64) -> f64,
) {
    let x = at(point.value);
    let unit = if levels.unit.starts_with("steps") { "" } else { levels.unit.as_str() };
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

fn drawn_lanes(lanes: &Lanes) -> (f64, String) {
    let bottom = LINE * lanes.lanes.len() as f64 + 4.0;
    let right = WIDTH - 30.0;
    let at = |s: f64| LEFT + (right - LEFT) * (s / lanes.length_s.max(1e-9)).clamp(0.0, 1.0);
    let mut out = String::new();
    for (s, name) in &lanes.ticks {
        let x = at(*s);
        let _ = write!(
            out,
            "<path class=\"hair\" d=\"M{x:.1} 2V{bottom:.1}\"/>\
             <text class=\"soft\" x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>",
            bottom + 14.0,
            text(name)
        );
    }
    let _ = write!(out, "<path class=\"axis\" d=\"M{LEFT} {bottom:.1}H{right:.1}\"/>");
    for (i, lane) in lanes.lanes.iter().enumerate() {
        let y = LINE * (i as f64 + 0.5) + 2.0;
        let (from, until) =
            (at(lane.listened.0), at(lane.listened.1).max(at(lane.listened.0) + BAR));
        let _ = write!(
            out,
            "<text x=\"0\" y=\"{:.1}\">{}</text><path class=\"stem\" d=\"M{from:.1} {y:.1}H{until:.1}\"/>",
            y + 4.0,
            text(&short(&lane.name, NAME))
        );
        let mut bars = String::new();
        for (left, width) in bars_of(&lane.on, &at) {
            let _ = write!(bars, "M{left:.1} {:.1}h{width:.1}v9h-{width:.1}z", y - 4.5);
        }
        if !bars.is_empty() {
            let _ = write!(out, "<path class=\"in\" d=\"{bars}\"/>");
        }
    }
    (bottom + AXIS, out)
}

/// Bars that print can show: none narrower than it can, those that would touch as one.
fn bars_of(on: &[(f64, f64)], at: &impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
    let mut bars: Vec<(f64, f64)> = Vec::new();
    for &(from, until) in on {
        let (left, width) = (at(from), (at(until) - at(from)).max(BAR));
        match bars.last_mut().filter(|(last, wide)| left <= last + wide + 0.2) {
            Some((last, wide)) => *wide = wide.max(left + width - *last),
            None => bars.push((left, width)),
        }
    }
    bars
}

fn number(value: f64) -> String {
    let rounded = (value * 10.0).round() / 10.0;
    let sign = if rounded < 0.0 { "−" } else { "" };
    let text = if rounded.fract() == 0.0 || rounded.abs() >= 20.0 {
        format!("{:.0}", rounded.abs())
    } else {
        format!("{:.1}", rounded.abs())
    };
    format!("{sign}{text}")
}

fn short(name: &str, most: usize) -> String {
    if name.chars().count() <= most {
        return name.to_owned();
    }
    let mut cut: String = name.chars().take(most.saturating_sub(1)).collect();
    cut.push('…');
    cut
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_burst_is_a_bar_and_near_ones_are_one() {
        let at = |s: f64| s / 100.0;
        let bars = bars_of(&[(0.0, 0.5), (1.0, 1.5), (5_000.0, 5_000.1)], &at);
        assert_eq!(bars.len(), 2);
        assert!(bars.iter().all(|(_, width)| *width >= BAR));
    }
}
