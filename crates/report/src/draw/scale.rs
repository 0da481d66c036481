//! What words of likelihood stand for: equal cells, since most of them would be too narrow to read.

use super::{Drawing, WIDTH};
use crate::escape::text;
use std::fmt::Write as _;

pub(super) fn drawing(steps: &[(&'static str, f64, f64)]) -> Drawing {
    let cell = WIDTH / steps.len().max(1) as f64;
    let mut out = String::new();
    for (i, (word, low, high)) in steps.iter().enumerate() {
        let (left, mid) = (cell * i as f64, cell * (i as f64 + 0.5));
        let range = match (*low, *high) {
            (0.0, high) => format!("under {:.0} %", high * 100.0),
            (low, 1.0) => format!("{:.0} % or more", low * 100.0),
            (low, high) => format!("{:.0} to {:.0} %", low * 100.0, high * 100.0),
        };
        let thick = 1.0 + 1.4 * i as f64;
        let _ = write!(
            out,
            "<rect class=\"in\" x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{thick:.1}\"/>\
             <text class=\"mid\" x=\"{mid:.1}\" y=\"24\">{}</text>\
             <text class=\"soft mid small\" x=\"{mid:.1}\" y=\"37\">{range}</text>",
            left + 2.0,
            8.0 - thick,
            cell - 4.0,
            text(word)
        );
    }
    Drawing { width: WIDTH, height: 42.0, marks: out }
}
