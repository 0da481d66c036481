//! Raw samples: the first byte chooses the format, the rest are samples.

#![no_main]

use capture::{OpenOptions, RawFormat};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Some((first, bytes)) = bytes.split_first() else { return };
    let formats = [RawFormat::Cu8, RawFormat::Ci8, RawFormat::Ci16Le, RawFormat::Cf32Le];
    let format = Some(formats[usize::from(*first) % formats.len()]);
    let rate_hz = Some(f64::from(*first) * 1e4);
    let options = OpenOptions { format, rate_hz, ..OpenOptions::default() };
    if let Ok(opened) = stillroom_fuzz::open(bytes, &options) {
        stillroom_fuzz::read(&opened);
    }
});
