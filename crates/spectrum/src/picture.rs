//! Levels as pictures: rows of codes laid into pixels of time and frequency. The largest of what
//! falls into a pixel stays the largest, whatever the zoom, so that one short burst is never lost;
//! the mean is that of the powers.

use crate::{OverviewRow, code_from_power, power_from_code};

/// A picture being filled: `height` rows of time by `width` cells of frequency.
#[derive(Debug, Clone)]
pub struct Picture {
    width: usize,
    max: Vec<u8>,
    sum: Vec<f32>,
    count: Vec<u32>,
}

/// A picture: codes, row by row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pixels {
    /// Cells of a row.
    pub width: usize,
    /// Largest power per bin in each pixel.
    pub max: Vec<u8>,
    /// Mean power per bin in each pixel.
    pub mean: Vec<u8>,
}

impl Picture {
    /// An empty one.
    pub fn new(width: usize, height: usize) -> Self {
        let pixels = width * height;
        Picture { width, max: vec![0; pixels], sum: vec![0.0; pixels], count: vec![0; pixels] }
    }

    /// Lays a row of codes into row `y`: its cell 0 is cell `first` of the plane, `1 << shift` cells
    /// of the plane make one pixel, and the picture begins at pixel `left`. What falls outside is
    /// left out.
    ///
    /// # Panics
    /// If the picture has no row `y`.
    pub fn put(&mut self, y: usize, row: &OverviewRow<'_>, first: i64, shift: u32, left: i64) {
        let begin = ((left << shift) - first).clamp(0, row.max.len() as i64);
        let end =
            (((left + self.width as i64) << shift) - first).clamp(begin, row.max.len() as i64);
        let start = y * self.width;
        let line = start..start + self.width;
        let (max, sum) = (&mut self.max[line.clone()], &mut self.sum[line.clone()]);
        let count = &mut self.count[line];
        for cell in begin..end {
            let x = (((cell + first) >> shift) - left) as usize;
            let (code, mean) = (row.max[cell as usize], row.mean[cell as usize]);
            max[x] = max[x].max(code);
            sum[x] += power_from_code(mean);
            count[x] += u32::from(code > 0);
        }
    }

    /// The picture.
    pub fn finish(self) -> Pixels {
        let mean = |(sum, count): (&f32, &u32)| match count {
            0 => 0,
            count => code_from_power(sum / *count as f32),
        };
        let mean = self.sum.iter().zip(&self.count).map(mean).collect();
        Pixels { width: self.width, max: self.max, mean }
    }
}

impl Pixels {
    /// The part from cell `left` on, `width` wide, of all rows; what reaches past the right edge is
    /// nothing.
    pub fn part(&self, left: usize, width: usize) -> Pixels {
        let cut = |codes: &[u8]| {
            let mut out = Vec::with_capacity(width * codes.len() / self.width.max(1));
            for row in codes.chunks_exact(self.width) {
                let from = left.min(self.width);
                let until = (left + width).min(self.width);
                out.extend_from_slice(&row[from..until]);
                out.resize(out.len() + width - (until - from), 0);
            }
            out
        };
        Pixels { width, max: cut(&self.max), mean: cut(&self.mean) }
    }
}

/// Makes one row of a coarser level out of every [`Coarser::ROWS`] of an overview.
#[derive(Debug, Clone)]
pub struct Coarser {
    row: u64,
    rows: u32,
    max: Vec<u8>,
    sum: Vec<f32>,
    mean: Vec<u8>,
}

impl Coarser {
    /// Rows that become one.
    pub const ROWS: u32 = 4;

    /// For rows of `cells`.
    pub fn new(cells: usize) -> Self {
        Coarser {
            row: 0,
            rows: 0,
            max: vec![0; cells],
            sum: vec![0.0; cells],
            mean: vec![0; cells],
        }
    }

    /// Takes a row; hands up the one that it completes.
    ///
    /// # Panics
    /// If it has another number of cells.
    pub fn push(&mut self, row: &OverviewRow<'_>, take: &mut dyn FnMut(OverviewRow<'_>)) {
        assert_eq!(row.max.len(), self.max.len(), "a row of another width");
        for (max, code) in self.max.iter_mut().zip(row.max) {
            *max = (*max).max(*code);
        }
        for (sum, code) in self.sum.iter_mut().zip(row.mean) {
            *sum += power_from_code(*code);
        }
        self.rows += 1;
        if self.rows == Coarser::ROWS {
            self.close(take);
        }
    }

    /// Hands up the last, partly filled row of a segment and starts afresh for the next.
    pub fn finish(&mut self, take: &mut dyn FnMut(OverviewRow<'_>)) {
        if self.rows > 0 {
            self.close(take);
        }
        self.row = 0;
    }

    fn close(&mut self, take: &mut dyn FnMut(OverviewRow<'_>)) {
        for (mean, sum) in self.mean.iter_mut().zip(&self.sum) {
            *mean = code_from_power(sum / self.rows as f32);
        }
        take(OverviewRow { row: self.row, max: &self.max, mean: &self.mean });
        self.max.fill(0);
        self.sum.fill(0.0);
        self.rows = 0;
        self.row += 1;
    }
}
