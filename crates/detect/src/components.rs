//! Marked cells that touch, over small gaps in time and frequency, are one component.

use crate::marks::Marks;

/// A connected set of marked cells, as its bounding box.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Component {
    /// First row.
    pub row0: usize,
    /// One past the last row.
    pub row1: usize,
    /// First bin.
    pub bin0: usize,
    /// One past the last bin.
    pub bin1: usize,
    /// Marked cells in it.
    pub cells: usize,
    /// First and one past the last bin of the largest connected part.
    pub core: (usize, usize),
    /// First and one past the last bin that may be its: beyond lies another emission, over a deep
    /// valley.
    pub walls: (usize, usize),
}

/// Marked cells side by side in one row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Run {
    pub row: usize,
    /// First bin.
    pub bin0: usize,
    /// One past the last bin.
    pub bin1: usize,
    /// Marked cells in it.
    pub cells: usize,
}

/// Connected sets of marked cells with the runs that they are made of.
#[derive(Debug)]
pub(crate) struct Components {
    /// In order of their first row, then bin.
    pub all: Vec<Component>,
    /// Runs, those of one component side by side and in order of their rows.
    runs: Vec<Run>,
    /// Where each component's runs begin, and the end.
    from: Vec<usize>,
}

impl Components {
    /// Runs of one component, by rising row.
    pub fn runs_of(&self, component: usize) -> &[Run] {
        &self.runs[self.from[component]..self.from[component + 1]]
    }
}

/// Union–find over runs of marked cells.
struct Forest {
    parent: Vec<u32>,
}

impl Forest {
    fn root(&mut self, mut i: u32) -> u32 {
        while self.parent[i as usize] != i {
            let up = self.parent[self.parent[i as usize] as usize];
            self.parent[i as usize] = up;
            i = up;
        }
        i
    }
    fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        // The smaller index wins, so that the result does not depend on the order.
        let (low, high) = (a.min(b), a.max(b));
        self.parent[high as usize] = low;
    }
}

/// Components of marked cells: cells up to `gap_rows` unmarked rows or `gap_bins` unmarked bins
/// apart belong together.
pub(crate) fn components(marks: &Marks, gap_rows: usize, gap_bins: usize) -> Components {
    let n = marks.bins;
    let mut runs: Vec<Run> = Vec::new();
    let mut forest = Forest { parent: Vec::new() };
    // For each bin the last run seen there, and its row.
    let mut last: Vec<(u32, u32)> = vec![(u32::MAX, 0); n];
    for r in 0..marks.rows {
        let row = marks.row(r);
        let mut k = 0;
        while let Some(start) = next_on(row, k) {
            let mut end = start + 1;
            let mut cells = 1;
            let mut look = end;
            while look < n && look <= end + gap_bins {
                if row[look] {
                    end = look + 1;
                    cells += 1;
                }
                look += 1;
            }
            let id = runs.len() as u32;
            forest.parent.push(id);
            runs.push(Run { row: r, bin0: start, bin1: end, cells });
            let mut before = u32::MAX;
            for (run, at) in &last[start.saturating_sub(1)..(end + 1).min(n)] {
                if *run != before && *run != u32::MAX && r - *at as usize <= gap_rows + 1 {
                    forest.join(*run, id);
                }
                before = *run;
            }
            last[start..end].fill((id, r as u32));
            k = end;
        }
    }
    let mut at_root = vec![usize::MAX; runs.len()];
    let mut all: Vec<Component> = Vec::new();
    let mut count: Vec<usize> = Vec::new();
    let of: Vec<usize> = (0..runs.len())
        .map(|i| {
            let root = forest.root(i as u32) as usize;
            if at_root[root] == usize::MAX {
                at_root[root] = all.len();
                all.push(Component::of(&runs[i]));
                count.push(1);
            } else {
                let c = &mut all[at_root[root]];
                *c = c.with(&Component::of(&runs[i]));
                count[at_root[root]] += 1;
            }
            at_root[root]
        })
        .collect();
    all.iter_mut().for_each(|c| c.core = (c.bin0, c.bin1));
    let mut from = vec![0; all.len() + 1];
    for (k, n) in count.iter().enumerate() {
        from[k + 1] = from[k] + n;
    }
    let mut next = from.clone();
    let mut sorted = runs.clone();
    for (run, c) in runs.iter().zip(of) {
        sorted[next[c]] = *run;
        next[c] += 1;
    }
    Components { all, runs: sorted, from }
}

/// Cells looked at together: most of a row is unmarked.
const STRIDE: usize = 64;

/// First marked cell of a row from `from` on.
fn next_on(row: &[bool], from: usize) -> Option<usize> {
    let any = |part: &[bool]| part.iter().fold(false, |any, on| any | *on);
    let skip = STRIDE * row[from..].chunks(STRIDE).position(any)?;
    let step = row[from + skip..].iter().position(|on| *on)?;
    Some(from + skip + step)
}

impl Component {
    /// One run.
    pub fn of(run: &Run) -> Component {
        let (row0, row1, bin0, bin1) = (run.row, run.row + 1, run.bin0, run.bin1);
        let walls = (0, usize::MAX);
        Component { row0, row1, bin0, bin1, cells: run.cells, core: (bin0, bin1), walls }
    }
    /// Both in one.
    pub fn with(&self, other: &Component) -> Component {
        let (bin0, bin1) = (self.bin0.min(other.bin0), self.bin1.max(other.bin1));
        // A wall stands as long as nothing beyond it is taken in.
        let below = [self.walls.0, other.walls.0].into_iter().filter(|w| *w <= bin0).max();
        let above = [self.walls.1, other.walls.1].into_iter().filter(|w| *w >= bin1).min();
        Component {
            row0: self.row0.min(other.row0),
            row1: self.row1.max(other.row1),
            bin0,
            bin1,
            cells: self.cells + other.cells,
            core: if other.cells > self.cells { other.core } else { self.core },
            walls: (below.unwrap_or(0), above.unwrap_or(usize::MAX)),
        }
    }
    pub fn rows(&self) -> usize {
        self.row1 - self.row0
    }
    /// Its bins.
    pub fn band(&self) -> std::ops::Range<usize> {
        self.bin0..self.bin1
    }
    pub fn bins(&self) -> usize {
        self.bin1 - self.bin0
    }
    /// Unmarked bins between two (0 where they overlap).
    pub fn apart_bins(&self, other: &Component) -> usize {
        self.bin0.max(other.bin0).saturating_sub(self.bin1.min(other.bin1))
    }
    /// Whether the other lies beyond one of its walls, or it beyond the other's.
    pub fn walled_off(&self, other: &Component) -> bool {
        let beyond = |a: &Component, b: &Component| b.bin1 <= a.walls.0 || b.bin0 >= a.walls.1;
        beyond(self, other) || beyond(other, self)
    }
    /// Rows in common.
    pub fn shared_rows(&self, other: &Component) -> usize {
        self.row1.min(other.row1).saturating_sub(self.row0.max(other.row0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_touches_is_one() {
        let picture = ["##......#", "........#", "#....#...", ".....##..", "........."];
        let on = picture.iter().flat_map(|r| r.chars().map(|c| c == '#')).collect();
        let marks = Marks { rows: 5, bins: 9, on };
        let found = components(&marks, 1, 0);
        let all = &found.all;
        assert_eq!(all.len(), 3);
        assert_eq!((all[0].row0, all[0].row1, all[0].bin0, all[0].bin1), (0, 3, 0, 2));
        assert_eq!(all[2].cells, 3);
        let rows = |c: usize| found.runs_of(c).iter().map(|r| r.row).collect::<Vec<_>>();
        assert_eq!((rows(0), rows(1), rows(2)), (vec![0, 2], vec![0, 1], vec![2, 3]));
        assert_eq!(components(&marks, 0, 0).all.len(), 4);
        assert_eq!(components(&marks, 1, 9).all.len(), 1);
    }
}
