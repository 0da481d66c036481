//! Several programs at one survey at once: two bring captures in, others decide a hundred times.

mod common;

use common::*;
use ledger::{Role, State};
use std::process::{Child, Command, Stdio};
use survey::{Quiet, Survey, Verdict};

const ADDERS: usize = 2;
const EACH: usize = 6;
const DECIDERS: usize = 2;
const THREADS: usize = 2;
const DECISIONS: usize = 25;

/// Not a test of its own: what the other processes run, told by environment variables.
#[test]
fn child() {
    let (Ok(part), Ok(dir)) = (std::env::var("MANY_PART"), std::env::var("MANY_DIR")) else {
        return;
    };
    let dir = std::path::PathBuf::from(dir);
    let (what, number) = part.split_once(' ').expect("a part");
    let number: usize = number.parse().expect("a number");
    if what == "add" {
        let survey = open(&dir);
        for i in 0..EACH {
            let hz = 440e6 + 100e3 * (number * EACH + i) as f64;
            let name = format!("add {number} {i}");
            let file = recording(&dir, &name, "2026-03-02T01:00:00Z", &[(hz, -50.0, 1.0)]);
            add(&survey, &file, &at(Role::Room, &format!("room {}", i % 3)));
        }
        return;
    }
    let threads: Vec<_> = (0..THREADS)
        .map(|thread| {
            let dir = dir.clone();
            std::thread::spawn(move || {
                let survey = open(&dir);
                let id = row_at(&survey, 433_100);
                for i in 0..DECISIONS {
                    let reason = format!("decider {number} {thread} {i}");
                    let verdict = Verdict { state: State::Suspect, ground: None, reason };
                    survey.decide(std::slice::from_ref(&id), &verdict, None, "x").expect("decided");
                }
            })
        })
        .collect();
    for thread in threads {
        thread.join().expect("decided");
    }
}

fn start(dir: &std::path::Path, part: String) -> Child {
    Command::new(std::env::current_exe().expect("this test"))
        .args(["--exact", "child", "--nocapture"])
        .env("MANY_PART", part)
        .env("MANY_DIR", dir)
        .stdout(Stdio::null())
        .spawn()
        .expect("started")
}

#[test]
fn two_adders_and_a_hundred_decisions_leave_the_journal_whole() {
    let place = tempfile::tempdir().expect("a temporary folder");
    drop(small(place.path()));
    let mut children: Vec<Child> =
        (0..ADDERS).map(|i| start(place.path(), format!("add {i}"))).collect();
    children.extend((0..DECIDERS).map(|i| start(place.path(), format!("decide {i}"))));
    for child in &mut children {
        assert!(child.wait().expect("ended").success());
    }
    let survey: Survey = open(place.path());
    let check = survey.verify(&Quiet).expect("checked");
    assert!(check.ok, "{:?}", check.faults);
    let journal = survey.journal().expect("entries");
    let decided = journal.iter().filter(|entry| entry.kind == "decide").count();
    assert_eq!(decided, DECIDERS * THREADS * DECISIONS);
    assert_eq!(survey.captures().expect("captures").len(), 3 + ADDERS * EACH);
    assert_eq!(check.files as usize, 3 + ADDERS * EACH);
    // Every capture was derived from, once, and shows.
    let derived = journal.iter().filter(|entry| entry.kind == "derive").count();
    assert_eq!(derived, 3 + ADDERS * EACH);
    assert_eq!(rows(&survey).len(), 3 + ADDERS * EACH);
    // Positions that both made at once are one.
    let positions = survey.ledger(&Quiet).expect("a ledger").ledger.positions;
    assert_eq!(positions.len(), 3 + 3);
}
