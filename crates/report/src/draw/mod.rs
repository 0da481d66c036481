//! Pictures as SVG: thin ink, direct labels, nothing told by colour alone. One drawing serves every
//! writer; its classes are styled by [`STYLE`].

mod lanes;
mod levels;
mod plan;
mod raster;
mod scale;
mod spectrum;

use crate::model::Plot;

/// How the classes of the drawings look: plain CSS, without variables, that every reader knows.
pub(crate) const STYLE: &str = include_str!("style.css");

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

/// What stands inside an `svg` element.
pub(crate) struct Drawing {
    /// Units across.
    pub(crate) width: f64,
    /// Units down.
    pub(crate) height: f64,
    /// Elements.
    pub(crate) marks: String,
}

/// A plot as a drawing; `None` for a photograph, which is none.
pub(crate) fn drawing(plot: &Plot) -> Option<Drawing> {
    match plot {
        Plot::Levels(levels) => Some(levels::drawing(levels)),
        Plot::Spectrum(spectrum) => Some(spectrum::drawing(spectrum)),
        Plot::OnTimes(lanes) => Some(lanes::drawing(lanes)),
        Plot::Plan(plan) => Some(plan::drawing(plan)),
        Plot::Scale(steps) => Some(scale::drawing(steps)),
        Plot::Photograph(_) => None,
    }
}

pub(super) fn number(value: f64) -> String {
    let rounded = (value * 10.0).round() / 10.0;
    let sign = if rounded < 0.0 { "−" } else { "" };
    let text = if rounded.fract() == 0.0 || rounded.abs() >= 20.0 {
        format!("{:.0}", rounded.abs())
    } else {
        format!("{:.1}", rounded.abs())
    };
    format!("{sign}{text}")
}

pub(super) fn short(name: &str, most: usize) -> String {
    if name.chars().count() <= most {
        return name.to_owned();
    }
    let mut cut: String = name.chars().take(most.saturating_sub(1)).collect();
    cut.push('…');
    cut
}
