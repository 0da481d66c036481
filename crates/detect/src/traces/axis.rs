//! The frequencies of traces: which traces share them, which belong to one sweep.

use crate::Listened;
use std::collections::BTreeMap;
use std::sync::Arc;
use units::Trace;

/// Traces over the same frequencies.
#[derive(Debug, Clone)]
pub(super) struct Set {
    pub frequencies_hz: Arc<[f64]>,
    /// The look that its latest trace belongs to.
    pub look: Option<usize>,
    /// Time from one of its traces to the next, the latest known.
    revisit_s: f64,
}

impl Set {
    /// Edges of the first and the last bin.
    pub fn edges(&self) -> (f64, f64) {
        let hz = &self.frequencies_hz;
        let half = 0.5 * self.step_hz();
        (hz.first().map_or(0.0, |f| f - half), hz.last().map_or(0.0, |f| f + half))
    }
    /// Mean distance of its frequencies; 0 for a single one.
    fn step_hz(&self) -> f64 {
        let hz = &self.frequencies_hz;
        match (hz.first(), hz.last()) {
            (Some(a), Some(z)) if hz.len() > 1 => (z - a) / (hz.len() - 1) as f64,
            _ => 0.0,
        }
    }
}

/// All sets seen.
#[derive(Debug, Default)]
pub(super) struct Axes {
    pub sets: Vec<Set>,
    index: BTreeMap<(usize, u64, u64), Vec<usize>>,
}

impl Axes {
    /// The set with these frequencies; a new one if there is none.
    pub fn set_of(&mut self, hz: &Arc<[f64]>) -> usize {
        let bits = |x: Option<&f64>| x.map_or(0, |x| x.to_bits());
        let key = (hz.len(), bits(hz.first()), bits(hz.last()));
        let known = self.index.entry(key).or_default();
        let same = |k: &&usize| {
            let own = &self.sets[**k].frequencies_hz;
            Arc::ptr_eq(own, hz) || own == hz
        };
        if let Some(k) = known.iter().find(same) {
            return *k;
        }
        known.push(self.sets.len());
        self.sets.push(Set { frequencies_hz: Arc::clone(hz), look: None, revisit_s: 0.0 });
        self.sets.len() - 1
    }
    /// Sets of one step each (within 1 %): parts of one sweep.
    pub fn families(&self) -> Vec<Vec<usize>> {
        let mut by_step: Vec<usize> = (0..self.sets.len()).collect();
        let step = |k: usize| self.sets[k].step_hz();
        by_step.sort_by(|a, b| step(*a).total_cmp(&step(*b)).then(a.cmp(b)));
        let mut out: Vec<Vec<usize>> = Vec::new();
        for k in by_step {
            match out.last_mut() {
                Some(f) if step(k) <= 1.01 * step(f[0]) => f.push(k),
                _ => out.push(vec![k]),
            }
        }
        out
    }
    /// Until when each trace of a chunk stands: the next of its set, but after a pause only as
    /// long as the one before it did.
    pub fn stops(&mut self, chunk: &[(usize, Trace)]) -> Vec<f64> {
        let mut latest: BTreeMap<usize, usize> = BTreeMap::new();
        let mut gaps: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
        for (k, (set, t)) in chunk.iter().enumerate() {
            if let Some(before) = latest.insert(*set, k) {
                gaps.entry(*set).or_default().push(t.start_s - chunk[before].1.start_s);
            }
        }
        for (set, gaps) in &mut gaps {
            gaps.retain(|g| *g > 0.0);
            if !gaps.is_empty() {
                self.sets[*set].revisit_s = crate::group::median(gaps);
            }
        }
        let mut next: BTreeMap<usize, f64> = BTreeMap::new();
        let mut stops = vec![0.0; chunk.len()];
        for (k, (set, t)) in chunk.iter().enumerate().rev() {
            let usual = self.sets[*set].revisit_s.max(t.sweep_s.unwrap_or(0.0));
            let following = next.insert(*set, t.start_s);
            stops[k] = match following {
                Some(n) if n >= t.start_s && n <= t.start_s + 3.0 * usual => n,
                _ => t.start_s + usual,
            };
        }
        stops
    }
}

/// Neighbouring parts of one sweep, looked at for the same time with the same limit, as one.
pub(super) fn merge(listened: &mut Vec<Listened>) {
    listened.sort_by(|a, b| a.low_hz.total_cmp(&b.low_hz).then(a.high_hz.total_cmp(&b.high_hz)));
    let mut out: Vec<Listened> = Vec::with_capacity(listened.len());
    let near = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() < 1.0,
        (None, None) => true,
        _ => false,
    };
    for l in listened.drain(..) {
        match out.last_mut() {
            Some(last)
                if l.low_hz <= last.high_hz + 1.0
                    && (l.looked_s - last.looked_s).abs() <= 0.02 * last.looked_s
                    && near(l.limit_dbm.map(|x| x.0), last.limit_dbm.map(|x| x.0))
                    && near(l.limit_dbfs.map(|x| x.0), last.limit_dbfs.map(|x| x.0)) =>
            {
                last.high_hz = last.high_hz.max(l.high_hz);
            }
            _ => out.push(l),
        }
    }
    *listened = out;
}
