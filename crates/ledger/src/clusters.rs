//! Looks put together, pair by pair, under what forbids it.

use crate::contract::Role;
use crate::look::Look;
use detect::Shape;

/// Looks in clusters; at first each by itself.
#[derive(Debug, Clone)]
pub(crate) struct Clusters {
    /// Cluster of each look.
    of: Vec<usize>,
    /// Looks of each cluster, rising; empty once merged away.
    members: Vec<Vec<usize>>,
    /// Sets of looks that a person took apart.
    apart: Vec<(Vec<usize>, Vec<usize>)>,
}

impl Clusters {
    pub(crate) fn new(looks: usize) -> Self {
        Clusters {
            of: (0..looks).collect(),
            members: (0..looks).map(|i| vec![i]).collect(),
            apart: Vec::new(),
        }
    }

    /// The cluster of a look.
    pub(crate) fn of(&self, look: usize) -> usize {
        self.of[look]
    }

    /// The looks of a cluster, in canonical order.
    pub(crate) fn members(&self, cluster: usize) -> &[usize] {
        &self.members[cluster]
    }

    /// The clusters that have looks, by their first look.
    pub(crate) fn all(&self) -> Vec<usize> {
        let mut all: Vec<usize> =
            (0..self.members.len()).filter(|&c| !self.members[c].is_empty()).collect();
        all.sort_by_key(|&c| self.members[c][0]);
        all
    }

    /// From now on no look of one set meets one of the other, but those that are together already.
    pub(crate) fn keep_apart(&mut self, one: Vec<usize>, other: Vec<usize>) {
        self.apart.push((one, other));
    }

    /// Puts the clusters of two looks together unless a person took them apart.
    pub(crate) fn put_together(&mut self, a: usize, b: usize) -> bool {
        let (x, y) = (self.of[a], self.of[b]);
        if x == y {
            return true;
        }
        if self.taken_apart(x, y) {
            return false;
        }
        self.merge(x, y);
        true
    }

    /// Merges two different clusters, whatever forbids it.
    pub(crate) fn merge(&mut self, x: usize, y: usize) {
        let moved = std::mem::take(&mut self.members[y]);
        for &look in &moved {
            self.of[look] = x;
        }
        self.members[x].extend(moved);
        self.members[x].sort_unstable();
    }

    /// Whether a person took looks of two clusters apart.
    pub(crate) fn taken_apart(&self, x: usize, y: usize) -> bool {
        let has = |set: &[usize], cluster: usize| set.iter().any(|&look| self.of[look] == cluster);
        self.apart.iter().any(|(a, b)| (has(a, x) && has(b, y)) || (has(a, y) && has(b, x)))
    }

    /// Whether nothing forbids that two clusters are one emission.
    pub(crate) fn may_be_one(&self, looks: &[Look], x: usize, y: usize) -> bool {
        let (x_looks, y_looks) = (&self.members[x], &self.members[y]);
        let all = || x_looks.iter().chain(y_looks).map(|&i| &looks[i]);
        let cross = |one: &Look, other: &Look| {
            // An identity is one device's.
            let identities = match (&one.identity, &other.identity) {
                (Some(a), Some(b)) => a == b,
                _ => true,
            };
            // A capture that shows two rows says that they are two.
            let two_rows = one.capture.is_some() && one.capture == other.capture;
            identities && (!two_rows || pieces(one, other, all()))
        };
        let crossed = x_looks.iter().all(|&i| y_looks.iter().all(|&j| cross(&looks[i], &looks[j])));
        // What a receiver makes itself is in no other receiver.
        let own = all().any(|look| look.role == Role::NoAntenna);
        let mut chains = all().map(|look| &look.chain);
        let first = chains.next();
        let one_chain = chains.all(|chain| Some(chain) == first);
        crossed && (!own || one_chain) && !self.taken_apart(x, y)
    }
}

/// Whether two rows of one capture are pieces of one emission: bursts on single channels, where
/// another capture shows a hopper that uses both channels.
fn pieces<'a>(one: &Look, other: &Look, mut all: impl Iterator<Item = &'a Look>) -> bool {
    let piece = |look: &Look| look.shape == Shape::Bursts;
    piece(one)
        && piece(other)
        && all.any(|look| look.shape == Shape::Hopping && look.capture != one.capture)
}
