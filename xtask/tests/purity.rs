//! Purity by lint: each pure crate carries a `clippy.toml` that disallows clock, files,
//! environment, threads and unseeded randomness. A crate's file replaces the workspace's, so all
//! are written from the one list here; this test compares. `STILLROOM_WRITE=1` rewrites them.
//! `analyse`, which sees the world through `capture`, and `report`, which sees it through `survey`,
//! carry the list too, the first save one thread.

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
    ("std::fs::File::create_new", "a pure floor has no files: hand data up"),
    ("std::fs::OpenOptions::open", "a pure floor has no files: take samples, traces or text"),
    ("std::fs::read", "a pure floor has no files: take bytes"),
    ("std::fs::read_dir", "a pure floor has no folders: take a list"),
    ("std::fs::read_to_string", "a pure floor has no files: take text"),
    ("std::fs::write", "a pure floor has no files: hand data up"),
    ("std::env::var", "a pure floor has no environment: take a parameter"),
    ("std::env::var_os", "a pure floor has no environment: take a parameter"),
    ("std::env::temp_dir", "a pure floor has no files: take a path"),
    ("std::env::args", "a pure floor has no environment: take a parameter"),
    ("std::thread::spawn", "a pure floor has no threads of its own: use rayon"),
    ("std::thread::scope", "a pure floor has no threads of its own: use rayon"),
    ("std::thread::Builder::spawn", "a pure floor has no threads of its own: use rayon"),
    ("std::hash::RandomState::new", "a pure floor draws no lots: take a seed, or an ordered map"),
    ("std::collections::HashMap::new", "its order is drawn anew in each run: use a BTreeMap"),
    ("std::collections::HashSet::new", "its order is drawn anew in each run: use a BTreeSet"),
    ("std::thread::sleep", "a pure floor has no clock"),
    ("std::process::Command::new", "a pure floor starts no program"),
    ("std::net::TcpStream::connect", "a pure floor has no network"),
];

/// Crates that see the world through another alone, and what they may use all the same: `analyse`
/// has one thread that hashes a file beside the first pass over it.
const THROUGH: &[(&str, &str, &[&str])] =
    &[("analyse", "capture", &["std::thread::scope"]), ("report", "survey", &[])];

fn wanted(name: &str) -> String {
    let (what, may): (_, &[&str]) = match THROUGH.iter().find(|(through, ..)| *through == name) {
        Some((_, sees, may)) => (format!("This crate sees the world through {sees} alone."), may),
        None => ("This crate is pure: same input and seed, same output.".to_owned(), &[]),
    };
    let mut text = format!(
        "# Written by STILLROOM_WRITE=1 cargo test -p xtask --test purity (the list stands there).\n\
         # {what}\n\
         allow-unwrap-in-tests = true\nallow-expect-in-tests = true\ndisallowed-methods = [\n",
    );
    for (path, reason) in DISALLOWED.iter().filter(|(path, _)| !may.contains(path)) {
        writeln!(text, "  {{ path = \"{path}\", reason = \"{reason}\" }},").expect("to a string");
    }
    text.push_str("]\n");
    text
}

/// What is wrong with a crate's file, in words.
fn fault(name: &str, found: &str) -> Option<String> {
    let wanted = wanted(name);
    let differs = found.lines().zip(wanted.lines()).find(|(found, wanted)| found != wanted);
    match differs {
        Some((found, wanted)) => Some(format!("{name}: '{found}' where the list has '{wanted}'")),
        None if found == wanted => None,
        None => Some(format!("{name}: the file ends before the list does, or after it")),
    }
}

#[test]
fn every_pure_crate_carries_the_list() {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates");
    for name in PURE.iter().copied().chain(THROUGH.iter().map(|(name, ..)| *name)) {
        let file = crates.join(name).join("clippy.toml");
        if std::env::var_os("STILLROOM_WRITE").is_some() {
            std::fs::write(&file, wanted(name)).expect("writes");
        }
        let found = std::fs::read_to_string(&file).unwrap_or_default();
        assert_eq!(fault(name, &found), None);
    }
}

#[test]
fn a_file_that_was_changed_is_refused() {
    let whole = wanted("detect");
    assert_eq!(fault("detect", &whole), None);
    for (path, _) in DISALLOWED {
        let line = whole.lines().find(|line| line.contains(&format!("\"{path}\""))).expect(path);
        let without = whole.replace(&format!("{line}\n"), "");
        assert!(fault("detect", &without).is_some(), "without {path}");
        let weakened = whole.replace(path, "std::mem::drop");
        assert!(fault("detect", &weakened).is_some(), "another in place of {path}");
    }
    let (head, _) = whole.trim_end().rsplit_once('\n').expect("lines");
    for changed in ["", head, &format!("{whole}\n"), &whole.replace("true", "false")] {
        assert!(fault("detect", changed).is_some(), "{changed}");
    }
    // What one crate may is no leave for another.
    assert!(fault("detect", &wanted("analyse")).is_some());
}

/// Calls of everything on the list, in its order.
const CALLS: &str = r#"//! Calls what a pure crate may not.
use std::{collections as c, env, fs, hash, net, process, thread, time};
/// All of it.
pub fn worldly() {
    let _ = time::SystemTime::now();
    let _ = time::Instant::now();
    let _ = fs::File::open("x");
    let _ = fs::File::create("x");
    let _ = fs::File::create_new("x");
    let _ = fs::OpenOptions::new().read(true).open("x");
    let _ = fs::read("x");
    let _ = fs::read_dir("x");
    let _ = fs::read_to_string("x");
    let _ = fs::write("x", "x");
    let _ = env::var("x");
    let _ = env::var_os("x");
    let _ = env::temp_dir();
    let _ = env::args();
    let _ = thread::spawn(|| ());
    thread::scope(|_| ());
    let _ = thread::Builder::new().spawn(|| ());
    let _ = hash::RandomState::new();
    let _: c::HashMap<u8, u8> = c::HashMap::new();
    let _: c::HashSet<u8> = c::HashSet::new();
    thread::sleep(time::Duration::ZERO);
    let _ = process::Command::new("x");
    let _ = net::TcpStream::connect("x:1");
}
"#;

/// The list means what it says: clippy knows each path of it and refuses each call.
#[test]
fn clippy_refuses_every_call_on_the_list() {
    let folder = tempfile::tempdir().expect("a folder");
    let put = |name: &str, text: &str| {
        std::fs::write(folder.path().join(name), text).expect("written");
    };
    std::fs::create_dir(folder.path().join("src")).expect("made");
    put("Cargo.toml", "[package]\nname = \"worldly\"\nedition = \"2024\"\n[workspace]\n");
    put("clippy.toml", &wanted("detect"));
    put("src/lib.rs", CALLS);
    let ran = std::process::Command::new(env!("CARGO"))
        .args(["clippy", "--offline", "--quiet"])
        .current_dir(folder.path())
        .env("CARGO_TARGET_DIR", folder.path().join("target"))
        .env_remove("CLIPPY_CONF_DIR")
        .output()
        .expect("cargo runs");
    let said = String::from_utf8_lossy(&ran.stderr);
    let refused = said.matches("use of a disallowed method").count();
    assert_eq!(refused, DISALLOWED.len(), "{said}");
    for (_, reason) in DISALLOWED {
        assert!(said.contains(reason), "{reason}:\n{said}");
    }
    assert!(!said.contains("does not refer to"), "{said}");
}
