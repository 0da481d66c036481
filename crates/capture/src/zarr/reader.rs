//! Reading an array: whole chunks, or any box of elements.

use super::DESCRIPTION;
use super::description::{Description, decode_chunk};
use crate::{CaptureError, Place};
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// An array that stands on the disk.
#[derive(Debug, Clone)]
pub struct ZarrReader {
    folder: PathBuf,
    description: Description,
}

impl ZarrReader {
    /// Opens the array in `folder`.
    ///
    /// # Errors
    /// If there is none, or one outside the subset that this reads.
    pub fn open(folder: &Path) -> Result<Self, CaptureError> {
        let path = folder.join(DESCRIPTION);
        let bytes = fs::read(&path).map_err(|e| CaptureError::disk(&path, "read it", e))?;
        let description = Description::parse(&bytes, &path)?;
        Ok(ZarrReader { folder: folder.to_owned(), description })
    }

    /// Shape, chunks and attributes.
    pub fn description(&self) -> &Description {
        &self.description
    }

    /// The chunk at `index`, whole; `None` where it was never written and all is the fill value.
    ///
    /// # Errors
    /// If it is damaged, or cannot be read.
    pub fn chunk(&self, index: &[u64]) -> Result<Option<Vec<u8>>, CaptureError> {
        let path = self.folder.join(self.description.chunk_key(index));
        let stored = match fs::read(&path) {
            Ok(stored) => stored,
            Err(e) if e.kind() == ErrorKind::NotFound => return Ok(None),
            Err(e) => return Err(CaptureError::disk(&path, "read it", e)),
        };
        decode_chunk(&stored, self.description.chunk_bytes()).map(Some).map_err(|found| {
            let remedy = "Derive the overview again.";
            CaptureError::refused(&path, Place::Whole, found, "a whole chunk", remedy)
        })
    }

    /// The elements from `start` on, `count` along each dimension, in C order.
    ///
    /// # Errors
    /// If the box reaches outside the array, or a chunk is damaged or cannot be read.
    pub fn read(&self, start: &[u64], count: &[u64]) -> Result<Vec<u8>, CaptureError> {
        let Description { shape, chunk_shape, fill_value, .. } = &self.description;
        let n = shape.len();
        let inside = |d: usize| start[d].checked_add(count[d]).is_some_and(|end| end <= shape[d]);
        if start.len() != n || count.len() != n || !(0..n).all(inside) {
            return Err(CaptureError::refused(
                &self.folder,
                Place::Whole,
                format!("{count:?} elements from {start:?} on were asked for"),
                format!("a part of {shape:?}"),
                "This is a defect of the program: please report it.",
            ));
        }
        let mut out = vec![*fill_value; count.iter().product::<u64>() as usize];
        if out.is_empty() {
            return Ok(out);
        }
        let first: Vec<u64> = (0..n).map(|d| start[d] / chunk_shape[d]).collect();
        let last: Vec<u64> = (0..n).map(|d| (start[d] + count[d] - 1) / chunk_shape[d]).collect();
        for_each_index(&first, &last, &mut |index| {
            let Some(chunk) = self.chunk(index)? else { return Ok(()) };
            // The part of this chunk that was asked for, in elements of the array.
            let from: Vec<u64> = (0..n).map(|d| start[d].max(index[d] * chunk_shape[d])).collect();
            let to: Vec<u64> = (0..n)
                .map(|d| (start[d] + count[d]).min((index[d] + 1) * chunk_shape[d]))
                .collect();
            let run = (to[n - 1] - from[n - 1]) as usize;
            let mut row_last: Vec<u64> = to.iter().map(|&t| t - 1).collect();
            row_last[n - 1] = from[n - 1];
            for_each_index(&from, &row_last, &mut |at| {
                let flat = |origin: &dyn Fn(usize) -> u64, extent: &[u64]| {
                    (0..n).fold(0, |sum, d| sum * extent[d] + at[d] - origin(d)) as usize
                };
                let source = flat(&|d| index[d] * chunk_shape[d], chunk_shape);
                let target = flat(&|d| start[d], count);
                out[target..target + run].copy_from_slice(&chunk[source..source + run]);
                Ok(())
            })
        })?;
        Ok(out)
    }
}

/// Calls `with` for every index from `first` to `last`, both included, the last dimension fastest.
fn for_each_index(
    first: &[u64],
    last: &[u64],
    with: &mut dyn FnMut(&[u64]) -> Result<(), CaptureError>,
) -> Result<(), CaptureError> {
    let mut index = first.to_vec();
    loop {
        with(&index)?;
        let Some(d) = (0..index.len()).rev().find(|&d| index[d] < last[d]) else { return Ok(()) };
        index[d] += 1;
        index[d + 1..].copy_from_slice(&first[d + 1..]);
    }
}
