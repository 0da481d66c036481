//! Groups of arrays: attributes that say what the arrays are.

use super::DESCRIPTION;
use crate::write::write_whole;
use crate::{CaptureError, Place};
use serde_json::{Map, Value, json};
use std::fs;
use std::path::Path;

/// Describes `folder` as a group of arrays.
///
/// # Errors
/// If the folder cannot be made or written to.
pub fn write_group(folder: &Path, attributes: Map<String, Value>) -> Result<(), CaptureError> {
    fs::create_dir_all(folder).map_err(|e| CaptureError::disk(folder, "make it", e))?;
    let group = json!({"zarr_format": 3, "node_type": "group", "attributes": attributes});
    write_whole(&folder.join(DESCRIPTION), format!("{group:#}\n").as_bytes())
}

/// The attributes of the group in `folder`.
///
/// # Errors
/// If there is none, or it cannot be read.
pub fn read_group(folder: &Path) -> Result<Map<String, Value>, CaptureError> {
    let path = folder.join(DESCRIPTION);
    let bytes = fs::read(&path).map_err(|e| CaptureError::disk(&path, "read it", e))?;
    let all: Option<Value> = serde_json::from_slice(&bytes).ok();
    let group = all.filter(|all| all["zarr_format"] == 3 && all["node_type"] == "group");
    let attributes = group.and_then(|mut all| match all["attributes"].take() {
        Value::Object(attributes) => Some(attributes),
        _ => None,
    });
    attributes.ok_or_else(|| {
        CaptureError::refused(
            &path,
            Place::Whole,
            "it describes no group",
            "the description of a Zarr group with attributes",
            "Derive the overview again.",
        )
    })
}
