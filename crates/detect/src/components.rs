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
/// apart belong together. In order of their first row, then bin.
pub(crate) fn components(marks: &Marks, gap_rows: usize, gap_bins: usize) -> Vec<Component> {
    let n = marks.bins;
    let mut runs: Vec<Component> = Vec::new();
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
            runs.push(Component {
                row0: r,
                row1: r + 1,
                bin0: start,
                bin1: end,
                cells,
                core: (0, 0),
            });
            for (run, at) in &last[start.saturating_sub(1)..(end + 1).min(n)] {
                if *run != u32::MAX && r - *at as usize <= gap_rows + 1 {
                    forest.join(*run, id);
                }
            }
            last[start..end].fill((id, r as u32));
            k = end;
        }
    }
    let mut at_root = vec![usize::MAX; runs.len()];
    let mut out: Vec<Component> = Vec::new();
    for (i, run) in runs.iter().enumerate() {
        let root = forest.root(i as u32) as usize;
        if at_root[root] == usize::MAX {
            at_root[root] = out.len();
            out.push(*run);
        } else {
            let c = &mut out[at_root[root]];
            *c = c.with(run);
        }
    }
    out.iter_mut().for_each(|c| c.core = (c.bin0, c.bin1));
    out
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
    /// Both in one.
    pub fn with(&self, other: &Component) -> Component {
        Component {
            row0: self.row0.min(other.row0),
            row1: self.row1.max(other.row1),
            bin0: self.bin0.min(other.bin0),
            bin1: self.bin1.max(other.bin1),
            cells: self.cells + other.cells,
            core: if other.cells > self.cells { other.core } else { self.core },
        }
    }
    pub fn rows(&self) -> usize {
        self.row1 - self.row0
    }
    pub fn bins(&self) -> usize {
        self.bin1 - self.bin0
    }
    /// Unmarked bins between two (0 where they overlap).
    pub fn apart_bins(&self, other: &Component) -> usize {
        self.bin0.max(other.bin0).saturating_sub(self.bin1.min(other.bin1))
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
        assert_eq!(found.len(), 3);
        assert_eq!((found[0].row0, found[0].row1, found[0].bin0, found[0].bin1), (0, 3, 0, 2));
        assert_eq!(found[2].cells, 3);
        assert_eq!(components(&marks, 0, 0).len(), 4);
        assert_eq!(components(&marks, 1, 9).len(), 1);
    }
}
