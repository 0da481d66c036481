//! The overview of a recording, made during the first reading: max and mean power over time and
//! frequency as two arrays of bytes in one Zarr group.
//!
//! `max` and `mean` have a row for each stretch of time (segments one after the other, each
//! beginning a new row) and a column for each cell of frequency, −rate/2 first. The group's
//! attributes say what a code is in dBFS, how long a row is, and which rows a segment has.

use capture::CaptureError;
use capture::zarr::{ZarrWriter, write_group};
use serde_json::{Map, Value, json};
use spectrum::{Overview, OverviewRow, Resolution, Rows, Stft, dbfs_from_code};
use std::path::{Path, PathBuf};
use units::{Iq, Samples, Segment};

/// Most cells of frequency.
const MOST_CELLS: usize = 1024;
/// Samples worked on at once: with their spectra 2 MB, which stay in a core's cache.
const AT_ONCE: usize = 1 << 17;
/// Rows of a chunk: 256 KiB of the widest.
const CHUNK_ROWS: usize = 256;

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
    arrays: Arrays,
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
        let arrays = Arrays::create(folder, overview.cells())?;
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
            arrays,
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
        self.arrays.take(|take| self.overview.push(&rows, take))
    }

    fn next_segment(&mut self) -> Result<(), CaptureError> {
        self.arrays.take(|take| self.overview.finish(take))?;
        self.pending.clear();
        self.frames = 0;
        self.segment += 1;
        self.first_rows.push(self.arrays.rows);
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
            "segments": segments,
        }) else {
            return Ok(());
        };
        self.arrays.finish()?;
        write_group(&self.folder, attributes)
    }
}

/// The two arrays, written chunk by chunk.
struct Arrays {
    max: ZarrWriter,
    mean: ZarrWriter,
    cells: usize,
    rows: u64,
    pending: (Vec<u8>, Vec<u8>),
    failed: Option<CaptureError>,
}

impl Arrays {
    fn create(folder: &Path, cells: usize) -> Result<Self, CaptureError> {
        let chunk = [CHUNK_ROWS as u64, cells as u64];
        let array =
            |name: &str| ZarrWriter::create(&folder.join(name), &chunk, 0, &["time", "frequency"]);
        let (max, mean) = (array("max")?, array("mean")?);
        Ok(Arrays { max, mean, cells, rows: 0, pending: Default::default(), failed: None })
    }

    /// Lets `hand_up` give rows; the first failure is told afterwards.
    fn take(
        &mut self,
        hand_up: impl FnOnce(&mut dyn FnMut(OverviewRow<'_>)),
    ) -> Result<(), CaptureError> {
        hand_up(&mut |row| {
            if self.failed.is_none()
                && let Err(error) = self.row(&row)
            {
                self.failed = Some(error);
            }
        });
        self.failed.take().map_or(Ok(()), Err)
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
