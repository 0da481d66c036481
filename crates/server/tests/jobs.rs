//! Long work: it can be cancelled and leaves nothing half done; a server that ends is taken up
//! where it was; what happens is streamed.

mod support;

use serde_json::{Value, json};
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
    served.get(&format!("/api/surveys/night-one/uploads/{left}")).problem(404, "not-found");
    assert!(!below(served.folder.path()).iter().any(|path| path.ends_with("never-imported.bin")));
    served.verified("night-one");
}

/// The events of a stream, one at a time.
struct Events(BufReader<std::net::TcpStream>);

impl Events {
    fn of(served: &Served, survey: &str) -> Events {
        let mut stream = served.connect();
        let head = format!(
            "GET /api/surveys/{survey}/events HTTP/1.1\r\nhost: localhost:{}\r\n\r\n",
            served.port
        );
        stream.write_all(head.as_bytes()).expect("sent");
        Events(BufReader::new(stream))
    }
    /// The next event of this name for which something holds.
    fn until(&mut self, name: &str, holds: impl Fn(&Value) -> bool) -> Value {
        let mut event = String::new();
        loop {
            let mut line = String::new();
            assert!(self.0.read_line(&mut line).expect("a line") > 0, "the stream ended");
            if let Some(named) = line.strip_prefix("event:") {
                event = named.trim().to_owned();
            }
            if let Some(data) = line.strip_prefix("data:").filter(|_| event == name) {
                let data: Value = serde_json::from_str(data).expect("JSON");
                if holds(&data) {
                    return data;
                }
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
    let jobs = events.until("jobs", |jobs| jobs[0]["state"] != "running");
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
