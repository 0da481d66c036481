//! WAV, as IQ and as sound.

#![no_main]

use capture::{OpenOptions, TreatAs};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    for treat_as in [None, Some(TreatAs::Iq), Some(TreatAs::Sound)] {
        let options = OpenOptions { treat_as, ..OpenOptions::default() };
        if let Ok(opened) = stillroom_fuzz::open(bytes, &options) {
            stillroom_fuzz::read(&opened);
        }
    }
});
