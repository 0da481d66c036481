//! Writing an array chunk by chunk, its shape last.

use super::DESCRIPTION;
use super::description::{Description, encode_chunk};
use crate::write::{sync_folder, write_whole};
use crate::{CaptureError, Place};
use serde_json::{Map, Value};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

/// An array being written; any thread may write any chunk.
#[derive(Debug)]
pub struct ZarrWriter {
    folder: PathBuf,
    description: Description,
}

impl ZarrWriter {
    /// Begins an array in `folder`, which is made. Until `finish`, no reader sees an array there:
    /// a description left by an earlier one is removed first.
    ///
    /// # Errors
    /// If the folder cannot be made or written to.
    pub fn create(
        folder: &Path,
        chunk_shape: &[u64],
        fill_value: u8,
        dimension_names: &[&str],
    ) -> Result<Self, CaptureError> {
        let fail = |e| CaptureError::disk(folder, "make it", e);
        fs::create_dir_all(folder).map_err(fail)?;
        match fs::remove_file(folder.join(DESCRIPTION)) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => return Err(fail(e)),
            _ => {}
        }
        let description = Description {
            shape: Vec::new(),
            chunk_shape: chunk_shape.to_vec(),
            fill_value,
            dimension_names: dimension_names.iter().map(|&n| n.to_owned()).collect(),
            attributes: Map::new(),
        };
        Ok(ZarrWriter { folder: folder.to_owned(), description })
    }

    /// Writes the chunk at `index` (chunks along each dimension): `data` is a whole chunk in C
    /// order, padded with the fill value where it reaches past the array.
    ///
    /// # Errors
    /// If the length or the number of dimensions is wrong, or the disk refuses.
    pub fn chunk(&self, index: &[u64], data: &[u8]) -> Result<(), CaptureError> {
        let path = self.folder.join(self.description.chunk_key(index));
        let bytes = self.description.chunk_bytes();
        if data.len() != bytes || index.len() != self.description.chunk_shape.len() {
            return Err(CaptureError::refused(
                &path,
                Place::Whole,
                format!("a chunk of {} bytes at {index:?} was given", data.len()),
                format!("{bytes} bytes"),
                "This is a defect of the program: please report it.",
            ));
        }
        let fail = |e| CaptureError::disk(&path, "write it", e);
        let folder = path.parent().unwrap_or(&self.folder);
        fs::create_dir_all(folder).map_err(fail)?;
        let mut file = tempfile::Builder::new()
            .prefix(".partial-")
            .permissions(std::os::unix::fs::PermissionsExt::from_mode(0o644))
            .tempfile_in(folder)
            .map_err(fail)?;
        file.write_all(&encode_chunk(data).map_err(fail)?).map_err(fail)?;
        file.persist(&path).map_err(|e| fail(e.error))?;
        Ok(())
    }

    /// Writes the description: from now on there is an array of `shape`.
    ///
    /// # Errors
    /// If the number of dimensions is wrong, or the disk refuses.
    pub fn finish(
        mut self,
        shape: &[u64],
        attributes: Map<String, Value>,
    ) -> Result<(), CaptureError> {
        let path = self.folder.join(DESCRIPTION);
        let dimensions = self.description.chunk_shape.len();
        if shape.len() != dimensions {
            return Err(CaptureError::refused(
                &path,
                Place::Whole,
                format!("a shape of {shape:?} was given"),
                format!("{dimensions} dimensions"),
                "This is a defect of the program: please report it.",
            ));
        }
        self.description.shape = shape.to_vec();
        self.description.attributes = attributes;
        write_whole(&path, self.description.to_json().as_bytes())?;
        sync_folder(&self.folder)
    }
}
