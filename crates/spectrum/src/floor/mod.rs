//! The noise floor under the signals: a power per bin that follows a coloured floor.
//!
//! Over time: cells of 4 bins × 4 frames go into one histogram for each of up to 128 sub-bands;
//! the floor of a sub-band is where the law of noise cells fits the low end of its histogram, so
//! signals that leave some cells free do no harm (`law`, `histogram`). Over frequency: sub-bands
//! that stand above a slope-limited lower envelope hold signals that never leave; the floor is
//! carried across them from their neighbours (`shape`). Memory: the histograms, whatever the length.

mod histogram;
mod law;
mod shape;

use crate::{Resolution, Rows};
use histogram::Histogram;
use law::CellLaw;
use rayon::prelude::*;
use units::db_from_ratio;

/// Noise power per bin, how well it is known, and where it is not.
#[derive(Debug, Clone, PartialEq)]
pub struct Floor {
    /// The resolution whose bins these are.
    pub resolution: Resolution,
    /// Noise power per bin, in order of frequency. 0 where there is only digital silence.
    pub power: Vec<f32>,
    /// Standard uncertainty per bin, dB.
    pub u_db: Vec<f32>,
    /// Whether noise was seen at this bin or on both sides of it. Where false, `power` is the best
    /// guess and `u_db` at least 2 dB (infinite in digital silence).
    pub trusted: Vec<bool>,
    /// Cells of noise and signal that went into it, all sub-bands together.
    pub cells: u64,
}

impl Floor {
    /// The same floor for the bins of another resolution of the same sample rate.
    pub fn at(&self, resolution: Resolution) -> Floor {
        if resolution == self.resolution {
            return self.clone();
        }
        let (n, m) = (self.resolution.bins(), resolution.bins());
        let scale = resolution.noise_per_bin(1.0) / self.resolution.noise_per_bin(1.0);
        let nearest = |bin: usize| {
            let place = (bin as f64 - (m / 2) as f64) * n as f64 / m as f64 + (n / 2) as f64;
            place.clamp(0.0, (n - 1) as f64)
        };
        let power = |bin: usize| {
            let place = nearest(bin);
            let (below, part) = (place.floor() as usize, place.fract());
            let above = (below + 1).min(n - 1);
            let (a, b) = (f64::from(self.power[below]), f64::from(self.power[above]));
            let between = match a > 0.0 && b > 0.0 {
                _ if part == 0.0 => a,
                true => a * (b / a).powf(part),
                false => a.min(b),
            };
            (between * scale) as f32
        };
        let at = |bin: usize| nearest(bin).round() as usize;
        Floor {
            resolution,
            power: (0..m).into_par_iter().with_min_len(BINS_PER_TASK).map(power).collect(),
            u_db: (0..m).map(|bin| self.u_db[at(bin)]).collect(),
            trusted: (0..m).map(|bin| self.trusted[at(bin)]).collect(),
            cells: self.cells,
        }
    }
    /// Fraction of the bins whose floor is trusted, 0 to 1.
    pub fn trusted_fraction(&self) -> f64 {
        self.trusted.iter().filter(|t| **t).count() as f64 / self.trusted.len() as f64
    }
}

/// Bins of a cell.
const CELL_BINS: usize = 4;
/// Frames of a cell.
const CELL_FRAMES: usize = 4;
/// Most sub-bands: each under a hundredth of the band, so that a filter's edge is followed.
const MOST_SUB_BANDS: usize = 128;

/// Bins whose powers one task works out: some 100 µs.
const BINS_PER_TASK: usize = 4096;

/// Gathers rows and estimates the floor from what it has seen since it was made or cleared.
#[derive(Debug, Clone)]
pub struct FloorEstimator {
    resolution: Resolution,
    law: CellLaw,
    histograms: Vec<Histogram>,
    /// Sum of the rows gathered for the next cells, and how many those are.
    sums: Vec<f32>,
    frames: usize,
    /// Total power of all rows, to tell noise from rounding.
    total: f64,
    rows: u64,
}

impl FloorEstimator {
    /// An estimator for rows of this resolution.
    pub fn new(resolution: Resolution) -> Self {
        let cells = resolution.bins() / CELL_BINS;
        FloorEstimator {
            resolution,
            law: CellLaw::new(&resolution, CELL_BINS, CELL_FRAMES),
            histograms: vec![Histogram::default(); cells.min(MOST_SUB_BANDS)],
            sums: vec![0.0; resolution.bins()],
            frames: 0,
            total: 0.0,
            rows: 0,
        }
    }
    /// Takes rows, consecutive within one call; a cell may span calls.
    ///
    /// # Panics
    /// If the rows are of another length.
    pub fn push(&mut self, rows: &Rows<'_>) {
        assert_eq!(rows.bins, self.resolution.bins(), "rows of another resolution");
        for (_, row) in rows.iter() {
            for (sum, power) in self.sums.iter_mut().zip(row) {
                *sum += power;
            }
            self.frames += 1;
            self.rows += 1;
            if self.frames == CELL_FRAMES {
                self.close_cells();
            }
        }
    }
    fn close_cells(&mut self) {
        let each = self.sums.len() / self.histograms.len();
        let mut total = 0.0;
        for (histogram, sums) in self.histograms.iter_mut().zip(self.sums.chunks_exact(each)) {
            for bins in sums.chunks_exact(CELL_BINS) {
                let sum = (bins[0] + bins[1]) + (bins[2] + bins[3]);
                histogram.add(sum / (CELL_BINS * CELL_FRAMES) as f32);
                total += f64::from(sum);
            }
        }
        self.total += total;
        self.sums.fill(0.0);
        self.frames = 0;
    }
    /// Forgets everything (a new segment, a new setting, a new stretch of time).
    pub fn clear(&mut self) {
        self.histograms.fill(Histogram::default());
        self.sums.fill(0.0);
        self.frames = 0;
        self.total = 0.0;
        self.rows = 0;
    }
    /// Cells gathered so far.
    pub fn cells(&self) -> u64 {
        self.histograms.iter().map(Histogram::count).sum()
    }
    /// The floor of what was seen since the last clear.
    pub fn estimate(&self) -> Floor {
        let read = |h: &Histogram| self.law.fit(h);
        let fits: Vec<_> = self.histograms.iter().map(read).collect();
        let n = self.resolution.bins();
        let shaped = shape::across(&fits, n);
        let power = |s: &shape::At| units::ratio_from_db(s.level_db);
        let power: Vec<f64> = shaped.par_iter().with_min_len(BINS_PER_TASK).map(power).collect();
        let whole: f64 = power.iter().sum();
        // f32 transforms leave rounding noise some 140 dB under the strongest signal.
        let rounding = self.total / (self.rows.max(1) as f64) * 1e-13;
        let silent = whole <= rounding.max(f64::MIN_POSITIVE);
        Floor {
            resolution: self.resolution,
            power: power.iter().map(|p| if silent { 0.0 } else { *p as f32 }).collect(),
            u_db: shaped
                .iter()
                .map(|s| if silent { f32::INFINITY } else { s.u_db as f32 })
                .collect(),
            trusted: shaped.iter().map(|s| s.trusted && !silent).collect(),
            cells: self.cells(),
        }
    }
}

/// What one sub-band's histogram says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Fit {
    /// Noise power per bin, dB; −∞ if the sub-band is silent.
    level_db: f64,
    /// Standard uncertainty from counting, dB.
    u_db: f64,
    /// Whether the law of noise fits the low end.
    fits: bool,
}

impl Fit {
    fn new(power: f64, u_db: f64, fits: bool) -> Fit {
        Fit { level_db: db_from_ratio(power), u_db, fits }
    }
}
