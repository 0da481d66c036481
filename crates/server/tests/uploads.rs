//! Files on their way in: bounded, whole or not there, and never elsewhere than in the upload.

mod support;

use serde_json::json;
use std::io::{Read, Write};
use std::time::Duration;
use support::{Served, below, recording};

#[test]
fn names_of_files_lead_nowhere_else() {
    let served = Served::folder();
    served.survey("night-one");
    let id = served.upload("night-one", &[]);
    let before = below(served.folder.path());
    for name in [
        "..%2fx",
        "..%2f..%2fevidence%2fx",
        "%2ftmp%2fx",
        "..",
        "%2e%2e",
        ".hidden",
        "a%5cb",
        "x%00",
        "x%0a",
        "..%5cx",
        "survey%2fsqlite",
    ] {
        let path = format!("/api/surveys/night-one/uploads/{id}/{name}");
        let answer = served.send("PUT", &path, &[], b"bytes");
        assert!([404, 405, 422].contains(&answer.status), "{name}: {}", answer.head);
    }
    assert_eq!(below(served.folder.path()), before);
    let listed = served.get(&format!("/api/surveys/night-one/uploads/{id}")).expect(200).json();
    assert_eq!(listed["files"], json!([]));
    served.send("PUT", "/api/surveys/night-one/uploads/U9/x", &[], b"").problem(404, "not-found");
    served
        .send("PUT", "/api/surveys/night-one/uploads/..%2f..%2fx/x", &[], b"")
        .problem(404, "not-found");
}

#[test]
fn a_file_is_whole_or_not_there() {
    let served = Served::folder();
    served.survey("night-one");
    // Longer than any body that is not streamed may be.
    let long = vec![7u8; 5 << 20];
    let id = served.upload("night-one", &[("a.bin", &long)]);
    let path = format!("/api/surveys/night-one/uploads/{id}");
    served.send("PUT", &format!("{path}/A.BIN"), &[], b"x").problem(409, "conflict");
    let mut stream = served.connect();
    let head = format!(
        "PUT {path}/b.bin HTTP/1.1\r\nhost: localhost:{}\r\ncontent-length: 100\r\n\r\nhalf",
        served.port
    );
    stream.write_all(head.as_bytes()).expect("sent");
    std::thread::sleep(Duration::from_millis(300));
    // While one arrives nothing is imported.
    let import = json!({"upload": id, "role": "room", "at": "desk"});
    served.post("/api/surveys/night-one/imports", &import).problem(409, "conflict");
    drop(stream);
    let listed = loop {
        let listed = served.get(&path).expect(200).json();
        if !below(served.folder.path()).iter().any(|path| path.contains(".partial")) {
            break listed;
        }
        std::thread::sleep(Duration::from_millis(20));
    };
    assert_eq!(listed["files"], json!([{"name": "a.bin", "bytes": long.len()}]));
    // The name is free again.
    served.send("PUT", &format!("{path}/b.bin"), &[], b"whole").expect(201);
    served.send("DELETE", &path, &[], b"").expect(204);
    served.get(&path).problem(404, "not-found");
    assert!(!below(served.folder.path()).iter().any(|path| path.ends_with(".bin")));
}

#[test]
fn an_upload_is_bounded() {
    let served = Served::limited(1000);
    served.survey("night-one");
    let id = served.upload("night-one", &[("a", &[1; 600])]);
    let path = format!("/api/surveys/night-one/uploads/{id}");
    served.send("PUT", &format!("{path}/b"), &[], &[1; 2000]).problem(413, "limit");
    served.send("PUT", &format!("{path}/b"), &[], &[1; 500]).problem(413, "limit");
    // Without a length it is counted as it comes.
    let chunked = format!(
        "PUT {path}/b HTTP/1.1\r\nhost: localhost:{}\r\ntransfer-encoding: chunked\r\n\
         connection: close\r\n\r\n1f4\r\n{}\r\n0\r\n\r\n",
        served.port,
        "x".repeat(500)
    );
    served.raw(chunked.as_bytes()).problem(413, "limit");
    served.send("PUT", &format!("{path}/b"), &[], &[1; 400]).expect(201);
    for _ in 1..16 {
        served.upload("night-one", &[]);
    }
    served.post("/api/surveys/night-one/uploads", &json!(null)).problem(429, "limit");
}

#[test]
fn an_import_that_is_refused_keeps_the_upload() {
    let served = Served::folder();
    served.survey("night-one");
    let sent = recording("room", 1);
    let id = served.upload("night-one", &[("room.ci16", &sent.data)]);
    let imports = "/api/surveys/night-one/imports";
    let raw = json!({"upload": id, "role": "room", "at": "boardroom"});
    let job = served.post(imports, &raw).expect(202).json();
    let ended = served.ended("night-one", job["id"].as_str().expect("an id"));
    assert_eq!(ended["state"], "failed", "{ended}");
    let told = ended["problem"].to_string();
    assert!(told.contains("room.ci16") && !told.contains("staging"), "{told}");
    // What was missing is said, and nothing is sent again.
    let said = json!({"upload": id, "role": "room", "at": "boardroom", "overrides":
        {"format": "ci16_le", "rate_hz": 250e3, "centre_hz": 433.92e6, "start": "2026-03-01T20:25"}});
    let job = served.post(imports, &said).expect(202).json();
    let ended = served.ended("night-one", job["id"].as_str().expect("an id"));
    assert_eq!(ended["state"], "done", "{ended}");
    assert_eq!(ended["imported"][0]["file"], "room.ci16");
    served.get(&format!("/api/surveys/night-one/uploads/{id}")).problem(404, "not-found");
    let missing = json!({"upload": id, "role": "room"});
    served.post(imports, &missing).problem(404, "not-found");
    let id = served.upload("night-one", &[]);
    let empty = json!({"upload": id, "role": "room"});
    served.post(imports, &empty).problem(422, "request");
    let other = json!({"upload": id, "role": "room", "files": ["../../survey.sqlite"]});
    served.post(imports, &other).problem(404, "not-found");
    served.verified("night-one");
}

#[test]
fn what_arrives_into_a_discarded_upload_is_refused() {
    let served = Served::folder();
    served.survey("night-one");
    let id = served.upload("night-one", &[("a.bin", b"a")]);
    let path = format!("/api/surveys/night-one/uploads/{id}");
    let mut stream = served.connect();
    let head = format!(
        "PUT {path}/late.bin HTTP/1.1\r\nhost: localhost:{}\r\ncontent-length: 10\r\n\
         connection: close\r\n\r\nfirst",
        served.port
    );
    stream.write_all(head.as_bytes()).expect("sent");
    while !below(served.folder.path()).iter().any(|path| path.contains(".partial")) {
        std::thread::sleep(Duration::from_millis(10));
    }
    served.send("DELETE", &path, &[], b"").expect(204);
    stream.write_all(b"later").expect("sent");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("an answer");
    assert!(answer.starts_with("HTTP/1.1 422") && answer.contains("discarded"), "{answer}");
    assert!(!below(served.folder.path()).iter().any(|path| path.ends_with(".bin")));
}

#[test]
fn what_came_whole_is_brought_in_by_the_next_server() {
    let served = Served::folder();
    served.survey("night-one");
    let sent = recording("room", 1);
    let meta = sent.meta.as_bytes();
    let id =
        served.upload("night-one", &[("room.sigmf-data", &sent.data), ("room.sigmf-meta", meta)]);
    let empty = served.upload("night-one", &[]);
    let served = Served::one(served.end(), "night-one");
    let path = format!("/api/surveys/night-one/uploads/{id}");
    let listed = served.get(&path).expect(200).json();
    assert_eq!(listed["files"][0], json!({"name": "room.sigmf-data", "bytes": sent.data.len()}));
    served.get(&format!("/api/surveys/night-one/uploads/{empty}")).problem(404, "not-found");
    // More is sent into it, under the same rules.
    served.send("PUT", &format!("{path}/ROOM.sigmf-data"), &[], b"x").problem(409, "conflict");
    served.send("PUT", &format!("{path}/more.txt"), &[], b"x").expect(201);
    let said = json!({"upload": id, "files": ["room.sigmf-meta", "room.sigmf-data"], "role": "room",
                      "at": "boardroom", "chain": "receiver A"});
    let job = served.post("/api/surveys/night-one/imports", &said).expect(202).json();
    let ended = served.ended("night-one", job["id"].as_str().expect("an id"));
    assert_eq!(ended["state"], "done", "{ended}");
    assert_eq!(ended["imported"][0]["already"], false);
    served.get(&path).problem(404, "not-found");
    // Many pages ask at once after a start: all are told the same.
    let id = served.upload("night-one", &[("a.bin", b"x")]);
    let served = Served::within(served.end());
    let counted: Vec<usize> = std::thread::scope(|scope| {
        let ask = || served.get("/api/surveys/night-one/uploads").expect(200).json();
        let asking: Vec<_> = (0..8).map(|_| scope.spawn(ask)).collect();
        let answers = asking.into_iter().map(|one| one.join().expect("answered"));
        answers.map(|all| all.as_array().map_or(0, Vec::len)).collect()
    });
    assert_eq!(counted, [1; 8]);
    served.get(&format!("/api/surveys/night-one/uploads/{id}")).expect(200);
    served.verified("night-one");
}

#[test]
fn a_body_that_trickles_is_cut_unless_it_is_a_file() {
    let patience = Duration::from_millis(700);
    let served = Served::impatient(patience);
    served.survey("night-one");
    let id = served.upload("night-one", &[]);
    let begun = |method: &str, path: &str, bytes: usize| {
        let mut stream = served.connect();
        let head = format!(
            "{method} {path} HTTP/1.1\r\nhost: localhost:{}\r\nconnection: close\r\n\
             content-type: application/json\r\ncontent-length: {bytes}\r\n\r\n",
            served.port
        );
        stream.write_all(head.as_bytes()).expect("sent");
        stream
    };
    let said = r#"{"survey": "night-two", "name": "Heron", "region": "UK", "time_zone": "Europe/London", "by": ""}"#;
    let mut slow = begun("POST", "/api/surveys", said.len());
    let mut file = begun("PUT", &format!("/api/surveys/night-one/uploads/{id}/slow.bin"), 6);
    // A byte now and then, over three times as long as is waited.
    for byte in said.as_bytes().iter().take(6) {
        std::thread::sleep(patience / 2);
        let _ = slow.write_all(&[*byte]);
        file.write_all(&[*byte]).expect("taken");
    }
    let refused = support::read(&mut slow);
    assert_eq!(refused.header("connection"), Some("close"));
    let problem = refused.problem(408, "limit");
    assert!(problem["detail"].to_string().contains("did not come whole"), "{problem}");
    support::read(&mut file).expect(201);
    // Nothing was begun by the half of it, and the whole is taken.
    assert_eq!(served.get("/api/surveys").expect(200).json().as_array().map(Vec::len), Some(1));
    served
        .send("POST", "/api/surveys", &[("content-type", "application/json")], said.as_bytes())
        .expect(201);
}
