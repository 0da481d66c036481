//! Long work: it can be cancelled and leaves nothing half done; a server that ends is taken up
//! where it was; what happens is streamed.

mod support;

use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Write};
use std::time::{Duration, Instant};
use support::{Served, below, recording};
use survey::{Note, Survey};

#[test]
fn a_cancelled_import_leaves_nothing_half_done() {
    let served = Served::folder();
    served.survey("night-one");
    let job = served.import("night-one", &recording("room", 40), "room", "boardroom");
    let path = format!("/api/surveys/night-one/jobs/{job}");
    served.send("DELETE", &path, &[], b"").expect(202);
    let ended = served.ended("night-one", &job);
    assert_eq!(ended["state"], "cancelled", "{ended}");
    served.verified("night-one");
    let captures = served.get("/api/surveys/night-one/captures").expect(200).json();
    let acknowledged = ended["imported"].as_array().expect("a list").len();
    assert_eq!(captures.as_array().expect("a list").len(), acknowledged, "{ended}");
    // One that has ended stays as it is.
    let again = served.send("DELETE", &path, &[], b"").expect(202).json();
    assert_eq!(again["state"], "cancelled");
    served.send("DELETE", "/api/surveys/night-one/jobs/J99", &[], b"").problem(404, "not-found");
    // It can be done after all.
    let job = served.import("night-one", &recording("room", 40), "room", "boardroom");
    assert_eq!(served.ended("night-one", &job)["state"], "done");
    assert!(!served.ledger("night-one")["emissions"].as_array().expect("a list").is_empty());
    served.verified("night-one");
}

#[test]
fn a_server_that_ends_loses_nothing_acknowledged() {
    let served = Served::folder();
    served.survey("night-one");
    let job = served.import("night-one", &recording("room", 20), "room", "boardroom");
    let began = Instant::now();
    loop {
        let now = served.get(&format!("/api/surveys/night-one/jobs/{job}")).expect(200).json();
        if now["imported"].as_array().is_some_and(|list| !list.is_empty()) {
            break;
        }
        assert!(began.elapsed() < Duration::from_secs(60), "{now}");
    }
    let left = served.upload("night-one", &[("never-imported.bin", b"bytes")]);
    let folder = served.end();
    let served = Served::one(folder, "night-one");
    // The ledger takes up what waits.
    assert!(!served.ledger("night-one")["emissions"].as_array().expect("a list").is_empty());
    // Neither is what came whole, nor is another's job taken for its import.
    let kept = served.get(&format!("/api/surveys/night-one/uploads/{left}")).expect(200).json();
    assert_eq!(kept["files"], json!([{"name": "never-imported.bin", "bytes": 5}]));
    served.get(&format!("/api/surveys/night-one/jobs/{job}")).problem(404, "not-found");
    served.verified("night-one");
}

/// The events of a stream, and the last of each name.
struct Events {
    stream: BufReader<std::net::TcpStream>,
    last: BTreeMap<String, Value>,
}

impl Events {
    fn of(served: &Served, survey: &str) -> Events {
        let mut stream = served.connect();
        let head = format!(
            "GET /api/surveys/{survey}/events HTTP/1.1\r\nhost: localhost:{}\r\n\r\n",
            served.port
        );
        stream.write_all(head.as_bytes()).expect("sent");
        Events { stream: BufReader::new(stream), last: BTreeMap::new() }
    }
    /// The last event of this name, or the next, for which something holds.
    fn until(&mut self, name: &str, holds: impl Fn(&Value) -> bool) -> Value {
        let began = Instant::now();
        let mut event = String::new();
        loop {
            if let Some(data) = self.last.get(name).filter(|data| holds(data)) {
                return data.clone();
            }
            let mut line = String::new();
            assert!(began.elapsed() < Duration::from_secs(60), "no such event {name} came");
            assert!(self.stream.read_line(&mut line).expect("a line") > 0, "the stream ended");
            if let Some(named) = line.strip_prefix("event:") {
                event = named.trim().to_owned();
            }
            if let Some(data) = line.strip_prefix("data:") {
                self.last.insert(event.clone(), serde_json::from_str(data).expect("JSON"));
            }
        }
    }
}

#[test]
fn what_happens_is_streamed() {
    let served = Served::folder();
    served.survey("night-one");
    let mut events = Events::of(&served, "night-one");
    let first = events.until("version", |_| true)["version"].as_u64().expect("a number");
    let job = served.import("night-one", &recording("room", 1), "room", "boardroom");
    let done = |jobs: &Value| jobs[0].is_object() && jobs[0]["state"] != "running";
    let jobs = events.until("jobs", done);
    assert_eq!((&jobs[0]["id"], &jobs[0]["state"]), (&json!(job), &json!("done")));
    let next = events.until("version", |v| v["version"].as_u64() > Some(first));
    // Another program's changes are told as well.
    let other = Survey::open(&served.folder.path().join("night-one")).expect("opens");
    let note = Note::Remark { text: "lift running".into(), at: None, from: None, until: None };
    other.note(&note, "").expect("noted");
    let now = other.version().expect("a version");
    assert!(next["version"].as_u64() < Some(now));
    events.until("version", |v| v["version"] == now);
}

#[test]
fn an_open_stream_does_not_keep_the_server() {
    let served = Served::folder();
    served.survey("night-one");
    let mut events = Events::of(&served, "night-one");
    events.until("version", |_| true);
    let began = Instant::now();
    drop(served);
    assert!(began.elapsed() < Duration::from_secs(5), "{:?}", began.elapsed());
}

#[test]
fn analysing_again_tells_what_it_changed() {
    let served = Served::folder();
    served.small("night-one");
    let before = served.ledger("night-one")["emissions"].clone();
    let again = |served: &Served| {
        let job = served.post("/api/surveys/night-one/reanalysis", &json!(null)).expect(202).json();
        let ended = served.ended("night-one", job["id"].as_str().expect("an id"));
        assert_eq!(
            (&ended["kind"], &ended["state"]),
            (&json!("reanalysis"), &json!("done")),
            "{ended}"
        );
        ended["reanalysed"].clone()
    };
    let nothing = again(&served);
    assert_eq!((&nothing["derived"], &nothing["of"]), (&json!(0), &json!(2)), "{nothing}");
    // Somebody edits what was derived, as an editor can; the server is not running.
    let folder = served.end();
    let derived = folder.path().join("night-one/derived");
    let edited = below(&derived).into_iter().filter(|path| path.ends_with("analysis.json"));
    for path in edited {
        let path = derived.join(path);
        let text = std::fs::read_to_string(&path).expect("read").replace("\"R1\"", "\"R9\"");
        std::fs::write(&path, text).expect("written");
    }
    let served = Served::one(folder, "night-one");
    let told = again(&served);
    assert_eq!(told["derived"], 2, "{told}");
    assert_eq!(told["warnings"][0]["code"], "derived_altered");
    for none in ["appeared", "gone", "changed"] {
        assert_eq!(told[none], json!([]), "{told}");
    }
    assert_eq!(served.ledger("night-one")["emissions"], before);
    served.verified("night-one");
}
