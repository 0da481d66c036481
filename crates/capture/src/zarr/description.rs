//! What `zarr.json` says of an array, and how a chunk is coded.

use super::crc32c::crc32c;
use crate::{CaptureError, Place};
use serde_json::{Map, Value, json};
use std::path::{Path, PathBuf};

/// Larger chunks are refused rather than allocated.
const MOST_CHUNK_BYTES: u64 = 64 << 20;
/// More along a dimension is rubbish, and would overflow sums.
const MOST_ELEMENTS: u64 = 1 << 48;
/// zstd level: as small as level 3 on spectra, and faster (measured).
const LEVEL: i32 = 1;

/// An array of bytes: shape, chunks, codecs, attributes.
#[derive(Debug, Clone, PartialEq)]
pub struct Description {
    /// Elements along each dimension.
    pub shape: Vec<u64>,
    /// Elements of a chunk along each dimension.
    pub chunk_shape: Vec<u64>,
    /// Value of elements never written.
    pub fill_value: u8,
    /// Names of the dimensions; empty for none.
    pub dimension_names: Vec<String>,
    /// What else is known of it.
    pub attributes: Map<String, Value>,
}

impl Description {
    /// Bytes of one chunk.
    pub fn chunk_bytes(&self) -> usize {
        self.chunk_shape.iter().product::<u64>() as usize
    }

    /// The file of a chunk, relative to the array's folder: `c/0/1`.
    pub fn chunk_key(&self, index: &[u64]) -> PathBuf {
        let mut key = PathBuf::from("c");
        key.extend(index.iter().map(u64::to_string));
        key
    }

    /// The text of `zarr.json`.
    pub fn to_json(&self) -> String {
        let mut all = json!({
            "zarr_format": 3,
            "node_type": "array",
            "shape": self.shape,
            "data_type": "uint8",
            "chunk_grid": {"name": "regular", "configuration": {"chunk_shape": self.chunk_shape}},
            "chunk_key_encoding": {"name": "default", "configuration": {"separator": "/"}},
            "fill_value": self.fill_value,
            "codecs": [
                {"name": "bytes"},
                {"name": "zstd", "configuration": {"level": LEVEL, "checksum": false}},
                {"name": "crc32c"},
            ],
            "attributes": self.attributes,
        });
        if !self.dimension_names.is_empty() {
            all["dimension_names"] = json!(self.dimension_names);
        }
        format!("{all:#}\n")
    }

    /// From the text of `zarr.json`.
    ///
    /// # Errors
    /// If it is no JSON, or an array outside the subset.
    pub fn parse(bytes: &[u8], path: &Path) -> Result<Self, CaptureError> {
        let refuse = |field: &str, found: String, expected: &str| {
            let place = match field {
                "" => Place::Whole,
                field => Place::Field(field.trim_start_matches('/').replace('/', ".")),
            };
            let remedy = "Derive the overview again.";
            CaptureError::refused(path, place, found, expected, remedy)
        };
        let all: Value = serde_json::from_slice(bytes).map_err(|e| {
            refuse("", format!("it is no JSON ({e})"), "the description of a Zarr array")
        })?;
        let is = |pointer: &str, expected: &Value| match all.pointer(pointer) {
            Some(found) if found == expected => Ok(()),
            found => {
                let found = found.map_or("nothing".to_owned(), Value::to_string);
                Err(refuse(pointer, format!("it is {found}"), &expected.to_string()))
            }
        };
        is("/zarr_format", &json!(3))?;
        is("/node_type", &json!("array"))?;
        is("/data_type", &json!("uint8"))?;
        is("/chunk_grid/name", &json!("regular"))?;
        is("/chunk_key_encoding/name", &json!("default"))?;
        let codecs: Vec<_> = all
            .get("codecs")
            .and_then(Value::as_array)
            .map(|list| list.iter().map(|c| c.get("name").and_then(Value::as_str)).collect())
            .unwrap_or_default();
        if codecs != [Some("bytes"), Some("zstd"), Some("crc32c")] {
            return Err(refuse("/codecs", format!("they are {codecs:?}"), "bytes, zstd, crc32c"));
        }
        let numbers = |pointer: &str| {
            let list = all.pointer(pointer).and_then(Value::as_array);
            let numbers =
                list.and_then(|l| l.iter().map(Value::as_u64).collect::<Option<Vec<_>>>());
            numbers
                .ok_or_else(|| refuse(pointer, "they are no numbers".into(), "a list of numbers"))
        };
        let shape = numbers("/shape")?;
        let chunk_shape = numbers("/chunk_grid/configuration/chunk_shape")?;
        let bytes = chunk_shape.iter().try_fold(1u64, |n, &c| n.checked_mul(c)).unwrap_or(u64::MAX);
        let fits = !shape.is_empty()
            && shape.len() == chunk_shape.len()
            && shape.iter().all(|&n| n < MOST_ELEMENTS);
        if bytes == 0 || bytes > MOST_CHUNK_BYTES || !fits {
            return Err(refuse(
                "/chunk_grid/configuration/chunk_shape",
                format!("{chunk_shape:?} for an array of {shape:?}"),
                "chunks of at most 64 MiB, of as many dimensions as the array",
            ));
        }
        let fill_value =
            all.get("fill_value").and_then(Value::as_u64).and_then(|v| v.try_into().ok());
        let names = all.get("dimension_names").and_then(Value::as_array);
        let name = |v: &Value| v.as_str().unwrap_or_default().to_owned();
        Ok(Description {
            shape,
            chunk_shape,
            fill_value: fill_value
                .ok_or_else(|| refuse("/fill_value", "it is no byte".into(), "0 to 255"))?,
            dimension_names: names.map(|l| l.iter().map(name).collect()).unwrap_or_default(),
            attributes: all
                .get("attributes")
                .and_then(Value::as_object)
                .cloned()
                .unwrap_or_default(),
        })
    }
}

/// A chunk as it is stored.
pub(super) fn encode_chunk(plain: &[u8]) -> std::io::Result<Vec<u8>> {
    let mut stored = zstd::bulk::compress(plain, LEVEL)?;
    let crc = crc32c(&stored);
    stored.extend(crc.to_le_bytes());
    Ok(stored)
}

/// The `bytes` bytes of a stored chunk; else what is wrong with it, to follow the file's name.
///
/// # Errors
/// If the checksum or the length is wrong, or it is no zstd frame.
pub fn decode_chunk(stored: &[u8], bytes: usize) -> Result<Vec<u8>, String> {
    let Some((frame, sum)) = stored.split_last_chunk::<4>() else {
        return Err(format!("{} bytes are no chunk", stored.len()));
    };
    if crc32c(frame) != u32::from_le_bytes(*sum) {
        return Err("its checksum is wrong".to_owned());
    }
    let plain = zstd::bulk::decompress(frame, bytes).map_err(|e| format!("it is no zstd ({e})"))?;
    match plain.len() == bytes {
        true => Ok(plain),
        false => Err(format!("it holds {} bytes, not {bytes}", plain.len())),
    }
}
