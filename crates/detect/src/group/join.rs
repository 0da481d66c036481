//! Which lines are one emitter's, from frequency, width, level and timing.
//!
//! First pairs of lines, rule after rule ([`super::rules`]), then what a strong one puts beside
//! itself ([`super::beside`], [`super::products`]).

use super::Look;
use super::edges::Edges;
use super::line::{Line, Role};
use super::rules::{cut_by_band, drift, part_or_view, pieces, same_channel, tones};
use super::{beside, comb, products};
use crate::pulse::Pulse;

/// Levels of one emitter's bursts in one recording scatter less than this, dB (fading within a
/// room; common practice, no source).
const LIKE_LEVEL_DB: f64 = 8.0;

/// How badly a pulse fits a line, as a sum of squared deviations; `None` if it does not.
pub(super) fn distance(l: &Line, p: &Pulse) -> Option<f64> {
    let e = l.edges();
    let width = e.width_hz();
    let spread = like_width(e.bare, width, e.u_hz, p.bare, p.bandwidth_hz, p.u_bandwidth_hz)?;
    let least = width.min(p.bandwidth_hz);
    let scatter = l.centre_scatter_hz();
    let u = (p.u_centre_hz.powi(2) + scatter.powi(2)).sqrt();
    let centre = (p.centre_hz - l.centre_hz().0).abs().min((p.centre_hz - l.recent_hz).abs());
    if centre > 3.0 * u + 0.25 * least {
        return None;
    }
    let level = p.level_dbfs - l.level_dbfs();
    if level.abs() > LIKE_LEVEL_DB + 3.0 * p.u_level_db {
        return None;
    }
    Some((centre / (u + 0.1 * least)).powi(2) + spread + (level / 3.0).powi(2))
}

/// Whether two widths may be one emitter's, and how far apart they are in squared deviations. A
/// bare line is at most as wide as it says.
pub(super) fn like_width(
    bare_a: bool,
    a: f64,
    u_a: f64,
    bare_b: bool,
    b: f64,
    u_b: f64,
) -> Option<f64> {
    match (bare_a, bare_b) {
        (true, true) => return Some(0.0),
        (true, false) if b <= a => return Some(0.0),
        (false, true) if a <= b => return Some(0.0),
        _ => {}
    }
    let ratio = (a / b).ln().abs();
    let u = (u_a / a).hypot(u_b / b).min(0.3);
    (ratio <= 2f64.ln() + 3.0 * u).then(|| (ratio / (0.35 + u)).powi(2))
}

/// A line with what the rules ask of it.
pub(super) struct Candidate {
    pub line: Line,
    pub edges: Edges,
    pub centre_hz: f64,
    pub level_db: f64,
    /// Part of the time looked at its centre that it is on.
    pub share: f64,
    /// On for nearly all of that time.
    pub steady: bool,
}

impl Candidate {
    fn new(line: Line, looks: &[Look]) -> Self {
        let (centre_hz, _) = line.centre_hz();
        let share = super::row::on_fraction(&line, looks);
        Candidate {
            edges: line.edges(),
            centre_hz,
            level_db: line.level_dbfs(),
            share,
            steady: share >= super::row::STEADY,
            line,
        }
    }
    pub fn width(&self) -> f64 {
        self.edges.width_hz()
    }
    /// Whether it is a bare line, or hardly told from one at its resolution.
    pub fn nearly_bare(&self) -> bool {
        let resolution_hz = self.line.best.first().map_or(0.0, |p| p.resolution_hz);
        self.edges.bare || self.width() < 2.0 * resolution_hz
    }
    /// Power in a hertz, dB.
    pub fn density_db(&self) -> f64 {
        self.level_db - units::db_from_ratio(self.width())
    }
}

/// What the second of two lines is to the first; or the first to the second.
pub(super) enum Verdict {
    /// The second joins the first.
    Second(Role),
    /// The first joins the second.
    First(Role),
}

type Rule = fn(&Candidate, &Candidate) -> Option<Verdict>;

/// Joins the lines that one emitter made. `parents` learns which group joined which. Gives the
/// loudest mirror image that was taken out: hertz and dBFS.
pub(super) fn join(
    lines: &mut Vec<Line>,
    parents: &mut [u32],
    looks: &[Look],
) -> Option<(f64, f64)> {
    let mut all: Vec<Candidate> = lines.drain(..).map(|l| Candidate::new(l, looks)).collect();
    let rules: [&[Rule]; 2] = [&[same_channel], &[part_or_view, pieces, tones, drift, cut_by_band]];
    for (k, rules) in rules.into_iter().enumerate() {
        for rule in rules {
            while pass(&mut all, parents, looks, *rule) {}
        }
        if k == 0 {
            beside::composites(&mut all, parents, looks);
        }
    }
    let image = products::images(&mut all, looks);
    products::out_of_band(&mut all, parents, looks);
    beside::sidebands(&mut all, parents, looks);
    beside::shadows(&mut all, parents, looks);
    comb::combs(&mut all, parents, looks);
    lines.extend(all.into_iter().map(|c| c.line));
    image
}

/// One round over all pairs; whether any was joined.
fn pass(all: &mut Vec<Candidate>, parents: &mut [u32], looks: &[Look], rule: Rule) -> bool {
    let mut joined = false;
    let mut a = 0;
    while a < all.len() {
        let mut b = a + 1;
        while b < all.len() {
            let Some(verdict) = rule(&all[a], &all[b]) else {
                b += 1;
                continue;
            };
            joined = true;
            let (keep, go, role) = match verdict {
                Verdict::Second(role) => (a, b, role),
                Verdict::First(role) => (b, a, role),
            };
            merge(all, parents, looks, keep, go, role);
            // The survivor stands at `a`: what was compared with it may now join.
            b = a + 1;
        }
        a += 1;
    }
    joined
}

/// Line `go` joins line `keep`; the result takes the place of the lower of the two.
pub(super) fn merge(
    all: &mut Vec<Candidate>,
    parents: &mut [u32],
    looks: &[Look],
    keep: usize,
    go: usize,
    role: Role,
) {
    let (low, high) = (keep.min(go), keep.max(go));
    let second = all.remove(high).line;
    let first = std::mem::replace(&mut all[low].line, second.clone());
    let (mut kept, gone) = if keep == low { (first, second) } else { (second, first) };
    parents[gone.id as usize] = kept.id;
    kept.absorb(&gone, role);
    all[low] = Candidate::new(kept, looks);
}
