//! Purity by lint: each pure crate carries a `clippy.toml` that disallows clock, files,
//! environment, threads and unseeded randomness. A crate's file replaces the workspace's, so all
//! are written from the one list here; this test compares. `STILLROOM_WRITE=1` rewrites them.

use std::fmt::Write as _;
use std::path::Path;

const PURE: &[&str] = &[
    "units",
    "dsp",
    "almanac",
    "propagate",
    "simulate",
    "spectrum",
    "detect",
    "identify",
    "locate",
    "ledger",
];

const DISALLOWED: &[(&str, &str)] = &[
    ("std::time::SystemTime::now", "a pure floor has no clock: take the time as an argument"),
    ("std::time::Instant::now", "a pure floor has no clock: measure in a bench"),
    ("std::fs::File::open", "a pure floor has no files: take samples, traces or text"),
    ("std::fs::File::create", "a pure floor has no files: hand data up"),
    ("std::fs::read", "a pure floor has no files: take bytes"),
    ("std::fs::read_to_string", "a pure floor has no files: take text"),
    ("std::fs::write", "a pure floor has no files: hand data up"),
    ("std::env::var", "a pure floor has no environment: take a parameter"),
    ("std::env::args", "a pure floor has no environment: take a parameter"),
    ("std::thread::spawn", "a pure floor has no threads of its own: use rayon"),
    ("std::thread::sleep", "a pure floor has no clock"),
    ("std::process::Command::new", "a pure floor starts no program"),
    ("std::net::TcpStream::connect", "a pure floor has no network"),
];

fn wanted() -> String {
    let mut text = String::from(
        "# Written by STILLROOM_WRITE=1 cargo test -p xtask --test purity (the list stands there).\n\
         # This crate is pure: same input and seed, same output.\n\
         allow-unwrap-in-tests = true\nallow-expect-in-tests = true\ndisallowed-methods = [\n",
    );
    for (path, reason) in DISALLOWED {
        writeln!(text, "  {{ path = \"{path}\", reason = \"{reason}\" }},").expect("to a string");
    }
    text.push_str("]\n");
    text
}

#[test]
fn every_pure_crate_carries_the_list() {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates");
    let wanted = wanted();
    for name in PURE {
        let file = crates.join(name).join("clippy.toml");
        if std::env::var_os("STILLROOM_WRITE").is_some() {
            std::fs::write(&file, &wanted).expect("writes");
        }
        let found = std::fs::read_to_string(&file).unwrap_or_default();
        assert!(found == wanted, "{} is not the list", file.display());
    }
}
