//! The description of a Zarr array and a chunk of it, parted by the first zero byte.

#![no_main]

use capture::zarr::{Description, decode_chunk};
use libfuzzer_sys::fuzz_target;
use std::path::Path;

fuzz_target!(|bytes: &[u8]| {
    let mut parts = bytes.splitn(2, |b| *b == 0);
    let (json, chunk) = (parts.next().unwrap_or(b""), parts.next().unwrap_or(b""));
    let path = Path::new("zarr.json");
    if let Ok(description) = Description::parse(json, path) {
        let again = Description::parse(description.to_json().as_bytes(), path).expect("written");
        assert_eq!(again.chunk_shape, description.chunk_shape);
        let _ = description.chunk_key(&vec![u64::MAX; description.shape.len()]);
        let _ = decode_chunk(chunk, description.chunk_bytes());
    }
    if let Ok(plain) = decode_chunk(chunk, 64) {
        assert_eq!(plain.len(), 64);
    }
});
