//! When something was on, a lane for each measurement.

use super::{AXIS, Drawing, LEFT, LINE, NAME, WIDTH, short};
use crate::escape::text;
use crate::model::Lanes;
use std::fmt::Write as _;

/// Narrowest bar that print shows.
const BAR: f64 = 1.1;

pub(super) fn drawing(lanes: &Lanes) -> Drawing {
    let bottom = LINE * lanes.lanes.len() as f64 + 4.0;
    let right = WIDTH - 30.0;
    let at = |s: f64| LEFT + (right - LEFT) * (s / lanes.length_s.max(1e-9)).clamp(0.0, 1.0);
    let mut out = String::new();
    for (s, name) in &lanes.ticks {
        let x = at(*s);
        let _ = write!(
            out,
            "<path class=\"hair\" d=\"M{x:.1} 2V{bottom:.1}\"/>\
             <text class=\"soft mid\" x=\"{x:.1}\" y=\"{:.1}\">{}</text>",
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
    Drawing { width: WIDTH, height: bottom + AXIS, marks: out }
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
