//! SigMF archives.

#![no_main]

use capture::OpenOptions;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    if let Ok(opened) = stillroom_fuzz::open(bytes, &OpenOptions::default()) {
        stillroom_fuzz::read(&opened);
    }
});
