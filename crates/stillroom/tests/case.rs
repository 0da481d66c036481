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
    let zone = ["--zone", "adjacent"];
    let noted = done(&[&["note", arg(&case), "--arrived", "Stairs"][..], &zone].concat());
    assert_eq!(noted.out, "noted as V3\nnew position Stairs (P3), adjacent\n");
    let remark = ["note", arg(&case), "--remark", "a van", "--at", "Lane", "--zone", "outside"];
    assert_eq!(done(&remark).out, "noted as B1\nnew position Lane (P4), outside\n");
    let other = run(&[&["note", arg(&case), "--arrived", "Yard"][..], &zone].concat());
    assert!(other.status == 2 && other.err.contains("outside in the record"), "{}", other.err);
    let nowhere = run(&["note", arg(&case), "--remark", "a van", "--zone", "outside"]);
    assert!(nowhere.status == 2 && nowhere.err.contains("--at"), "{}", nowhere.err);
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
        (&["amend", c, "C1", "--empty", "at"], "nobody says where"),
        (&["amend", c, "C1", "--empty", "gain,setting"], "says that already"),
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

#[test]
fn photographs_of_a_found_item_are_kept_as_evidence() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let case = case(place.path());
    let photo = place.path().join("socket.jpg");
    // Start and end of an image (ITU-T T.81, B.1.1.3), and nothing between.
    std::fs::write(&photo, [0xff, 0xd8, 0xff, 0xd9]).expect("written");
    let note = ["note", arg(&case), "--item", "f1", "--photograph", arg(&photo)];
    let early = run(&note);
    assert!(early.status == 2 && early.err.contains("no found item F1"), "{}", early.err);
    let record = place.path().join("record.toml");
    let text = done(&["describe", arg(&case)]).out;
    std::fs::write(&record, text + "\n[[found_items]]\nwhat = \"a socket with wires\"\n")
        .expect("written");
    done(&["describe", arg(&case), "--apply", arg(&record)]);
    assert_eq!(done(&note).out, "socket.jpg shows F1: 4 bytes kept\n");
    let entries_then = entries(&case);
    let again = done(&[&note[..], &["--json"]].concat());
    let again: serde_json::Value = serde_json::from_str(&again.out).expect("JSON alone");
    // SHA-256 of those four bytes, by Python's hashlib.
    let sha256 = again["photographs"][0]["sha256"].as_str().expect("a hash").to_owned();
    assert_eq!(sha256, "32461d5bd1773012acef0ba15636752949bd7c2ce50f9172159d9f56cf0dd9af");
    assert_eq!(entries(&case), entries_then, "it is there already");
    let kept = case.join("evidence").join(&sha256[..2]).join(&sha256);
    assert_eq!(std::fs::read(kept).expect("kept"), [0xff, 0xd8, 0xff, 0xd9]);
    assert!(done(&["describe", arg(&case)]).out.contains("socket.jpg"));
    done(&["verify", arg(&case)]);
    let bare = run(&["note", arg(&case), "--photograph", arg(&photo)]);
    assert!(bare.status == 2 && bare.err.contains("--item"), "{}", bare.err);
}

/// A tone that both heard (10 dB louder in the office), and one that the yard did not hear: its
/// excess is a bound, and is marked as one. Numbers of the ledger are printed rounded.
#[test]
fn an_excess_over_silence_is_marked_as_a_bound() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let case = case(place.path());
    let tones = [tone(30e3, -20.0), tone(60e3, -40.0)];
    let file = sigmf(place.path(), "office", "2026-03-01T20:10:00Z", 0.5, &tones, 2);
    let room = ["--role", "room", "--at", "Office", "--chain", "rx"];
    done(&[&["add", arg(&case), arg(&file)][..], &room].concat());
    let listed = done(&["emissions", arg(&case)]).out;
    let excess = |mhz: &str| {
        let row = listed.lines().find(|line| line.contains(mhz)).expect(mhz);
        let excess = row.split_whitespace().find(|word| word.ends_with("dB")).expect("an excess");
        excess.to_owned()
    };
    assert_eq!(excess("433.9500"), "+10dB", "{listed}");
    let bound = excess("433.9800");
    let db: f64 = bound.trim_matches(['>', 'd', 'B']).parse().expect("a number");
    assert!(bound.starts_with('>') && db > 30.0, "{listed}");
    let json = done(&["emissions", arg(&case), "--json"]).out;
    let mut seen = 0;
    for line in json.lines().filter(|line| line.contains("_dbfs\": -")) {
        let number = line.split(": ").nth(1).expect("a value").trim_end_matches(',');
        let decimals = number.split('.').nth(1).map_or(0, str::len);
        assert!(decimals <= 2, "{line}");
        seen += 1;
    }
    assert!(seen > 5, "{json}");
}
