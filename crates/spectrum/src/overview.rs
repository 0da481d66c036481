//! The overview of a recording: max and mean power over rows of time and cells of frequency, one
//! byte each, small enough to keep beside the evidence.

use crate::{Resolution, Rows, code_from_power};

/// Most frequency cells of a row.
const MOST_CELLS: usize = 1024;
/// Bytes of overview for each byte of evidence. Levels of a quarter of the rows each above it
/// ([`crate::Coarser`]) add a third, which keeps all within 2 %.
const PART: f64 = 0.015;

/// Rows summed in single precision before they go to double.
const SUMMED: u64 = 64;

/// One row of the overview.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OverviewRow<'a> {
    /// Number of the row in its segment.
    pub row: u64,
    /// Largest power per bin in each cell, as codes ([`crate::dbfs_from_code`]).
    pub max: &'a [u8],
    /// Mean power per bin in each cell, as codes.
    pub mean: &'a [u8],
}

/// Reduces the rows of one segment. Overview row r covers frames r·`frames_per_row` … of the
/// resolution; the last row of a segment may cover fewer.
#[derive(Debug, Clone)]
pub struct Overview {
    resolution: Resolution,
    cells: usize,
    frames_per_row: u64,
    row: u64,
    frames: u64,
    /// Per bin: largest, and sum of the last rows.
    max: Vec<f32>,
    sum: Vec<f32>,
    /// Per cell: sum of the rows before those.
    total: Vec<f64>,
    codes: (Vec<u8>, Vec<u8>),
}

impl Overview {
    /// For rows of `resolution` of evidence with `bytes_per_sample` (4 for 16-bit complex).
    pub fn new(resolution: Resolution, bytes_per_sample: f64) -> Self {
        let cells = resolution.bins().min(MOST_CELLS);
        let bytes_per_hop = PART * bytes_per_sample * resolution.hop() as f64;
        let frames_per_row = (2.0 * cells as f64 / bytes_per_hop).ceil().max(1.0) as u64;
        Overview {
            resolution,
            cells,
            frames_per_row,
            row: 0,
            frames: 0,
            max: vec![0.0; resolution.bins()],
            sum: vec![0.0; resolution.bins()],
            total: vec![0.0; cells],
            codes: (vec![0; cells], vec![0; cells]),
        }
    }
    /// Frequency cells of a row, evenly over the sample rate, −fs/2 first.
    pub fn cells(&self) -> usize {
        self.cells
    }
    /// Frames of the resolution in one row.
    pub fn frames_per_row(&self) -> u64 {
        self.frames_per_row
    }
    /// Seconds from one row to the next.
    pub fn row_s(&self, sample_rate_hz: f64) -> f64 {
        self.frames_per_row as f64 * self.resolution.hop_s(sample_rate_hz)
    }
    /// Takes spectra in order; hands whole rows to `take`.
    ///
    /// # Panics
    /// If the rows are of another resolution.
    pub fn push(&mut self, rows: &Rows<'_>, take: &mut dyn FnMut(OverviewRow<'_>)) {
        assert_eq!(rows.bins, self.resolution.bins(), "rows of another resolution");
        for (_, row) in rows.iter() {
            for ((power, max), sum) in row.iter().zip(&mut self.max).zip(&mut self.sum) {
                *max = if *power > *max { *power } else { *max };
                *sum += power;
            }
            self.frames += 1;
            if self.frames.is_multiple_of(SUMMED) || self.frames == self.frames_per_row {
                self.fold();
            }
            if self.frames == self.frames_per_row {
                self.close(take);
            }
        }
    }
    /// Moves the sums per bin into the totals per cell.
    fn fold(&mut self) {
        let each = self.resolution.bins() / self.cells;
        for (total, sums) in self.total.iter_mut().zip(self.sum.chunks_exact(each)) {
            *total += sums.iter().map(|s| f64::from(*s)).sum::<f64>();
        }
        self.sum.fill(0.0);
    }
    /// Hands up the last, partly filled row of a segment and starts afresh for the next.
    pub fn finish(&mut self, take: &mut dyn FnMut(OverviewRow<'_>)) {
        if self.frames > 0 {
            self.fold();
            self.close(take);
        }
        self.row = 0;
    }
    fn close(&mut self, take: &mut dyn FnMut(OverviewRow<'_>)) {
        let each = self.resolution.bins() / self.cells;
        let (max, mean) = &mut self.codes;
        for (code_of, bins) in max.iter_mut().zip(self.max.chunks_exact(each)) {
            *code_of = code_from_power(bins.iter().copied().fold(0.0, f32::max));
        }
        for (code_of, total) in mean.iter_mut().zip(&self.total) {
            *code_of = code_from_power((total / (each as f64 * self.frames as f64)) as f32);
        }
        take(OverviewRow { row: self.row, max, mean });
        self.max.fill(0.0);
        self.total.fill(0.0);
        self.frames = 0;
        self.row += 1;
    }
}
