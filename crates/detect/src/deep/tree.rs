//! Sums of cells along straight tracks of every slope, by doubling (Taylor 1974, as used for the
//! dispersion of pulsars): neighbouring rows are added at each shift between them, then pairs of
//! rows, and so on; each track of 2^L rows costs L additions a bin instead of 2^L.

use multiversion::multiversion;

/// Rows of cells on a time line; `None` where there is none.
pub(super) struct Tree<'a> {
    rows: &'a [Option<&'a [u8]>],
    width: usize,
    /// Bins that the steepest track moves from one row to the next.
    steepest: f64,
}

/// The sums of 2^level rows along every track: `sums[reach + d]` of those that move `d` bins from
/// the first row to the last, counted where they begin.
struct Group {
    reach: isize,
    sums: Vec<Vec<u32>>,
}

impl Group {
    fn along(&self, d: isize) -> &[u32] {
        &self.sums[(self.reach + d) as usize]
    }
}

impl<'a> Tree<'a> {
    /// Rows of `width` cells each.
    pub fn new(rows: &'a [Option<&'a [u8]>], width: usize, steepest: f64) -> Self {
        Tree { rows, width, steepest }
    }
    /// Rows of the time line, filled up to a power of two: 2 to this.
    pub fn level(&self) -> u32 {
        self.rows.len().max(1).next_power_of_two().ilog2()
    }
    /// Bins that the steepest track moves from the first row to the last of the filled-up line.
    pub fn reach(&self, level: u32) -> isize {
        reach(self.steepest, level)
    }
    /// Hands over each track's bins moved and its sums, by where it begins. Sums that would reach
    /// past either end of a row lack what lies there.
    pub fn each(&self, mut take: impl FnMut(isize, &[u32])) {
        let level = self.level();
        if level == 0 {
            if let Some(group) = self.group(0, 0) {
                take(0, group.along(0));
            }
            return;
        }
        let early = self.group(0, level - 1);
        let late = self.group(1 << (level - 1), level - 1);
        let reach = self.reach(level);
        let mut sums = vec![0u32; self.width];
        for d in -reach..=reach {
            joined(early.as_ref(), late.as_ref(), d, self.reach(level - 1), &mut sums);
            take(d, &sums);
        }
    }
    fn group(&self, first: usize, level: u32) -> Option<Group> {
        if first >= self.rows.len() {
            return None;
        }
        if level == 0 {
            let row = self.rows[first]?;
            return Some(Group {
                reach: 0,
                sums: vec![row.iter().map(|x| u32::from(*x)).collect()],
            });
        }
        let early = self.group(first, level - 1);
        let late = self.group(first + (1 << (level - 1)), level - 1);
        if early.is_none() && late.is_none() {
            return None;
        }
        let (reach, inner) = (self.reach(level), self.reach(level - 1));
        let along = |d| {
            let mut sums = vec![0u32; self.width];
            joined(early.as_ref(), late.as_ref(), d, inner, &mut sums);
            sums
        };
        Some(Group { reach, sums: (-reach..=reach).map(along).collect() })
    }
}

/// Bins that the steepest track moves over 2^level rows.
pub(super) fn reach(steepest: f64, level: u32) -> isize {
    (steepest * ((1u64 << level) - 1) as f64).ceil() as isize
}

/// The sums of two groups along a track that moves `d` bins over both; `inner` is the reach of
/// each.
fn joined(early: Option<&Group>, late: Option<&Group>, d: isize, inner: isize, sums: &mut [u32]) {
    let half = (d / 2).clamp(-inner, inner);
    let shift = d - half;
    match early {
        Some(early) => sums.copy_from_slice(early.along(half)),
        None => sums.fill(0),
    }
    if let Some(late) = late {
        let late = late.along(half);
        let n = sums.len();
        let by = shift.unsigned_abs().min(n);
        if shift >= 0 {
            add(&mut sums[..n - by], &late[by..]);
        } else {
            add(&mut sums[by..], &late[..n - by]);
        }
    }
}

#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx512f", "aarch64+neon"))]
fn add(sums: &mut [u32], more: &[u32]) {
    for (sum, more) in sums.iter_mut().zip(more) {
        *sum += more;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A straight line of ones is summed whole by the track that lies nearest to it, to within the
    /// half bin that a track may lie beside a line.
    #[test]
    fn a_straight_line_is_summed_along_its_own_track() {
        let (rows, width) = (23, 200);
        for slope in [-0.9f64, -0.31, 0.0, 0.05, 0.5, 0.8] {
            let mut cells = vec![vec![0u8; width]; rows];
            for (i, row) in cells.iter_mut().enumerate() {
                // Three bins wide, so that rounding does not step beside it.
                let at = (100.0 + slope * i as f64).round() as usize;
                row[at - 1..=at + 1].fill(1);
            }
            let mut views: Vec<Option<&[u8]>> = cells.iter().map(|r| Some(r.as_slice())).collect();
            views[7] = None;
            let tree = Tree::new(&views, width, 1.0);
            let mut best = (0, 0, 0);
            tree.each(|d, sums| {
                for (k, s) in sums.iter().enumerate() {
                    if *s > best.0 {
                        best = (*s, d, k);
                    }
                }
            });
            assert_eq!(best.0, 22, "slope {slope}: {best:?}");
            let steps = ((1 << tree.level()) - 1) as f64;
            let found = best.1 as f64 / steps;
            assert!((found - slope).abs() < 3.0 / rows as f64, "slope {slope}: {found}");
        }
    }

    /// Without any slope it is a plain sum.
    #[test]
    fn no_drift_is_a_plain_sum() {
        let cells: Vec<Vec<u8>> = (0..5).map(|i| vec![i as u8, 255, 7]).collect();
        let views: Vec<Option<&[u8]>> = cells.iter().map(|r| Some(r.as_slice())).collect();
        let mut seen = Vec::new();
        Tree::new(&views, 3, 0.0).each(|d, sums| seen.push((d, sums.to_vec())));
        assert_eq!(seen, [(0, vec![10, 1275, 35])]);
    }
}
