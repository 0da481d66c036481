//! From pulses to what was found: one row an emitter.
//!
//! Pulses are put into lines as they come (like frequency and width); at the end lines that one
//! emitter made are joined: views of one signal at several resolutions, pieces, tones, sidebands,
//! channels of a hopper. A line is a summary, so memory depends on the number of lines, which has
//! a limit; past it the weakest is folded into its neighbour in frequency.

mod beside;
mod comb;
mod edges;
mod hop;
mod join;
mod line;
mod products;
mod row;
mod rules;
mod spans;

use crate::Found;
use crate::pulse::Pulse;
pub(crate) use edges::median;
use line::{Line, Role};
use rayon::prelude::*;

/// Lines at most.
const MOST_LINES: usize = 2048;

/// What the receiver looked at, and when.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Look {
    /// Index of the segment.
    pub segment: u32,
    /// Start, seconds from the recording's first sample.
    pub start_s: f64,
    /// End.
    pub stop_s: f64,
    /// Lower edge of what could be seen.
    pub low_hz: f64,
    /// Upper edge.
    pub high_hz: f64,
}

/// What all pulses were.
#[derive(Debug)]
pub(crate) struct Groups {
    /// Rows by rising centre.
    pub found: Vec<Found>,
    /// For every group the row that it became.
    pub row_of: Vec<Option<u32>>,
    /// Hertz and dBFS of the loudest mirror image that was taken out.
    pub image: Option<(f64, f64)>,
}

/// Puts pulses into groups, and at the end groups into rows.
#[derive(Debug)]
pub(crate) struct Grouper {
    looks: Vec<Look>,
    /// By rising recent centre.
    lines: Vec<Line>,
    /// The group that a group was folded into, or itself.
    parents: Vec<u32>,
}

impl Grouper {
    /// `looks`: all that will be looked at.
    pub fn new(looks: &[Look]) -> Self {
        let mut grouper = Grouper { looks: Vec::new(), lines: Vec::new(), parents: Vec::new() };
        grouper.set_looks(looks);
        grouper
    }
    /// States anew what was looked at, where it is not known beforehand.
    pub fn set_looks(&mut self, looks: &[Look]) {
        self.looks = looks.to_vec();
        self.looks
            .sort_by(|a, b| (a.segment).cmp(&b.segment).then(a.start_s.total_cmp(&b.start_s)));
    }
    /// Takes a pulse; says which group it was put in.
    pub fn push(&mut self, p: &Pulse) -> u32 {
        let cut = self.cut_by_band(p);
        let at = self.nearest(p).unwrap_or_else(|| self.open(p));
        let line = &mut self.lines[at];
        line.cut_low += f64::from(u8::from(cut.0));
        line.cut_high += f64::from(u8::from(cut.1));
        let id = line.id;
        self.settle(at);
        if self.lines.len() > MOST_LINES {
            self.fold_weakest();
        }
        id
    }
    /// All that its pulses were.
    pub fn finish(mut self) -> Groups {
        let image = join::join(&mut self.lines, &mut self.parents, &self.looks);
        let hoppers = hop::hoppers(&mut self.lines, &mut self.parents, &self.looks);
        let mut rows: Vec<(u32, Found)> = self
            .lines
            .par_iter()
            .map(|l| (l.id, row::found(l, hoppers.get(&l.id), &self.looks)))
            .collect();
        rows.sort_by(|a, b| a.1.centre_hz.total_cmp(&b.1.centre_hz).then(a.0.cmp(&b.0)));
        let mut row_of = vec![None; self.parents.len()];
        for (k, (id, _)) in rows.iter().enumerate() {
            row_of[*id as usize] = Some(k as u32);
        }
        let of = (0..self.parents.len())
            .map(|g| row_of[root(&self.parents, g as u32) as usize])
            .collect();
        Groups { found: rows.into_iter().map(|r| r.1).collect(), row_of: of, image }
    }
    /// The line that a pulse fits best, with the pulse in it.
    fn nearest(&mut self, p: &Pulse) -> Option<usize> {
        let reach = 0.3 * p.bandwidth_hz + 6.0 * p.u_centre_hz + p.resolution_hz;
        let from = self.lines.partition_point(|l| l.recent_hz < p.centre_hz - reach);
        let near = self.lines[from..].iter().take_while(|l| l.recent_hz <= p.centre_hz + reach);
        let best = near
            .enumerate()
            .filter_map(|(k, l)| join::distance(l, p).map(|d| (k, d)))
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        self.lines[from + best.0].push(p);
        Some(from + best.0)
    }
    /// Opens a line for a pulse.
    fn open(&mut self, p: &Pulse) -> usize {
        let id = self.parents.len() as u32;
        self.parents.push(id);
        let at = self.lines.partition_point(|l| l.recent_hz < p.centre_hz);
        self.lines.insert(at, Line::new(id, p));
        at
    }
    /// Puts a line whose centre moved back in order.
    fn settle(&mut self, mut at: usize) {
        let key = |l: &Line| l.recent_hz;
        while at > 0 && key(&self.lines[at - 1]) > key(&self.lines[at]) {
            self.lines.swap(at - 1, at);
            at -= 1;
        }
        while at + 1 < self.lines.len() && key(&self.lines[at]) > key(&self.lines[at + 1]) {
            self.lines.swap(at, at + 1);
            at += 1;
        }
    }
    /// Whether a pulse ends where the receiver's band does, below and above.
    fn cut_by_band(&self, p: &Pulse) -> (bool, bool) {
        let first = self.looks.partition_point(|l| l.segment < p.segment);
        let look = self.looks[first..]
            .iter()
            .take_while(|l| l.segment == p.segment)
            .find(|l| l.start_s <= p.stop_s && p.start_s <= l.stop_s);
        let near = 2.0 * p.resolution_hz + 0.02 * p.bandwidth_hz;
        look.map_or((false, false), |l| {
            (p.low_hz <= l.low_hz + near, p.high_hz >= l.high_hz - near)
        })
    }
    /// Makes room: the line with the least on-time over the noise joins its nearest neighbour.
    fn fold_weakest(&mut self) {
        let weight = |l: &Line| l.snr_db() + units::db_from_ratio(l.on_s.max(1e-9));
        let weakest = (0..self.lines.len())
            .min_by(|a, b| weight(&self.lines[*a]).total_cmp(&weight(&self.lines[*b])));
        let Some(at) = weakest else { return };
        let line = self.lines.remove(at);
        let apart = |k: usize| (self.lines[k].recent_hz - line.recent_hz).abs();
        let into = match at {
            0 => 0,
            k if k == self.lines.len() || apart(k - 1) < apart(k) => k - 1,
            k => k,
        };
        self.parents[line.id as usize] = self.lines[into].id;
        self.lines[into].absorb(&line, Role::View);
    }
}

/// Seconds in which all of `hz` could be seen.
fn looked_s(looks: &[Look], hz: &[f64]) -> f64 {
    let sees = |l: &&Look| hz.iter().all(|f| (l.low_hz..=l.high_hz).contains(f));
    looks.iter().filter(sees).map(|l| l.stop_s - l.start_s).sum()
}

/// The group at the end of a chain of joins.
fn root(parents: &[u32], mut group: u32) -> u32 {
    while parents[group as usize] != group {
        group = parents[group as usize];
    }
    group
}

#[cfg(test)]
mod tests;
