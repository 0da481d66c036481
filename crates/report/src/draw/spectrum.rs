//! Spectra over one band as lines, and under them one of them over time, on the same axis of frequency.

use super::raster;
use super::{AXIS, Drawing, WIDTH, number, short};
use crate::escape::{base64, text};
use crate::model::{LevelsOverTime, LineStyle, Spectrum, SpectrumLine};
use std::fmt::Write as _;

/// Where both parts begin and end across.
const LEFT: f64 = 146.0;
const RIGHT: f64 = 548.0;
/// Where the lines begin and end downward.
const TOP: f64 = 24.0;
const FLOOR: f64 = 144.0;
/// Between the parts, and the height of the lower one.
const GAP: f64 = 15.0;
const DEEP: f64 = 84.0;
/// Where the names of the lines stand, a piece of the line before each.
const NAMES: f64 = 562.0;
const PIECE: f64 = 20.0;
/// Letters of a name that fit there.
const NAME: usize = 18;
/// Narrowest band that print shows.
const BAND: f64 = 1.6;
/// Width of a letter of a name over a band.
const LETTER: f64 = 6.4;
/// Shades that the scale of levels shows.
const SHADES: usize = 28;

/// Places on the drawing.
struct Axes<'a> {
    of: &'a Spectrum,
}

impl Axes<'_> {
    fn x(&self, hz: f64) -> f64 {
        let (low, high) = self.of.span_hz;
        LEFT + (RIGHT - LEFT) * ((hz - low) / (high - low).max(1e-9)).clamp(0.0, 1.0)
    }
    fn y(&self, db: f64) -> f64 {
        let (low, high) = self.of.span_db;
        FLOOR - (FLOOR - TOP) * ((db - low) / (high - low).max(1e-9)).clamp(0.0, 1.0)
    }
}

pub(super) fn drawing(of: &Spectrum) -> Drawing {
    let axes = Axes { of };
    let bottom = if of.over_time.is_some() { FLOOR + GAP + DEEP } else { FLOOR };
    let mut out = String::new();
    bands(&mut out, &axes);
    levels(&mut out, &axes);
    let crop = (of.span_hz.1 - of.span_hz.0) * 1e-3;
    for line in &of.lines {
        let _ = write!(
            out,
            "<path class=\"{}\" d=\"{}\"/>",
            class(line.style),
            path(line, &axes, crop)
        );
    }
    let _ = write!(out, "<path class=\"axis\" d=\"M{LEFT} {FLOOR}H{RIGHT}\"/>");
    names(&mut out, &of.lines);
    if let Some(picture) = &of.over_time {
        over_time(&mut out, picture, of.unit);
    }
    for (hz, name) in &of.ticks_hz {
        let _ = write!(
            out,
            "<path class=\"axis\" d=\"M{0:.1} {bottom:.1}v3.5\"/>\
             <text class=\"soft mid\" x=\"{0:.1}\" y=\"{1:.1}\">{2}</text>",
            axes.x(*hz),
            bottom + 15.0,
            text(name)
        );
    }
    let _ = write!(
        out,
        "<text class=\"soft\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
        NAMES,
        bottom + 15.0,
        of.unit_hz
    );
    Drawing { width: WIDTH, height: bottom + AXIS, marks: out }
}

/// The emission's band, shaded, with its name over it; the bands of others with theirs, as far as
/// there is room.
fn bands(out: &mut String, axes: &Axes<'_>) {
    let Spectrum { mark, band_hz, others, .. } = axes.of;
    let mut taken: Vec<(f64, f64)> = Vec::new();
    let all =
        std::iter::once((mark, band_hz)).chain(others.iter().map(|(name, band)| (name, band)));
    for (name, (low_hz, high_hz)) in all {
        let (low, high) = (axes.x(*low_hz), axes.x(*high_hz));
        let wide = (high - low).max(BAND);
        let left = ((low + high - wide) / 2.0).clamp(LEFT, RIGHT - wide);
        let middle = left + wide / 2.0;
        let reach = (LETTER * name.chars().count() as f64).max(wide) / 2.0;
        let place = (middle - reach, middle + reach);
        if taken.iter().any(|(from, until)| place.0 < until + 3.0 && from - 3.0 < place.1) {
            continue;
        }
        let (line, words) = match taken.is_empty() {
            true => ("axis", "mid strong"),
            false => ("stem", "mid soft"),
        };
        if taken.is_empty() {
            let _ = write!(
                out,
                "<rect class=\"band\" x=\"{left:.1}\" y=\"{TOP}\" width=\"{wide:.1}\" height=\"{:.1}\"/>",
                FLOOR - TOP
            );
        }
        let _ = write!(
            out,
            "<path class=\"{line}\" d=\"M{left:.1} {:.1}v-4h{wide:.1}v4\"/>\
             <text class=\"{words}\" x=\"{middle:.1}\" y=\"{:.1}\">{}</text>",
            TOP - 1.0,
            TOP - 9.0,
            text(name)
        );
        taken.push(place);
    }
}

/// The axis of levels: a hairline every ten decibels or so.
fn levels(out: &mut String, axes: &Axes<'_>) {
    let (low, high) = axes.of.span_db;
    let step = if high - low > 60.0 { 20.0 } else { 10.0 };
    let mut level = (low / step).ceil() * step;
    while level <= high + 1e-9 {
        let y = axes.y(level);
        let _ = write!(
            out,
            "<path class=\"hair\" d=\"M{LEFT} {y:.1}H{RIGHT}\"/>\
             <text class=\"soft end\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            LEFT - 6.0,
            y + 3.8,
            number(level)
        );
        level += step;
    }
    let _ = write!(
        out,
        "<text class=\"soft end\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
        LEFT - 6.0,
        TOP - 11.0,
        axes.of.unit
    );
}

/// A line; points that fall beside the span are left out.
fn path(line: &SpectrumLine, axes: &Axes<'_>, beside_hz: f64) -> String {
    let (low, high) = axes.of.span_hz;
    let mut path = String::new();
    let mut pen_down = false;
    for (hz, level) in &line.points {
        let Some(level) = level.filter(|_| (low - beside_hz..=high + beside_hz).contains(hz))
        else {
            pen_down = false;
            continue;
        };
        let _ = write!(
            path,
            "{}{:.1} {:.1}",
            if pen_down { 'L' } else { 'M' },
            axes.x(*hz),
            axes.y(level)
        );
        pen_down = true;
    }
    path
}

fn class(style: LineStyle) -> &'static str {
    match style {
        LineStyle::Full => "full",
        LineStyle::Thin => "thin",
        LineStyle::Dashed => "dashed",
    }
}

/// What each line is, beside them, what lies on top first.
fn names(out: &mut String, lines: &[SpectrumLine]) {
    let mut y = TOP + 8.0;
    let mut last = "";
    for line in lines.iter().rev() {
        let _ = write!(
            out,
            "<path class=\"{}\" d=\"M{NAMES} {:.1}h{PIECE}\"/>",
            class(line.style),
            y - 3.4
        );
        let mut said = |words: &str, class: &str| {
            let _ = write!(
                out,
                "<text class=\"{class}\" x=\"{:.1}\" y=\"{y:.1}\">{}</text>",
                NAMES + PIECE + 5.0,
                text(&short(words, NAME))
            );
            y += 12.0;
        };
        if line.place != last {
            said(&line.place, "small strong");
        }
        said(&line.what, "small soft");
        y += 4.0;
        last = &line.place;
    }
}

fn over_time(out: &mut String, picture: &LevelsOverTime, unit: &str) {
    let top = FLOOR + GAP;
    let image = base64(&raster::png(picture.cells, &picture.shades));
    let _ = write!(
        out,
        "<image class=\"pixels\" x=\"{LEFT}\" y=\"{top:.1}\" width=\"{:.1}\" height=\"{DEEP}\" \
         preserveAspectRatio=\"none\" href=\"data:image/png;base64,{image}\"/>\
         <path class=\"axis\" d=\"M{LEFT} {top:.1}V{1:.1}H{RIGHT}\"/>",
        RIGHT - LEFT,
        top + DEEP
    );
    for (s, name) in &picture.ticks_s {
        let y = top + DEEP * s / picture.length_s.max(1e-9);
        let _ = write!(
            out,
            "<path class=\"axis\" d=\"M{:.1} {y:.1}h-3.5\"/>\
             <text class=\"soft end\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            LEFT,
            LEFT - 6.0,
            y + 3.8,
            text(name)
        );
    }
    // The scale of levels, the strongest on top.
    let each = DEEP / SHADES as f64;
    for i in 0..SHADES {
        let shade = 255 - (254 * i / (SHADES - 1)) as u8;
        let _ = write!(
            out,
            "<rect x=\"{NAMES}\" y=\"{:.2}\" width=\"9\" height=\"{:.2}\" fill=\"{}\"/>",
            top + each * i as f64,
            each + 0.1,
            raster::colour(shade)
        );
    }
    for (level, y) in [(picture.levels.1, top + 8.0), (picture.levels.0, top + DEEP)] {
        let _ = write!(
            out,
            "<text class=\"small soft\" x=\"{:.1}\" y=\"{y:.1}\">{} {unit}</text>",
            NAMES + 14.0,
            number(level)
        );
    }
}
