//! Killed at any moment (SIGKILL), while bringing in or analysing, then opened again: nothing that
//! was acknowledged is lost, nothing is half there, and `verify` does not complain.
//!
//! Fifty times, or as often as STILLROOM_KILLS says.

mod common;

use common::*;
use ledger::Role;
use std::collections::BTreeSet;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;
use survey::{AddOptions, Quiet, Survey};

/// What one child brings in, one after the other.
const FILES: usize = 12;
/// Big enough that a kill often falls into the copying.
const PADDING: usize = 300_000;

fn padded(dir: &Path, name: &str, hz: f64) -> PathBuf {
    let path = recording(dir, name, "2026-03-02T01:00:00Z", &[(hz, -50.0, 1.0)]);
    let mut text = std::fs::read(&path).expect("read");
    text.resize(text.len() + PADDING, b' ');
    std::fs::write(&path, text).expect("written");
    path
}

/// Not a test of its own: the process that is killed. Says a line for all that it acknowledges.
#[test]
fn child() {
    let (Ok(dir), Ok(round)) = (std::env::var("KILLED_DIR"), std::env::var("KILLED_ROUND")) else {
        return;
    };
    let dir = PathBuf::from(dir);
    let round: usize = round.parse().expect("a number");
    let slow = Box::new(Fake { engine: 1, takes: Duration::from_millis(3), step_hz: 0.0 });
    let survey = Survey::open_with(&dir.join("case"), slow).expect("opens");
    for i in 0..FILES {
        let hz = 440e6 + 25e3 * (round * FILES + i) as f64;
        let file = padded(&dir, &format!("r{round} f{i}"), hz);
        // Stored first and said so; then, most times, analysed.
        let options = AddOptions { later: true, ..at(Role::Room, &format!("room {}", i % 2)) };
        let id = add(&survey, &file, &options);
        println!("stored {id} {}", survey.capture(&id).expect("there").recording);
        if i % 3 != 2 {
            survey.finish_pending(&Quiet).expect("analysed");
            println!("analysed {id}");
        }
    }
    println!("end");
}

/// A generator of one's own (splitmix64, from memory), so that a failing run can be told.
fn random(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let z = (*state ^ (*state >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

#[test]
fn nothing_acknowledged_is_lost_and_nothing_is_half_there() {
    let rounds: usize =
        std::env::var("STILLROOM_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(50);
    let place = tempfile::tempdir().expect("a temporary folder");
    drop(new_survey(place.path()));
    let mut state = 20_260_301;
    let mut acknowledged: BTreeSet<(String, String)> = BTreeSet::new();
    let (mut cut, mut left) = (0, 0);
    for round in 0..rounds {
        let mut child = Command::new(std::env::current_exe().expect("this test"))
            .args(["--exact", "child", "--nocapture"])
            .env("KILLED_DIR", place.path())
            .env("KILLED_ROUND", round.to_string())
            .stdout(Stdio::piped())
            .spawn()
            .expect("started");
        let lines = BufReader::new(child.stdout.take().expect("its lines")).lines();
        let reader =
            std::thread::spawn(move || lines.map_while(Result::ok).collect::<Vec<String>>());
        std::thread::sleep(Duration::from_micros(2_000 + random(&mut state) % 160_000));
        child.kill().expect("killed"); // SIGKILL
        child.wait().expect("ended");
        let lines = reader.join().expect("lines");
        cut += usize::from(!lines.iter().any(|line| line == "end"));
        for line in &lines {
            if let ["stored", id, sha256] = line.split(' ').collect::<Vec<_>>()[..] {
                assert!(acknowledged.insert((id.into(), sha256.into())), "{id} was given twice");
            }
        }
        let staged = std::fs::read_dir(place.path().join("case/staging")).expect("listed").count();
        left += usize::from(staged > 0);

        let survey = open(place.path());
        let staged = std::fs::read_dir(place.path().join("case/staging")).expect("listed").count();
        assert_eq!(staged, 0, "what was left is cleared away");
        let check = survey.verify(&Quiet).expect("checked");
        assert!(check.ok, "round {round}: {:?}", check.faults);
        let captures = survey.captures().expect("captures");
        for (id, sha256) in &acknowledged {
            let there = captures.iter().any(|c| c.id == *id && c.recording == *sha256);
            assert!(there, "round {round}: {id} was acknowledged and is lost");
        }
        // At most one more than was said: committed, and killed before the line was written.
        assert!(captures.len() <= acknowledged.len() + 1, "round {round}");
        for capture in &captures {
            acknowledged.insert((capture.id.clone(), capture.recording.clone()));
            let path = survey.evidence_path(&capture.recording);
            assert_eq!(path.metadata().expect("there").len(), capture.files[0].bytes);
        }
        // What waits is taken up, and shows.
        assert_eq!(rows(&survey).len(), captures.len());
    }
    println!(
        "{rounds} kills: {cut} cut short, {left} left something staged, {} captures kept",
        acknowledged.len()
    );
    assert!(cut > rounds / 2, "the kills came too late to mean anything");
}
