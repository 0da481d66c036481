//! The text of a mapping: what is read is written so that it is read the same.

#![no_main]

use capture::table::Mapping;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    if let Ok(mapping) = text.parse::<Mapping>() {
        assert_eq!(mapping.to_string().parse(), Ok(mapping));
    }
});
