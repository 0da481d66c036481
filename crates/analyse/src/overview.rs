//! The overview of a recording, made during the first reading: max and mean power over time and
//! frequency as two arrays of bytes in one Zarr group.
//!
//! `max` and `mean` have a row for each stretch of time (segments one after the other, each
//! beginning a new row) and a column for each cell of frequency, −rate/2 first. The group's
//! attributes say what a code is in dBFS, how long a row is, and which rows a segment has. Further
//! arrays (`max-4`, `mean-4`, `max-16`, …) hold one row for every 4, 16, … of them, so that a whole
//! night is drawn without reading all of it.

use capture::CaptureError;
use capture::zarr::{ZarrWriter, write_group};
use serde_json::{Map, Value, json};
use spectrum::{Coarser, Overview, OverviewRow, Resolution, Rows, Stft, dbfs_from_code};
use std::path::{Path, PathBuf};
use units::{Iq, Samples, Segment};

/// Most cells of frequency.
const MOST_CELLS: usize = 1024;
/// Samples worked on at once: with their spectra 2 MB, which stay in a core's cache.
const AT_ONCE: usize = 1 << 17;
/// Rows of a chunk: 256 KiB of the widest.
const CHUNK_ROWS: usize = 256;
/// Rows to which the longest segment is reduced by the coarsest level.
const FEW_ROWS: u64 = 256;

/// Takes samples in order and writes the overview.
pub(crate) struct OverviewWriter {
    folder: PathBuf,
    rate_hz: f64,
    segments: Vec<Segment>,
    stft: Stft,
    overview: Overview,
    /// Samples of the segment that no whole frame has covered yet.
    pending: Vec<Iq>,
    power: Vec<f32>,
    frames: u64,
    segment: usize,
    /// First row of each segment so far.
    first_rows: Vec<u64>,
    levels: Levels,
}

impl OverviewWriter {
    /// Begins an overview in `folder` of samples that take `bytes_per_sample` in their file.
    pub(crate) fn create(
        folder: &Path,
        samples: &dyn Samples,
        bytes_per_sample: usize,
    ) -> Result<Self, CaptureError> {
        let longest = samples.segments().iter().map(|s| s.samples).max().unwrap_or(0);
        // At least two frames in the longest segment, eight bins at the least.
        let length = (1..=MOST_CELLS.ilog2())
            .map(|k| 1 << k)
            .rfind(|n| 2 * *n as u64 <= longest)
            .unwrap_or(8)
            .max(8);
        let resolution = Resolution::hann(length);
        let overview = Overview::new(resolution, bytes_per_sample as f64);
        let rows = resolution.frames(longest).div_ceil(overview.frames_per_row());
        let levels = Levels::create(folder, overview.cells(), rows)?;
        Ok(OverviewWriter {
            folder: folder.to_owned(),
            rate_hz: samples.sample_rate_hz(),
            segments: samples.segments().to_vec(),
            stft: Stft::new(resolution),
            overview,
            pending: Vec::new(),
            power: Vec::new(),
            frames: 0,
            segment: 0,
            first_rows: vec![0],
            levels,
        })
    }

    /// Takes the next samples of a segment; segments and samples come in order.
    pub(crate) fn push(&mut self, segment: usize, iq: &[Iq]) -> Result<(), CaptureError> {
        while self.segment < segment {
            self.next_segment()?;
        }
        iq.chunks(AT_ONCE).try_for_each(|part| self.part(part))
    }

    fn part(&mut self, iq: &[Iq]) -> Result<(), CaptureError> {
        self.pending.extend_from_slice(iq);
        let resolution = *self.stft.resolution();
        let frames = resolution.frames(self.pending.len() as u64);
        self.power.resize(frames as usize * resolution.bins(), 0.0);
        self.stft.rows(&self.pending, &mut self.power);
        self.pending.drain(..frames as usize * resolution.hop());
        let rows = Rows { first_frame: self.frames, bins: resolution.bins(), power: &self.power };
        self.frames += frames;
        self.levels.take(|take| self.overview.push(&rows, take))
    }

    fn next_segment(&mut self) -> Result<(), CaptureError> {
        self.levels.take(|take| self.overview.finish(take))?;
        self.levels.end_segment()?;
        self.pending.clear();
        self.frames = 0;
        self.segment += 1;
        self.first_rows.push(self.levels.arrays[0].rows);
        Ok(())
    }

    /// Writes what is left, and the shape, without which no reader sees an overview.
    pub(crate) fn finish(mut self) -> Result<(), CaptureError> {
        while self.segment < self.segments.len() {
            self.next_segment()?;
        }
        let segments: Vec<Value> = self
            .segments
            .iter()
            .zip(self.first_rows.windows(2))
            .map(|(s, rows)| {
                json!({"first_row": rows[0], "rows": rows[1] - rows[0], "centre_hz": s.centre_hz,
                       "first_sample": s.first_sample, "samples": s.samples, "start": s.start})
            })
            .collect();
        let step_db = dbfs_from_code(2) - dbfs_from_code(1);
        let Value::Object(attributes) = json!({
            "is": "power per bin of a recording, maximum and mean over time and frequency",
            "sample_rate_hz": self.rate_hz,
            "cells": self.overview.cells(),
            "row_s": self.overview.row_s(self.rate_hz),
            "noise_bandwidth_hz": self.stft.resolution().noise_bandwidth_hz(self.rate_hz),
            "code": {"dbfs_of_1": dbfs_from_code(1), "db_a_step": step_db, "0": "nothing"},
            "levels": self.levels.described(),
            "segments": segments,
        }) else {
            return Ok(());
        };
        self.levels.finish()?;
        write_group(&self.folder, attributes)
    }
}

/// Names of the arrays of a level whose rows are `rows` of the finest.
pub(crate) fn names(rows: u64) -> (String, String) {
    match rows {
        1 => ("max".to_owned(), "mean".to_owned()),
        rows => (format!("max-{rows}"), format!("mean-{rows}")),
    }
}

/// The levels, finest first, and what makes each out of the one before.
struct Levels {
    arrays: Vec<Arrays>,
    coarser: Vec<Coarser>,
}

impl Levels {
    /// For a longest segment of `rows`.
    fn create(folder: &Path, cells: usize, rows: u64) -> Result<Self, CaptureError> {
        let mut arrays = vec![Arrays::create(folder, cells, 1)?];
        let mut each = 1;
        while rows.div_ceil(each) > FEW_ROWS {
            each *= u64::from(Coarser::ROWS);
            arrays.push(Arrays::create(folder, cells, each)?);
        }
        let coarser = vec![Coarser::new(cells); arrays.len() - 1];
        Ok(Levels { arrays, coarser })
    }

    /// Lets `hand_up` give rows of the finest level; the first failure is told afterwards.
    fn take(
        &mut self,
        hand_up: impl FnOnce(&mut dyn FnMut(OverviewRow<'_>)),
    ) -> Result<(), CaptureError> {
        let mut failed = None;
        hand_up(&mut |row| {
            if failed.is_none() {
                failed = give(&mut self.arrays, &mut self.coarser, &row).err();
            }
        });
        failed.map_or(Ok(()), Err)
    }

    /// The next row of every level begins afresh.
    fn end_segment(&mut self) -> Result<(), CaptureError> {
        let mut failed = None;
        let (mut arrays, mut coarser) = (&mut self.arrays[..], &mut self.coarser[..]);
        while let (Some((_, above)), Some((one, others))) =
            (arrays.split_first_mut(), coarser.split_first_mut())
        {
            one.finish(&mut |row| {
                if failed.is_none() {
                    failed = give(above, others, &row).err();
                }
            });
            (arrays, coarser) = (above, others);
        }
        failed.map_or(Ok(()), Err)
    }

    fn described(&self) -> Vec<Value> {
        let level = |arrays: &Arrays| {
            let (max, mean) = names(arrays.each);
            json!({"max": max, "mean": mean, "rows_in_one": arrays.each})
        };
        self.arrays.iter().map(level).collect()
    }

    fn finish(self) -> Result<(), CaptureError> {
        self.arrays.into_iter().try_for_each(Arrays::finish)
    }
}

/// Writes a row of a level, and those of the levels above that it completes.
fn give(
    arrays: &mut [Arrays],
    coarser: &mut [Coarser],
    row: &OverviewRow<'_>,
) -> Result<(), CaptureError> {
    let Some((own, above)) = arrays.split_first_mut() else { return Ok(()) };
    own.row(row)?;
    let Some((one, others)) = coarser.split_first_mut() else { return Ok(()) };
    let mut given = Ok(());
    one.push(row, &mut |row| given = give(above, others, &row));
    given
}

/// The two arrays of a level, written chunk by chunk.
struct Arrays {
    max: ZarrWriter,
    mean: ZarrWriter,
    /// Rows of the finest level in one.
    each: u64,
    cells: usize,
    rows: u64,
    pending: (Vec<u8>, Vec<u8>),
}

impl Arrays {
    fn create(folder: &Path, cells: usize, each: u64) -> Result<Self, CaptureError> {
        let chunk = [CHUNK_ROWS as u64, cells as u64];
        let array =
            |name: &str| ZarrWriter::create(&folder.join(name), &chunk, 0, &["time", "frequency"]);
        let (max, mean) = names(each);
        let (max, mean) = (array(&max)?, array(&mean)?);
        Ok(Arrays { max, mean, each, cells, rows: 0, pending: Default::default() })
    }

    fn row(&mut self, row: &OverviewRow<'_>) -> Result<(), CaptureError> {
        self.pending.0.extend_from_slice(row.max);
        self.pending.1.extend_from_slice(row.mean);
        self.rows += 1;
        if self.rows.is_multiple_of(CHUNK_ROWS as u64) { self.chunk() } else { Ok(()) }
    }

    fn chunk(&mut self) -> Result<(), CaptureError> {
        let index = [(self.rows - 1) / CHUNK_ROWS as u64, 0];
        for (array, pending) in
            [(&self.max, &mut self.pending.0), (&self.mean, &mut self.pending.1)]
        {
            pending.resize(CHUNK_ROWS * self.cells, 0);
            array.chunk(&index, pending)?;
            pending.clear();
        }
        Ok(())
    }

    fn finish(mut self) -> Result<(), CaptureError> {
        if !self.pending.0.is_empty() {
            self.chunk()?;
        }
        let shape = [self.rows, self.cells as u64];
        self.max.finish(&shape, Map::new())?;
        self.mean.finish(&shape, Map::new())
    }
}
