//! A stick with one log on it, and nothing else said: the refusal holds the mapping to confirm, and
//! with that mapping there are ranked rows within ten seconds.

mod support;

use std::time::{Duration, Instant};
use support::{arg, done, fits, run};

/// What the stick of an invented detector holds: headers as a person would read them.
const LOG: &str = "Date;Time;Frequency MHz;Strength;Duration s\n\
    01.03.2026;20:03;433,92;9;4\n01.03.2026;20:06;433,92;9;4\n01.03.2026;20:09;433,92;8;4\n\
    01.03.2026;20:12;433,92;9;4\n01.03.2026;20:13;868,30;3;1\n01.03.2026;20:15;433,92;9;4\n";

/// The mapping that a message proposes.
fn proposed(message: &str) -> String {
    let (_, after) = message.split_once("--columns '").expect("a proposal");
    after.split_once('\'').expect("its end").0.to_owned()
}

#[test]
fn a_stick_becomes_ranked_rows_after_one_question() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let log = place.path().join("LOG0001.CSV");
    std::fs::write(&log, LOG).expect("written");
    let case = place.path().join("case");
    done(&["new", arg(&case), "--time-zone", "Europe/Vienna", "--by", "a test"]);
    let began = Instant::now();
    let add = ["add", arg(&case), arg(&log), "--role", "room", "--at", "boardroom"];
    // No terminal, so the question is a refusal that holds its answer; nothing is stored.
    let asked = run(&add);
    assert_eq!(asked.status, 2, "{}", asked.err);
    assert!(asked.out.is_empty(), "{}", asked.out);
    let mapping = proposed(&asked.err).replace("/MAX", "/12");
    let added = done(&[&add[..], &["--columns", &mapping]].concat());
    assert!(added.out.contains("C1"), "{}", added.out);
    let printed = done(&["emissions", arg(&case)]);
    fits(&printed.out);
    let json = done(&["emissions", arg(&case), "--json"]);
    assert!(began.elapsed() < Duration::from_secs(10), "{:?}", began.elapsed());
    let ledger: serde_json::Value = serde_json::from_str(&json.out).expect("JSON alone");
    let rows = ledger["emissions"].as_array().expect("rows");
    assert_eq!(rows.len(), 2, "{}", printed.out);
    assert_eq!(rows[0]["attention"]["rank"], 1);
    // The one that comes back every three minutes leads.
    let centre = rows[0]["centre_hz"].as_f64().expect("a centre");
    assert!((centre - 433.92e6).abs() < 1e6, "{centre}");
    assert_eq!(rows[0]["bursts"]["count"], 5);
    // The log's clock is the premises': Vienna is an hour ahead of UTC in March.
    assert!(rows[0]["first"].as_str().expect("a time").starts_with("2026-03-01T19:03"));
    // The same stick again: nothing done, said, 0.
    let again = done(&[&add[..], &["--columns", &mapping]].concat());
    assert!(again.out.contains("already"), "{}", again.out);
    done(&["verify", arg(&case)]);
}
