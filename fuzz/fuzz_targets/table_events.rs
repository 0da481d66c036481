//! Event logs and readings, by a mapping that the first byte chooses.

#![no_main]

use capture::OpenOptions;
use libfuzzer_sys::fuzz_target;
use units::Utc;

const MAPPINGS: [&str; 6] = [
    "time=1,band=2,strength=3/12,duration=4:s",
    "time=1:%d.%m.%Y %H:%M,band=2,strength=3/12",
    "date=1,time=2,frequency=3:MHz,level=4:dBm,duration=5:min",
    "time=1:%s,frequency=2,level=3",
    "time=1:ms,frequency=2:kHz,strength=3/5",
    "position=1,frequency=2:MHz,strength=3/10,bearing=4,heard=5,note=6",
];

fuzz_target!(|bytes: &[u8]| {
    let Some((first, bytes)) = bytes.split_first() else { return };
    let mapping = MAPPINGS.get(usize::from(*first) % 8).map(|m| m.parse().expect("a mapping"));
    let start = (*first >= 128).then(|| Utc(1_772_400_000_000_000_000));
    let time_zone = Some("Europe/Vienna".to_owned());
    let options = OpenOptions { mapping, start, time_zone, ..OpenOptions::default() };
    if let Ok(opened) = stillroom_fuzz::open(bytes, &options) {
        stillroom_fuzz::read(&opened);
    }
});
