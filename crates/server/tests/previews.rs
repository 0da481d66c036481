//! What a file would be read as, before it is imported.

mod support;

use serde_json::{Value, json};
use support::{Served, below, recording};

/// A hand-held detector's log; the strength's scale is stated nowhere.
const LOG: &str = "Time,Band,Strength,Seconds\n\
    2026-02-12 17:30,832-862 MHz (800 up),5,14\n\
    2026-02-12 17:42,433.05-434.79 MHz,2,1\n";

struct Upload<'a> {
    served: &'a Served,
    path: String,
    id: String,
}

impl Upload<'_> {
    fn of<'a>(served: &'a Served, files: &[(&str, &[u8])]) -> Upload<'a> {
        let id = served.upload("night-one", files);
        let path = format!("/api/surveys/night-one/uploads/{id}/preview");
        Upload { served, path, id }
    }
    fn preview(&self, file: &str, overrides: Value) -> Value {
        let wanted = json!({"file": file, "overrides": overrides});
        self.served.post(&self.path, &wanted).expect(200).json()
    }
}

#[test]
fn a_log_is_shown_as_it_would_be_understood() {
    let served = Served::folder();
    served.survey("night-one");
    let upload = Upload::of(&served, &[("stick.csv", LOG.as_bytes())]);
    let before = below(served.folder.path());
    let seen = upload.preview("stick.csv", json!({}));
    let proposal = &seen["table"]["proposal"];
    assert_eq!(proposal["columns"], "time=Time,band=Band,strength=Strength/5,duration=Seconds:s");
    assert_eq!(proposal["named"], json!(["1 'Time'", "2 'Band'", "3 'Strength'", "4 'Seconds'"]));
    assert_eq!(
        (&proposal["guesses_scale"], &proposal["is_certain"]),
        (&json!(true), &json!(false))
    );
    assert_eq!(seen["table"]["rows"][1][1], "832-862 MHz (800 up)");
    // A mapping that a person corrected: the scale has twelve steps.
    let columns = "time=Time,band=Band,strength=Strength/12,duration=Seconds:s";
    let seen = upload.preview("stick.csv", json!({"columns": columns}));
    assert_eq!((&seen["kind"], &seen["rows_in_all"]), (&json!("event-log"), &json!(2)), "{seen}");
    assert_eq!((&seen["wrong"], &seen["table"]["read_with"]), (&json!([]), &json!(columns)));
    let first = &seen["rows"][0];
    assert_eq!(first["band"], json!({"low_hz": 832e6, "high_hz": 862e6}));
    assert_eq!(first["strength"], json!({"value": 5.0, "of": 12.0}));
    // A stamp to the minute, in the survey's time zone (London is at UTC in February).
    assert_eq!(
        (&first["from"], &first["until"]),
        (&json!("2026-02-12T17:30:00Z"), &json!("2026-02-12T17:31:00Z"))
    );
    assert_eq!(first["duration_s"], 14.0);
    // What is wrong is said with where and what to do, and names no folder of the server's.
    let seen = upload.preview("stick.csv", json!({"columns": "time=When,band=Band"}));
    let wrong = &seen["wrong"][0];
    assert!(wrong["what"].as_str().is_some_and(|w| w.contains("When")), "{seen}");
    assert!(!wrong["remedy"].as_str().unwrap_or_default().is_empty(), "{seen}");
    assert!(!seen.to_string().contains("staging"), "{seen}");
    let seen = upload.preview("stick.csv", json!({"columns": "colour=Band"}));
    assert!(seen["wrong"].to_string().contains("colour"), "{seen}");
    assert_eq!(below(served.folder.path()), before);
    assert_eq!(served.get("/api/surveys/night-one/captures").json(), json!([]));
    // The mapping confirmed brings it in.
    let said = json!({"upload": upload.id, "role": "room", "at": "boardroom",
        "overrides": {"columns": columns}});
    let job = served.post("/api/surveys/night-one/imports", &said).expect(202).json();
    let ended = served.ended("night-one", job["id"].as_str().expect("an id"));
    assert_eq!(ended["state"], "done", "{ended}");
    let overview = served.get("/api/surveys/night-one/overview").expect(200).json();
    assert_eq!(overview["kinds"], json!(["event-log"]));
    let coverage = served.get("/api/surveys/night-one/coverage").expect(200).json();
    assert_eq!(coverage["covered"][0]["band_hz"], Value::Null, "{coverage}");
}

#[test]
fn samples_and_traces_are_shown_by_their_numbers() {
    let served = Served::folder();
    served.survey("night-one");
    let room = recording("room", 1);
    let sweep = "2026-03-01,20:00:00,433000000,434000000,500000,3,-90.0,-61.5,-88.0\n";
    let upload = Upload::of(
        &served,
        &[
            ("room.sigmf-data", &room.data),
            ("room.sigmf-meta", room.meta.as_bytes()),
            ("sweep.csv", sweep.as_bytes()),
            ("room.ci16", &room.data),
            ("empty.csv", b""),
        ],
    );
    let seen = upload.preview("room.sigmf-meta", json!({}));
    assert_eq!((&seen["kind"], &seen["wrong"]), (&json!("iq"), &json!([])), "{seen}");
    assert_eq!(seen["samples"]["rate_hz"], 250e3);
    assert_eq!(seen["samples"]["centres_hz"], json!([433.92e6]));
    assert_eq!(
        (&seen["start"], &seen["duration_s"]),
        (&json!("2026-03-01T20:25:00Z"), &json!(1.0))
    );
    // Raw samples say nothing of themselves.
    let seen = upload.preview("room.ci16", json!({}));
    assert_eq!((&seen["kind"], &seen["table"]), (&Value::Null, &Value::Null));
    assert_eq!(seen["wrong"].as_array().map(Vec::len), Some(1), "{seen}");
    let raw = json!({"format": "ci16_le", "rate_hz": 250e3});
    let seen = upload.preview("room.ci16", raw);
    assert!(seen["wrong"].to_string().contains("centre frequency"), "{seen}");
    let columns = json!({"columns": "shape=segment,level=:dBm,frequency=:Hz,date=,time="});
    let seen = upload.preview("sweep.csv", columns);
    assert_eq!((&seen["kind"], &seen["wrong"]), (&json!("traces"), &json!([])), "{seen}");
    let first = &seen["rows"][0];
    assert_eq!((&first["points"], &first["level_db"]), (&json!(3), &json!(-61.5)), "{seen}");
    assert_eq!(first["level_unit"], "dBm");
    assert!(upload.preview("empty.csv", json!({}))["wrong"].to_string().contains("empty"));
    let other = json!({"file": "../../survey.sqlite"});
    served.post(&upload.path, &other).problem(404, "not-found");
    let unknown = json!({"file": "sweep.csv", "overrides": {"map": "none such"}});
    served.post(&upload.path, &unknown).problem(422, "refused");
}
