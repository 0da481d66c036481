//! What is said of when and where a detector listened, against what its log holds; and how rows
//! are told whose band names no frequency.

#![allow(missing_docs)]

mod support;

use std::path::{Path, PathBuf};
use support::{arg, done, run};

/// An invented log of three minutes in 2026.
const LOG: &str = "Time,Band,Bars,Seconds\n2026-03-01 20:00,880-915 MHz,7,4\n\
    2026-03-01 20:01,880-915 MHz,6,4\n2026-03-01 20:02,LTE 800 up,3,4\n";
const COLUMNS: &str = "time=Time,band=Band,strength=Bars/10,duration=Seconds:s";

fn case(place: &Path) -> (PathBuf, PathBuf) {
    let (case, log) = (place.join("case"), place.join("log.csv"));
    std::fs::write(&log, LOG).expect("written");
    done(&["new", arg(&case), "--region", "CEPT", "--time-zone", "UTC", "--by", "a test"]);
    (case, log)
}

#[test]
fn rows_outside_the_listening_time_are_told_and_never_all_left_out() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let (case, log) = case(place.path());
    let add = ["add", arg(&case), arg(&log), "--role", "room", "--at", "Office", "--columns"];
    let add = [&add[..], &[COLUMNS]].concat();
    let year = ["--from", "2027-03-01T19:00", "--until", "2027-03-01T21:00"];
    let refused = run(&[&add[..], &year].concat());
    assert_eq!(refused.status, 2, "{}", refused.err);
    assert!(refused.err.contains("3 of 3 rows lie outside the listening time"), "{}", refused.err);
    let short = ["--from", "2026-03-01T20:01", "--until", "2026-03-01T21:00"];
    let added = done(&[&add[..], &short, &["--bands", "1710-1785MHz"]].concat());
    for words in ["1 of 3 rows lie outside the listening time", "2 of 3 rows lie in none of the"] {
        assert!(added.err.contains(words), "{words}: {}", added.err);
    }
    // What was right may be amended to what is not.
    let amended = run(&[
        "amend",
        arg(&case),
        "C1",
        "--from",
        "2025-03-01T19:00",
        "--until",
        "2025-03-01T21:00",
    ]);
    assert_eq!(amended.status, 2, "{}", amended.err);
    assert!(amended.err.contains("3 of 3 rows"), "{}", amended.err);
}

#[test]
fn a_band_that_names_no_frequency_keeps_its_word_and_is_like_nothing() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let (case, log) = case(place.path());
    let add = ["add", arg(&case), arg(&log), "--role", "room", "--at", "Office", "--columns"];
    let added = done(&[&add[..], &[COLUMNS]].concat());
    let printed = done(&["emissions", arg(&case)]);
    let analysed = done(&["analyse", arg(&log), "--columns", COLUMNS, "--time-zone", "UTC"]);
    for out in [&printed.out, &analysed.out] {
        assert!(out.contains("LTE 800 up") && !out.contains(" 0 Hz"), "{out}");
    }
    assert!(!added.out.contains(" 0 Hz"), "{}", added.out);
    let json = done(&["emissions", arg(&case), "--json"]).out;
    let ledger: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    let rows = ledger["emissions"].as_array().expect("rows");
    let row = rows.iter().find(|row| row["label"] == "LTE 800 up").expect("its row");
    let reasons = row["attention"]["reasons"].as_array().expect("reasons");
    assert!(reasons.iter().all(|reason| reason["code"] != "dedicated"), "{row}");
}

#[test]
fn movements_come_from_a_file_all_or_none() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let (case, _) = case(place.path());
    let file = place.path().join("movements.csv");
    let note = ["note", arg(&case), "--movements", arg(&file)];
    for (text, words) in [
        ("Arrived,Position\n2026-03-01T19:00:00Z,Yard\nlate,Office\n", "line 3"),
        ("Arrived,Position\n2026-03-01T19:00:00Z,Yard\n2026-03-01T19:30:00Z,\n", "line 3"),
        ("When,Where\n2026-03-01T19:00:00Z,Yard\n", "Arrived"),
        ("Arrived,Position\n", "no row"),
    ] {
        std::fs::write(&file, text).expect("written");
        let refused = run(&note);
        assert_eq!((refused.status, refused.out.as_str()), (2, ""), "{text}: {}", refused.err);
        assert!(
            refused.err.contains("movements.csv") && refused.err.contains(words),
            "{}",
            refused.err
        );
    }
    std::fs::write(
        &file,
        "Arrived,Position\n2026-03-01T19:00:00Z,Yard\n2026-03-01T19:30,\"Office, back\"\n",
    )
    .expect("written");
    let noted = done(&note).out;
    assert!(noted.starts_with("2 arrivals noted, V1 to V2\n"), "{noted}");
    assert!(noted.contains("new position Office, back (P2)"), "{noted}");
    assert!(done(&["describe", arg(&case)]).out.contains("2026-03-01T19:30:00Z"));
}
