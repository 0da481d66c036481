//! When an account balances, and what is said of names and corrections: as a person reads it.

#![allow(missing_docs)]

mod support;

use std::path::Path;
use support::{arg, done, fits, raw, run, sigmf, tone};

fn new(place: &Path) -> String {
    let case = arg(&place.join("case")).to_owned();
    done(&["new", &case, "--region", "CEPT", "--time-zone", "UTC", "--by", "a test"]);
    case
}

fn add(case: &str, file: &Path, more: &[&str]) {
    done(&[&["add", case, arg(file), "--chain", "rx"][..], more].concat());
}

#[test]
fn nothing_balances_before_a_room_and_a_reference_were_listened_to() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let case = new(place.path());
    let balanced = || run(&["emissions", &case, "--balanced"]);
    let (ran, words) = (balanced(), "nothing was listened to");
    assert!(ran.status == 1 && ran.out.contains(words), "empty: {}", ran.out);
    // A sound file is kept, and nothing is looked for in it.
    let sound = place.path().join("memo.wav");
    std::fs::write(&sound, wav(8000)).expect("written");
    add(&case, &sound, &["--role", "room", "--at", "office"]);
    let ran = balanced();
    assert!(ran.status == 1 && ran.out.contains(words), "sound: {}", ran.out);
    let said = done(&["emissions", &case]).out;
    assert!(!said.contains("The account balances") && said.contains(words), "{said}");
    let room = sigmf(place.path(), "room", "2026-03-01T20:00:00Z", 0.5, &[], 1);
    add(&case, &room, &["--role", "room", "--at", "office"]);
    let ran = balanced();
    assert!(ran.status == 1 && ran.out.contains("no reference was listened to"), "{}", ran.out);
    let yard = sigmf(place.path(), "yard", "2026-03-01T19:00:00Z", 0.5, &[], 2);
    add(&case, &yard, &["--role", "reference", "--at", "yard"]);
    let ran = balanced();
    assert_eq!((ran.status, ran.out.contains("Not balanced")), (0, false), "{}", ran.out);
    let said = done(&["emissions", &case]).out;
    assert!(said.contains("The account balances"), "{said}");
    // Set aside, the room counts no more; that is said, and shows in the account.
    let amended = done(&["amend", &case, "C2", "--set-aside", "the antenna was loose"]).out;
    assert!(amended.contains("nothing → \"the antenna was loose\""), "{amended}");
    assert!(amended.contains("stillroom emissions"), "{amended}");
    assert_eq!(balanced().status, 1);
    let said = done(&["emissions", &case]).out;
    assert!(said.contains("counting for nothing: C2 (the antenna was loose)"), "{said}");
    fits(&said);
}

/// A second of silence as RIFF WAV (Microsoft, "Multimedia Programming Interface and Data
/// Specifications 1.0"): one channel of 16-bit PCM.
fn wav(rate: u32) -> Vec<u8> {
    let mut bytes = b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0\x01\0\x01\0".to_vec();
    bytes.extend(rate.to_le_bytes());
    bytes.extend((2 * rate).to_le_bytes());
    bytes.extend(b"\x02\0\x10\0data");
    bytes.extend((2 * rate).to_le_bytes());
    bytes.extend(std::iter::repeat_n(0, 2 * rate as usize));
    let size = bytes.len() as u32 - 8;
    bytes[4..8].copy_from_slice(&size.to_le_bytes());
    bytes
}

#[test]
fn samples_that_are_all_zero_are_no_listening() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let case = new(place.path());
    let zeros = place.path().join("zeros.cs16");
    std::fs::write(&zeros, vec![0; 500_000]).expect("written");
    let raw = ["--format", "ci16_le", "--rate", "250kHz", "--centre", "433.92MHz"];
    add(&case, &zeros, &[&["--role", "room", "--at", "office"][..], &raw].concat());
    let ran = run(&["emissions", &case, "--balanced"]);
    assert!(ran.status == 1 && ran.out.contains("nothing was listened to"), "{}", ran.out);
}

#[test]
fn an_unknown_row_is_offered_the_harmless_way_too() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let case = new(place.path());
    let room = sigmf(place.path(), "r", "2026-03-01T20:00:00Z", 0.5, &[tone(30e3, -30.0)], 1);
    add(&case, &room, &["--role", "room", "--at", "office"]);
    let said = done(&["emissions", &case]).out;
    fits(&said);
    for words in ["--as suspect", "--as accounted --ground seen"] {
        assert!(said.contains(words), "{words}: {said}");
    }
    let again = done(&["reanalyse", &case]).out.replace("\n    ", " ");
    assert!(again.contains("1 recording was analysed by this version already"), "{again}");
}

#[cfg(unix)]
#[test]
fn a_name_forges_no_line() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let case = new(place.path());
    let named = "a.cu8\nnothing is altered or missing: 0 evidence files\n";
    let file = raw(place.path(), named, 0.2, &[]);
    let role = ["--role", "room", "--at", "office", "--chain", "rx"];
    let format = ["--format", "ci16_le", "--rate", "250kHz", "--centre", "433.92MHz"];
    let refused = run(&[&["add", &case, arg(&file)][..], &role].concat());
    let added = done(&[&["add", &case, arg(&file)][..], &role, &format].concat());
    let analysed = done(&[&["analyse", arg(&file)][..], &format].concat());
    let survey = survey::Survey::open(Path::new(&case)).expect("opens");
    let evidence = survey.evidence_path(&survey.capture("C1").expect("there").recording);
    drop(survey);
    std::fs::remove_file(evidence).expect("removed");
    let missing = run(&["verify", &case]);
    assert_eq!((refused.status, missing.status), (2, 1));
    for said in [&refused.err, &added.out, &added.err, &analysed.out, &missing.out] {
        assert!(said.lines().all(|line| !line.trim_start().starts_with("nothing is")), "{said}");
    }
    assert!(missing.out.replace("\n    ", " ").contains(r"a.cu8\nnothing is altered"));
}

#[test]
fn what_another_program_keeps_waiting_says_so_after_two_seconds() {
    use std::time::Duration;
    let place = tempfile::tempdir().expect("a temporary folder");
    let case = new(place.path());
    let held = rusqlite::Connection::open(Path::new(&case).join("survey.sqlite")).expect("opens");
    held.execute_batch("BEGIN IMMEDIATE").expect("held");
    let waiting = std::thread::spawn({
        let case = case.clone();
        move || run(&["note", &case, "--remark", "the door was open"])
    });
    std::thread::sleep(Duration::from_secs(4));
    drop(held);
    let ran = waiting.join().expect("ended");
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert_eq!(ran.err.matches("waiting for it").count(), 1, "{}", ran.err);
}
