//! Finding again what a stored key stood for, after captures were corrected or analysed anew.

use crate::atom::Atom;
use crate::input::ReceptionKey;
use std::collections::BTreeMap;

/// Part of a frequency by which a bare carrier's centre may move between two analyses.
const SHIFT: f64 = 5e-6;

/// What an equal place counts for, and another: a corrected position must not lose a row.
const HERE: u32 = 10;
const ELSEWHERE: u32 = 6;

/// Atoms by evidence, to find keys in.
#[derive(Debug)]
pub(crate) struct Index<'a> {
    atoms: &'a [Atom],
    by_evidence: BTreeMap<&'a str, Vec<usize>>,
}

/// The atom that a key stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Hit {
    /// How well it fits; larger is better.
    pub(crate) score: u32,
    /// Index of the atom.
    pub(crate) atom: usize,
    /// What it counts for.
    pub(crate) weight: u32,
}

impl<'a> Index<'a> {
    pub(crate) fn new(atoms: &'a [Atom]) -> Self {
        let mut by_evidence: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (i, atom) in atoms.iter().enumerate() {
            by_evidence.entry(&atom.key.sha256).or_default().push(i);
        }
        Index { atoms, by_evidence }
    }

    /// The best fitting atom; the first in canonical order of equal ones; `None` where nothing that
    /// counts fits.
    pub(crate) fn find(&self, key: &ReceptionKey) -> Option<Hit> {
        let mut best: Option<Hit> = None;
        for &atom in self.by_evidence.get(&*key.sha256)? {
            let score = fit(key, &self.atoms[atom].key);
            if score > best.map_or(0, |hit| hit.score) {
                let here = self.atoms[atom].key.position == key.position;
                best = Some(Hit { score, atom, weight: if here { HERE } else { ELSEWHERE } });
            }
        }
        best
    }
}

/// How well two keys name the same reception; 0 if they cannot.
pub(crate) fn fit(a: &ReceptionKey, b: &ReceptionKey) -> u32 {
    if a.sha256 != b.sha256 {
        return 0;
    }
    let reach_hz = (0.25 * a.width_hz.max(b.width_hz)).max(SHIFT * a.centre_hz.abs()).max(1e-3);
    let off = (a.centre_hz - b.centre_hz).abs() / reach_hz;
    if off.is_nan() || off > 1.0 {
        return 0;
    }
    let place = if a.position == b.position { 4000 } else { 1000 };
    let line = if a.line == b.line { 2000 } else { 0 };
    place + line + 900 - (off * 800.0) as u32
}
