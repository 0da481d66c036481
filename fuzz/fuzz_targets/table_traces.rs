//! Tables of traces: as they are, as proposed, and by a mapping that the first byte chooses.

#![no_main]

use capture::OpenOptions;
use libfuzzer_sys::fuzz_target;

const MAPPINGS: [&str; 6] = [
    "shape=sweep,frequency=:MHz,level=:dBm",
    "shape=sweep,date=:%d.%m.%Y,time=:%H:%M,frequency=:kHz,level=:dBFS",
    "shape=segment,frequency=:Hz,level=:dBFS",
    "shape=point,frequency=:MHz,level=:dBm",
    "shape=point,frequency=1:Hz,level=2:dBm",
    "shape=point,time=1:us,frequency=2:Hz,level=3:dBuV",
];

fuzz_target!(|bytes: &[u8]| {
    let Some((first, bytes)) = bytes.split_first() else { return };
    let mapping = MAPPINGS.get(usize::from(*first) % 8).map(|m| m.parse().expect("a mapping"));
    let options = OpenOptions { mapping, ..OpenOptions::default() };
    if let Ok(opened) = stillroom_fuzz::open(bytes, &options) {
        stillroom_fuzz::read(&opened);
    }
});
