//! A small case from outside, as a person types it: what is new is said, what was done can be taken
//! back, and what cannot be is refused without a trace.

#![allow(missing_docs)]

mod support;

use std::path::{Path, PathBuf};
use support::{arg, done, fits, run, sigmf, tone};

fn case(place: &Path) -> PathBuf {
    let case = place.join("case");
    done(&["new", arg(&case), "--region", "CEPT", "--time-zone", "UTC", "--by", "a test"]);
    let file = sigmf(place, "yard", "2026-03-01T20:00:00Z", 0.5, &[tone(30e3, -30.0)], 1);
    let role = ["--role", "reference", "--at", "Yard", "--chain", "rx"];
    let added = done(&[&["add", arg(&case), arg(&file)][..], &role].concat());
    assert!(added.out.contains("new position Yard (P1), outside"), "{}", added.out);
    fits(&added.out);
    case
}

fn entries(case: &Path) -> usize {
    let listed = done(&["undo", arg(case), "--json"]);
    let listed: serde_json::Value = serde_json::from_str(&listed.out).expect("JSON alone");
    listed["entries"].as_array().expect("a list").len()
}

#[test]
fn what_was_done_is_listed_and_taken_back_by_its_number() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let case = case(place.path());
    let reason = "a neighbour's";
    done(&["decide", arg(&case), "E1", "--as", "suspect", "--reason", reason]);
    let listed = done(&["undo", arg(&case)]);
    fits(&listed.out);
    let first = listed.out.lines().nth(1).expect("the newest");
    assert!(first.ends_with("E1 is suspect: a neighbour's"), "{}", listed.out);
    let number = first.split_whitespace().next().expect("its number");
    let undone = done(&["undo", arg(&case), number]);
    assert!(undone.out.contains(&format!("entry {number} is taken back")), "{}", undone.out);
    assert!(undone.out.contains("1 open"), "{}", undone.out);
    let again = run(&["undo", arg(&case), number]);
    assert!(again.status == 2 && again.err.contains("changed again"), "{}", again.err);
    let kept = run(&["undo", arg(&case), "1"]);
    assert!(kept.status == 2 && kept.err.contains("not taken back"), "{}", kept.err);
    done(&["verify", arg(&case)]);
}

#[test]
fn a_name_mistyped_shows_at_once() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let case = case(place.path());
    let noted = done(&["note", arg(&case), "--arrived", "yard"]);
    assert_eq!(noted.out, "noted as V1\n", "known, whatever its case");
    let noted = done(&["note", arg(&case), "--arrived", "Yrad"]);
    assert_eq!(noted.out, "noted as V2\nnew position Yrad (P2), inside\n");
}

#[test]
fn what_cannot_be_is_refused_without_a_trace() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let case = case(place.path());
    let before = entries(&case);
    let (c, note) = (arg(&case), ["note", arg(&case), "--at", "Yard", "--frequency"]);
    for (args, words) in [
        (&[&note[..], &["-5", "--strength", "7/12"]].concat()[..], "above zero"),
        (&[&note[..], &["1e300", "--strength", "7/12"]].concat()[..], "is no frequency"),
        (&[&note[..], &["433.9MHz", "--level", "1e9dBm"]].concat()[..], "cannot be"),
        (&["note", c, "--arrived", "a\u{1b}[2Jb"], "control characters"),
        (&["amend", c, "C1", "--clock", "1e300"], "cannot be"),
        (&["amend", c, "C1", "--columns", "time=1"], "yard.sigmf-data: in the mapping"),
        (&["decide", c, "E1", "--as", "suspect", "--reason", "…"], "reason in words"),
        (&["describe", c, "--apply", c], "a folder"),
        (&["new", &format!("{c}/survey.sqlite")], "is a file"),
        (&["add", c, "/dev/zero", "--role", "room", "--at", "x"], "a pipe or a device"),
    ] {
        let ran = run(args);
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{args:?}: {}", ran.err);
        assert!(ran.err.contains(words), "{args:?}: {}", ran.err);
        assert!(!ran.err.contains('\u{1b}'), "{args:?}: a terminal's orders");
    }
    assert_eq!(entries(&case), before);
    done(&["verify", c]);
}
