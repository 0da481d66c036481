//! Pictures out of the overview that was stored when the recording was analysed.

use super::grid::{Grid, scaled};
use super::{Area, KeepGoing, Stretch};
use crate::AnalyseError;
use crate::overview::names;
use capture::CaptureError;
use capture::zarr::ZarrReader;
use serde_json::Value;
use spectrum::{OverviewRow, Picture, Pixels};
use std::path::Path;

/// An overview, open.
#[derive(Debug)]
pub(crate) struct Stored {
    pub(crate) cells: usize,
    pub(crate) row_s: f64,
    /// Rows of each segment at the finest level.
    rows: Vec<u64>,
    levels: Vec<Arrays>,
}

/// The arrays of a level.
#[derive(Debug)]
struct Arrays {
    max: ZarrReader,
    mean: ZarrReader,
    /// Rows of the finest level in one.
    each: u64,
    /// First row of each segment, and the number of all.
    first_rows: Vec<u64>,
}

impl Stored {
    /// Opens the overview in `folder`; one without coarser levels too.
    pub(crate) fn open(folder: &Path) -> Result<Stored, CaptureError> {
        let attributes = capture::zarr::read_group(folder)?;
        let bad = |field: &str| {
            CaptureError::refused(
                &folder.join("zarr.json"),
                capture::Place::Field(format!("attributes.{field}")),
                "it is missing or no number",
                "a number",
                "Derive the overview again.",
            )
        };
        let row_s = attributes.get("row_s").and_then(Value::as_f64).filter(|s| *s > 0.0);
        let row_s = row_s.ok_or_else(|| bad("row_s"))?;
        let cells = attributes.get("cells").and_then(Value::as_u64).filter(|n| *n > 0);
        let cells = cells.ok_or_else(|| bad("cells"))? as usize;
        let segments = attributes.get("segments").and_then(Value::as_array);
        let rows: Option<Vec<u64>> = segments
            .map(|list| list.iter().map(|s| s.get("rows").and_then(Value::as_u64)).collect())
            .unwrap_or_default();
        let rows = rows.ok_or_else(|| bad("segments"))?;
        let each = |level: &Value| level.get("rows_in_one").and_then(Value::as_u64);
        let listed = attributes.get("levels").and_then(Value::as_array);
        let listed: Vec<u64> = listed
            .map_or(vec![1], |list| list.iter().filter_map(each).filter(|n| *n > 0).collect());
        let levels = listed.into_iter().map(|each| {
            let (max, mean) = names(each);
            let mut first = 0;
            let mut first_rows = vec![0];
            for rows in &rows {
                first += rows.div_ceil(each);
                first_rows.push(first);
            }
            let open = |name: &str| -> Result<ZarrReader, CaptureError> {
                let array = ZarrReader::open(&folder.join(name))?;
                match array.description().shape[..] == [first, cells as u64] {
                    true => Ok(array),
                    false => Err(bad("levels")),
                }
            };
            Ok(Arrays { max: open(&max)?, mean: open(&mean)?, each, first_rows })
        });
        let levels = levels.collect::<Result<Vec<_>, CaptureError>>()?;
        if levels.is_empty() {
            return Err(bad("levels"));
        }
        Ok(Stored { cells, row_s, rows, levels })
    }

    pub(crate) fn area(
        &self,
        grid: &Grid,
        stretches: &[Stretch],
        area: Area,
        keep_going: KeepGoing<'_>,
    ) -> Result<Pixels, AnalyseError> {
        let Area { level, left, width, top, height } = area;
        let mut picture = Picture::new(width, height);
        let pixel_s = grid.row_at(level.time);
        let (from_s, until_s) = (top as f64 * pixel_s, (top + height as i64) as f64 * pixel_s);
        // The coarsest rows that are not longer than a pixel.
        let fits = |arrays: &&Arrays| arrays.each as f64 <= scaled(1.0, level.time);
        let arrays = self.levels.iter().rev().find(fits).unwrap_or(&self.levels[0]);
        let row_s = arrays.each as f64 * self.row_s;
        let mut chunks = Chunks { arrays, kept: None };
        for (segment, (stretch, &base_rows)) in stretches.iter().zip(&self.rows).enumerate() {
            let first_cell = ((stretch.low_hz - grid.low_hz) / grid.cell_hz).round() as i64;
            let last_cell = first_cell + self.cells as i64 - 1;
            if (last_cell >> level.frequency) < left
                || (first_cell >> level.frequency) >= left + width as i64
                || stretch.start_s >= until_s
                || stretch.start_s + stretch.duration_s <= from_s
            {
                continue;
            }
            let rows = base_rows.div_ceil(arrays.each);
            let near = |s: f64| ((s - stretch.start_s) / row_s).floor();
            let begin = (near(from_s) - 1.0).clamp(0.0, rows as f64) as u64;
            let end = (near(until_s) + 2.0).clamp(0.0, rows as f64) as u64;
            let length_s = base_rows as f64 * self.row_s;
            for row in begin..end {
                let starts_s = row as f64 * row_s;
                let middle_s = 0.5 * (starts_s + (starts_s + row_s).min(length_s));
                let y = ((stretch.start_s + middle_s) / pixel_s).floor() as i64 - top;
                if !(0..height as i64).contains(&y) {
                    continue;
                }
                let (max, mean) = chunks.row(arrays.first_rows[segment] + row, self.cells)?;
                let codes = OverviewRow { row, max, mean };
                picture.put(y as usize, &codes, first_cell, level.frequency as u32, left);
            }
            if !keep_going() {
                return Err(AnalyseError::Cancelled);
            }
        }
        Ok(picture.finish())
    }
}

/// Rows out of chunks, the last of which is kept.
struct Chunks<'a> {
    arrays: &'a Arrays,
    kept: Option<(u64, Vec<u8>, Vec<u8>)>,
}

impl Chunks<'_> {
    fn row(&mut self, row: u64, cells: usize) -> Result<(&[u8], &[u8]), CaptureError> {
        let each = self.arrays.max.description().chunk_shape[0];
        let chunk = row / each;
        if self.kept.as_ref().is_none_or(|(kept, ..)| *kept != chunk) {
            let first = chunk * each;
            let rows = each.min(self.arrays.max.description().shape[0].saturating_sub(first));
            let read = |array: &ZarrReader| array.read(&[first, 0], &[rows, cells as u64]);
            self.kept = Some((chunk, read(&self.arrays.max)?, read(&self.arrays.mean)?));
        }
        let at = (row % each) as usize * cells;
        let (max, mean) =
            self.kept.as_ref().map_or((&[][..], &[][..]), |(_, max, mean)| (max, mean));
        Ok((&max[at..at + cells], &mean[at..at + cells]))
    }
}
