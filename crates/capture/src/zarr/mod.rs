//! Arrays of bytes as Zarr version 3 (Zarr core specification v3.0), the subset that overview tiles
//! need: `uint8`, a regular grid, codecs `bytes`, `zstd` and `crc32c`, default chunk keys.
//!
//! Each chunk is renamed into place; the shape, without which no reader sees an array, is written
//! last. Chunks are not flushed one by one: they are derived data, and the checksum tells a reader
//! of one that a power cut spoiled.

mod crc32c;
mod description;
mod group;
mod reader;
mod writer;

pub use description::{Description, decode_chunk};
pub use group::{read_group, write_group};
pub use reader::ZarrReader;
pub use writer::ZarrWriter;

/// Name of the file that describes an array or a group.
const DESCRIPTION: &str = "zarr.json";
