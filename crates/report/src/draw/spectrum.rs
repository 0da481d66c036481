//! Power over frequency around an emission, with what was received elsewhere under it.

use super::{AXIS, Drawing, WIDTH, number};
use crate::escape::text;
use crate::model::Spectrum;
use crate::words;
use std::fmt::Write as _;

const LEFT: f64 = 46.0;
const HEIGHT: f64 = 170.0;
/// Room for what the lines are, on the right.
const NAMES: f64 = 132.0;

pub(super) fn drawing(spectrum: &Spectrum) -> Drawing {
    let right = WIDTH - NAMES;
    let (from, until) = spectrum.span_hz;
    let (low, high) = spectrum.levels;
    let x =
        |hz: f64| LEFT + (right - LEFT) * ((hz - from) / (until - from).max(1e-9)).clamp(0.0, 1.0);
    let y = |db: f64| {
        6.0 + (HEIGHT - 6.0) * (1.0 - ((db - low) / (high - low).max(1e-9)).clamp(0.0, 1.0))
    };
    let mut out = String::new();
    let (band_left, band_right) = (x(spectrum.band_hz.0), x(spectrum.band_hz.1));
    let _ = write!(
        out,
        "<rect class=\"band\" x=\"{band_left:.1}\" y=\"6\" width=\"{:.1}\" height=\"{:.1}\"/>",
        (band_right - band_left).max(1.0),
        HEIGHT - 6.0
    );
    let step = if high - low > 60.0 { 20.0 } else { 10.0 };
    let mut mark = (low / step).ceil() * step;
    while mark <= high + 1e-9 {
        let at = y(mark);
        let _ = write!(
            out,
            "<path class=\"hair\" d=\"M{LEFT} {at:.1}H{right}\"/>\
             <text class=\"soft end\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            LEFT - 6.0,
            at + 3.8,
            number(mark)
        );
        mark += step;
    }
    // The lines last drawn lie on top: the first is the one that matters.
    for (i, (_, levels)) in spectrum.lines.iter().enumerate().rev() {
        let class = if i == 0 { "first" } else { "second" };
        let steps = levels.len().max(2) as f64 - 1.0;
        let mut path = String::new();
        for (k, level) in levels.iter().enumerate() {
            let hz = from + (until - from) * k as f64 / steps;
            let _ = write!(path, "{}{:.1} {:.1}", if k == 0 { 'M' } else { 'L' }, x(hz), y(*level));
        }
        let _ = write!(out, "<path class=\"{class}\" d=\"{path}\"/>");
    }
    // What each line is, in the order of the lines' right ends, never on top of one another.
    let mut names: Vec<(usize, f64)> = spectrum
        .lines
        .iter()
        .enumerate()
        .filter_map(|(i, (_, levels))| levels.last().map(|level| (i, y(*level))))
        .collect();
    names.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut last = f64::NEG_INFINITY;
    for (i, at) in names {
        let at = at.max(last + 13.0).min(HEIGHT - 4.0);
        last = at;
        let class = if i == 0 { "strong" } else { "soft" };
        let name = super::short(&spectrum.lines[i].0, 24);
        let _ = write!(
            out,
            "<text class=\"{class}\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            right + 8.0,
            at + 3.8,
            text(&name)
        );
    }
    let _ = write!(
        out,
        "<path class=\"axis\" d=\"M{LEFT} {HEIGHT}H{right}\"/>\
         <text class=\"soft\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
        right + 8.0,
        HEIGHT + 14.0,
        text(&spectrum.unit)
    );
    for (part, class) in [(0.0, "soft"), (0.5, "soft mid"), (1.0, "soft end")] {
        let hz = from + (until - from) * part;
        let _ = write!(
            out,
            "<text class=\"{class}\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            x(hz),
            HEIGHT + 14.0,
            text(&words::frequency(hz))
        );
    }
    Drawing { width: WIDTH, height: HEIGHT + AXIS, marks: out }
}
