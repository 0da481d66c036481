//! The arithmetic of a plane: which levels there are, and how large their cells and rows.

use super::{Stretch, TILE_CELLS, TILE_ROWS};
use crate::plane::stored::Stored;
use spectrum::{Overview, Resolution};

/// Cells of the finest frequency level of an overview.
const MOST_CELLS: usize = 1024;
/// Samples that may be transformed for a row, each of its frames counted whole.
const MOST_A_ROW: f64 = 35e3;
/// The same for one picture that is no tile.
const MOST_TRANSFORMED: f64 = 256.0 * MOST_A_ROW;
/// The coarsest level shows all of it in no more pixels than these along each side.
const ALL_WITHIN: u64 = 256;
/// A row is at least so long a part of its transform: finer rows would repeat each other.
const LEAST_OF_TRANSFORM: f64 = 0.125;
/// The shortest transform.
const SHORTEST: u64 = 8;
/// The longest.
const LONGEST: u64 = 1 << 20;

/// Which zoom.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Level {
    /// A cell is 2^this cells of the overview.
    pub frequency: i32,
    /// A row is 2^this rows of the overview.
    pub time: i32,
}

impl Level {
    /// Whether the overview has it; finer ones come from the samples.
    pub(crate) fn is_stored(self) -> bool {
        self.frequency >= 0 && self.time >= 0
    }
}

/// One frequency level, with the time levels that go with it.
#[derive(Debug, Clone, PartialEq)]
pub struct FrequencyLevel {
    /// Its number.
    pub frequency: i32,
    /// Width of a cell.
    pub cell_hz: f64,
    /// Lower edge of cell 0.
    pub low_hz: f64,
    /// Noise bandwidth of the spectra under it; none where nobody states it.
    pub noise_bandwidth_hz: Option<f64>,
    /// The same where rows come from the samples.
    pub fine_noise_bandwidth_hz: Option<f64>,
    /// Numbers of its time levels, rising.
    pub times: Vec<i32>,
}

/// Cells and rows of a plane at level 0, 0.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Grid {
    /// Middle of cell 0, which is half of the rate under the lowest centre.
    pub(crate) low_hz: f64,
    pub(crate) cell_hz: f64,
    /// Cells in all.
    pub(crate) cells: u64,
    pub(crate) row_s: f64,
    /// Rows in all.
    pub(crate) rows: u64,
    /// Length of the transform under it, samples in a row and in the longest segment; none of
    /// swept spectra.
    pub(crate) transform: Option<Transform>,
    /// Whether levels from 0 on can be had.
    pub(crate) stored: bool,
}

/// How spectra are made of samples.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Transform {
    pub(crate) bins: u64,
    pub(crate) row_samples: f64,
    pub(crate) longest: u64,
    pub(crate) rate_hz: f64,
}

impl Grid {
    pub(crate) fn of_samples(
        rate_hz: f64,
        bytes_per_sample: usize,
        longest: u64,
        stretches: &[Stretch],
        stored: Option<&Stored>,
    ) -> Grid {
        let (bins, row_s) = match stored {
            Some(stored) => (stored.cells as u64, stored.row_s),
            None => {
                let bins = (3..=MOST_CELLS.ilog2())
                    .map(|k| 1u64 << k)
                    .rfind(|n| 2 * n <= longest)
                    .unwrap_or(SHORTEST);
                let overview =
                    Overview::new(Resolution::hann(bins as usize), bytes_per_sample as f64);
                (bins, overview.row_s(rate_hz))
            }
        };
        let low_hz = stretches.iter().map(|s| s.low_hz).fold(f64::INFINITY, f64::min);
        let high_hz = stretches.iter().map(|s| s.high_hz).fold(low_hz, f64::max);
        let end_s = stretches.iter().map(|s| s.start_s + s.duration_s).fold(0.0, f64::max);
        let cell_hz = rate_hz / bins as f64;
        Grid {
            low_hz: if low_hz.is_finite() { low_hz } else { 0.0 },
            cell_hz,
            cells: (((high_hz - low_hz) / cell_hz).round().max(1.0)) as u64,
            row_s,
            rows: ((end_s / row_s - 1e-9).ceil().max(1.0)) as u64,
            transform: Some(Transform { bins, row_samples: row_s * rate_hz, longest, rate_hz }),
            stored: stored.is_some(),
        }
    }

    pub(crate) fn high_hz(&self) -> f64 {
        self.low_hz + self.cells as f64 * self.cell_hz
    }

    /// Length of the transform at a frequency level, where one of that length can be made.
    pub(crate) fn bins_at(&self, frequency: i32) -> Option<u64> {
        let transform = self.transform?;
        let bins = scaled(transform.bins as f64, -frequency);
        let longest = LONGEST.min(transform.longest) as f64;
        (bins >= SHORTEST as f64 && bins <= longest.max(SHORTEST as f64)).then_some(bins as u64)
    }

    /// Width of a cell.
    pub(crate) fn cell_at(&self, frequency: i32) -> f64 {
        scaled(self.cell_hz, frequency)
    }
    /// Length of a row.
    pub(crate) fn row_at(&self, time: i32) -> f64 {
        scaled(self.row_s, time)
    }

    /// Samples that a row of a level costs, by its transforms.
    pub(crate) fn row_cost(&self, level: Level) -> Option<f64> {
        let bins = self.bins_at(level.frequency)? as f64;
        let row = scaled(self.transform?.row_samples, level.time);
        (row >= 1.0 && row >= LEAST_OF_TRANSFORM * bins).then_some((2.0 * row).max(bins))
    }

    /// Whether a level can be had.
    pub(crate) fn has(&self, level: Level) -> bool {
        if level.is_stored() {
            self.stored
                && level.frequency <= self.coarsest_frequency()
                && level.time <= self.longest_time()
        } else {
            level.frequency <= self.coarsest_frequency().max(10)
                && self.row_cost(level).is_some_and(|row| row <= MOST_A_ROW)
        }
    }

    /// Whether an area of so many rows costs no more than a picture may.
    pub(crate) fn affords(&self, level: Level, rows: u64) -> bool {
        match level.is_stored() {
            true => self.has(level),
            false => self.row_cost(level).is_some_and(|row| row * rows as f64 <= MOST_TRANSFORMED),
        }
    }

    fn coarsest_frequency(&self) -> i32 {
        halvings(self.cells)
    }
    fn coarsest_time(&self) -> i32 {
        halvings(self.rows)
    }
    /// The time level of the longest rows: eight or more of them, so that a receiver which comes by
    /// seldom can be shown without gaps.
    fn longest_time(&self) -> i32 {
        (self.rows.ilog2() as i32 - 3).max(self.coarsest_time())
    }
    /// The level that shows all in the fewest pixels.
    pub(crate) fn coarsest(&self) -> Option<Level> {
        let level = Level { frequency: self.coarsest_frequency(), time: self.coarsest_time() };
        if self.stored {
            return Some(level);
        }
        let levels = self.levels();
        let all = levels
            .iter()
            .flat_map(|f| f.times.iter().map(|&time| Level { frequency: f.frequency, time }));
        all.max_by_key(|level| (level.time, level.frequency))
    }

    /// Tiles of a level along frequency and time.
    pub(crate) fn tiles(&self, level: Level) -> (u64, u64) {
        let count = |n: u64, by: i32, tile: usize| {
            let pixels = scaled(n as f64, -by).ceil().max(1.0);
            (pixels / tile as f64).ceil() as u64
        };
        (count(self.cells, level.frequency, TILE_CELLS), count(self.rows, level.time, TILE_ROWS))
    }

    /// Lower edge of cell 0 at a frequency level: half a cell of the spectra that it is made of
    /// under the middle of the lowest.
    pub(crate) fn low_edge_hz(&self, frequency: i32) -> f64 {
        self.low_hz - 0.5 * self.cell_at(frequency.min(0))
    }

    pub(crate) fn levels(&self) -> Vec<FrequencyLevel> {
        const HANN_BINS: f64 = 1.5;
        let mut levels = Vec::new();
        for frequency in -20..=40 {
            let times: Vec<i32> =
                (-40..=40).filter(|&time| self.has(Level { frequency, time })).collect();
            if times.is_empty() {
                continue;
            }
            let fine = self.bins_at(frequency).zip(self.transform);
            levels.push(FrequencyLevel {
                frequency,
                cell_hz: self.cell_at(frequency),
                low_hz: self.low_edge_hz(frequency),
                noise_bandwidth_hz: self
                    .transform
                    .map(|_| HANN_BINS * self.cell_at(frequency.min(0))),
                fine_noise_bandwidth_hz: fine
                    .map(|(bins, transform)| HANN_BINS * transform.rate_hz / bins as f64),
                times,
            });
        }
        levels
    }
}

/// How often a number is halved until it is as small as the coarsest level's.
fn halvings(n: u64) -> i32 {
    n.div_ceil(ALL_WITHIN).next_power_of_two().ilog2() as i32
}

/// `x` · 2^`by`.
pub(crate) fn scaled(x: f64, by: i32) -> f64 {
    x * 2f64.powi(by)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid() -> Grid {
        // 180 s of 20 Msps in 8-bit complex samples.
        let stretch = Stretch {
            centre_hz: Some(435e6),
            low_hz: 425e6,
            high_hz: 445e6,
            start_s: 0.0,
            duration_s: 180.0,
        };
        let mut grid = Grid::of_samples(20e6, 2, 3_600_000_000, &[stretch], None);
        grid.stored = true;
        grid
    }

    #[test]
    fn levels_reach_from_all_of_it_to_a_sample() {
        let grid = grid();
        assert_eq!((grid.cells, grid.low_hz, grid.high_hz()), (1024, 425e6, 445e6));
        let levels = grid.levels();
        assert_eq!(grid.coarsest().map(|level| grid.tiles(level)), Some((1, 4)));
        // Every level has a coarser neighbour to fall back on, and each tile is affordable.
        let finest_row = levels.iter().map(|l| l.times[0]).min().expect("levels");
        let samples = grid.row_at(finest_row) * 20e6;
        assert!((1.0..2.0).contains(&samples), "{samples}");
        let finest_hz = levels[0].cell_hz;
        assert!(finest_hz < 700.0, "{finest_hz}");
        for level in &levels {
            for pair in level.times.windows(2) {
                assert!(pair[1] - pair[0] <= 2, "{level:?}");
            }
        }
    }
}
