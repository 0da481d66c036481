//! A disk that takes no more, while files come in and while the journal grows. Stood for by the
//! limit that a shell can put on the size of files (the signal that goes with it ignored, so that
//! writing fails as it does on a full disk).
#![cfg(unix)]

mod common;

use common::*;
use ledger::Role;
use std::path::{Path, PathBuf};
use std::process::Command;
use survey::{Note, Quiet};

/// Not a test of its own: the process that may not write much.
#[test]
fn child() {
    let (Ok(dir), Ok(what)) = (std::env::var("FULL_DIR"), std::env::var("FULL_WHAT")) else {
        return;
    };
    let dir = PathBuf::from(dir);
    let survey = open(&dir);
    if what == "add" {
        let result = survey.add(&[dir.join("big")], &at(Role::Room, "den"), "", &Quiet);
        let error = result.expect_err("there is no room for it");
        println!("\nstopped {} {error}", error.exit_code());
        return;
    }
    for i in 0..10_000 {
        let text = format!("remark {i} {}", "x".repeat(500));
        match survey.note(&Note::Remark { text, at: None, from: None, until: None }, "") {
            Ok(id) => println!("\nnoted {id}"),
            Err(error) => {
                println!("\nstopped {} {error}", error.exit_code());
                return;
            }
        }
    }
}

fn run(dir: &Path, what: &str, blocks: u32) -> Vec<String> {
    let output = Command::new("sh")
        .args([
            "-c",
            &format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" --exact child --nocapture"),
        ])
        .arg(std::env::current_exe().expect("this test"))
        .env("FULL_DIR", dir)
        .env("FULL_WHAT", what)
        .output()
        .expect("ran");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).lines().map(str::to_owned).collect()
}

#[test]
fn a_full_disk_stops_with_status_3_and_loses_nothing() {
    let place = tempfile::tempdir().expect("a temporary folder");
    drop(small(place.path()));
    let big = recording(place.path(), "big", "2026-03-02T01:00:00Z", &[(440e6, -50.0, 1.0)]);
    let mut text = std::fs::read(&big).expect("read");
    text.resize(4_000_000, b' ');
    std::fs::write(&big, text).expect("written");

    let lines = run(place.path(), "add", 2_000); // 1 MB in a shell that counts 512 bytes
    let stopped = lines.iter().find(|line| line.starts_with("stopped")).expect("it said so");
    assert!(stopped.starts_with("stopped 3 ") && stopped.contains("full"), "{stopped}");
    let survey = open(place.path());
    assert_eq!(survey.captures().expect("captures").len(), 3);
    assert!(survey.verify(&Quiet).expect("checked").ok);
    drop(survey);

    let lines = run(place.path(), "note", 600);
    let stopped = lines.iter().find(|line| line.starts_with("stopped")).expect("it said so");
    assert!(stopped.starts_with("stopped 3 "), "{stopped}");
    let survey = open(place.path());
    let noted: Vec<_> = lines.iter().filter_map(|line| line.strip_prefix("noted ")).collect();
    assert!(noted.len() > 5, "{lines:?}");
    let record = survey.describe().expect("a text");
    for id in noted {
        assert!(record.contains(&format!("id = \"{id}\"")), "{id} was acknowledged and is lost");
    }
    let check = survey.verify(&Quiet).expect("checked");
    assert!(check.ok, "{:?}", check.faults);
    // With room again, work goes on.
    add(&survey, &big, &at(Role::Room, "den"));
}
