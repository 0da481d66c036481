//! `report` from outside, on a survey of a simulated place.

#![allow(missing_docs)]

mod support;

use std::path::{Path, PathBuf};
use support::{arg, done, run};

/// A carrier in an office that the yard receives far weaker.
const SCENE: &str = r#"
name = "an office and a yard"
region = "CEPT"
start = "2026-03-01T20:00:00Z"

[[floors]]
name = "ground"
level_m = 0
rooms = [{ name = "Office", x_m = [0, 6], y_m = [0, 5] }]
walls = [{ from_m = [0, 0], to_m = [6, 0], material = "brick_single" }]

[[positions]]
name = "yard"
place = { at_m = [3.0, -40.0] }

[[positions]]
name = "desk"
place = { floor = "ground", at_m = [3.0, 2.0] }

[[emitters]]
name = "carrier"
planted = true
place = { floor = "ground", at_m = [1.0, 1.0] }
eirp_dbm = 0.0
centre_hz = 433.96e6
signal = { kind = "cw" }

[[chains]]
name = "stick"
sample_rate_hz = 250e3
centres_hz = [433.92e6]
noise_figure_db = 6.0
gain_db = 20.0
full_scale_dbm = 0.0
adc_bits = 16

[[visits]]
name = "yard-1"
chain = "stick"
position = "yard"
role = "reference"
start = "2026-03-01T20:00:00Z"
duration_s = 0.5

[[visits]]
name = "desk-1"
chain = "stick"
position = "desk"
role = "room"
start = "2026-03-01T20:05:00Z"
duration_s = 0.5
"#;

fn survey(place: &Path) -> PathBuf {
    let (scene, out, case) = (place.join("scene.toml"), place.join("out"), place.join("case"));
    std::fs::write(&scene, SCENE).expect("written");
    done(&["simulate", arg(&scene), "--out", arg(&out)]);
    done(&[
        "new",
        arg(&case),
        "--name",
        "Heron",
        "--region",
        "CEPT",
        "--time-zone",
        "UTC",
        "--by",
        "A",
    ]);
    for (name, role, at) in [("yard-1", "reference", "yard"), ("desk-1", "room", "desk")] {
        let file = out.join(format!("{name}.sigmf-meta"));
        let said = ["--role", role, "--at", at, "--chain", "stick", "--gain", "20"];
        done(&[&["add", arg(&case), arg(&file)][..], &said].concat());
    }
    case
}

#[test]
fn a_simulated_survey_is_reported() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let case = survey(place.path());
    let ledger = done(&["emissions", arg(&case), "--json"]);
    let ledger: serde_json::Value = serde_json::from_str(&ledger.out).expect("JSON alone");
    let rows = ledger["emissions"].as_array().expect("rows");
    let near = |row: &&serde_json::Value| {
        (row["centre_hz"].as_f64().expect("a centre") - 433.96e6).abs() < 5e3
    };
    let id = rows.iter().find(near).expect("the carrier")["id"].as_str().expect("an id").to_owned();
    done(&["decide", arg(&case), &id, "--as", "suspect", "--reason", "strongest at the desk"]);
    let verified = done(&["verify", arg(&case), "--json"]);
    let verified: serde_json::Value = serde_json::from_str(&verified.out).expect("JSON alone");
    let head = verified["journal_head"].as_str().expect("a head");

    let file = place.path().join("report.html");
    let written = done(&["report", arg(&case), "--out", arg(&file), "--json"]);
    let written: serde_json::Value = serde_json::from_str(&written.out).expect("JSON alone");
    assert_eq!(written["journal_head"], head);
    let page = std::fs::read_to_string(&file).expect("the report");
    let bytes = page.len();
    // A number and its unit are kept together by a space that does not break.
    let page = page.replace('\u{a0}', " ");
    assert_eq!(written["files"][0]["bytes"].as_u64(), Some(bytes as u64));
    for said in [
        head,
        "The authority is missing",
        "Strongest at the desk.",
        "433.960 MHz",
        "longest listening",
    ] {
        assert!(page.contains(said), "{said}");
    }
    for row in rows {
        let id = row["id"].as_str().expect("an id");
        assert!(page.contains(&format!("<th scope=\"row\" class=\"short\">{id}</th>")), "{id}");
    }

    // Without a form, both, in a folder.
    let out = place.path().join("out");
    done(&["report", arg(&case), "--out", arg(&out)]);
    assert_eq!(
        std::fs::read_to_string(out.join("report.html")).expect("the page").len(),
        bytes,
        "the same but for the moment"
    );
    let document = std::fs::read(out.join("report.pdf")).expect("the document");
    assert!(document.starts_with(b"%PDF-1.7"));
    // Another one may be written over; a PDF of somebody else's may not.
    done(&["report", arg(&case), "--pdf", "--out", arg(&out)]);
    std::fs::write(out.join("report.pdf"), b"%PDF-1.7 of somebody else's").expect("written");
    let refused = run(&["report", arg(&case), "--pdf", "--out", arg(&out)]);
    assert!(refused.status == 2 && refused.err.contains("--out"), "{}", refused.err);

    let one = place.path().join("tonight.html");
    done(&["report", arg(&case), "--interim", "--out", arg(&one)]);
    let one = std::fs::read_to_string(&one).expect("the interim page");
    assert!(one.contains("class=\"one-page\"") && one.contains(head));

    let hours = place.path().join("hours.csv");
    done(&["report", arg(&case), "--time", "--out", arg(&hours)]);
    let hours = std::fs::read_to_string(&hours).expect("the hours");
    assert!(hours.starts_with("kind,who,date,from,until,hours,traces,made_of\ndesk,A,"), "{hours}");
}

#[test]
fn only_an_earlier_report_is_written_over() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let case = place.path().join("case");
    done(&["new", arg(&case), "--region", "CEPT", "--time-zone", "UTC", "--by", "A"]);
    let file = place.path().join("x.html");
    done(&["report", arg(&case), "--out", arg(&file)]);
    done(&["report", arg(&case), "--out", arg(&file)]);
    std::fs::write(&file, "notes").expect("written");
    let refused = run(&["report", arg(&case), "--out", arg(&file)]);
    assert!(refused.status == 2 && refused.err.contains("--out"), "{}", refused.err);
    assert_eq!(std::fs::read_to_string(&file).expect("kept"), "notes");
    let both = run(&["report", arg(&case), "--interim", "--time"]);
    assert_eq!(both.status, 2);
    let nowhere = run(&["report", arg(&case), "--out", arg(&place.path().join("no/x.html"))]);
    assert_eq!(nowhere.status, 2, "{}", nowhere.err);
}
