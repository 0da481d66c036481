//! SigMF metadata over a few samples.

#![no_main]

use capture::OpenOptions;
use capture::sigmf::{Metadata, open_data};
use libfuzzer_sys::fuzz_target;
use std::path::Path;
use std::sync::Arc;

fuzz_target!(|bytes: &[u8]| {
    let path = Path::new("fuzz.sigmf-meta");
    let Ok(metadata) = Metadata::parse(bytes, path) else { return };
    let again = Metadata::parse(metadata.to_json().as_bytes(), path).expect("what was written");
    assert_eq!(again, metadata);
    let data = Arc::new((0..=255).collect::<Vec<u8>>());
    let file = Path::new("fuzz.sigmf-data");
    match open_data(&metadata, path, data, file, None, &OpenOptions::default()) {
        Ok(opened) => stillroom_fuzz::read(&opened),
        Err(error) => assert!(!error.to_string().is_empty()),
    }
});
