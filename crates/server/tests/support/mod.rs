//! What the tests of the server share: a server on a free port of this machine, a plain HTTP client
//! that sends exactly what it is told to, and simulated recordings.
#![allow(dead_code)] // each test file uses its own part of this

use serde_json::{Value, json};
use server::{Bound, Config, Where};
use simulate::{Piece, Scene, Simulation};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// A server that ends with the test.
pub struct Served {
    pub folder: TempDir,
    pub port: u16,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

/// An answer.
#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: Vec<u8>,
}

impl Answer {
    pub fn header(&self, name: &str) -> Option<&str> {
        self.head.lines().skip(1).find_map(|line| {
            let (key, value) = line.split_once(':')?;
            key.eq_ignore_ascii_case(name).then(|| value.trim())
        })
    }
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|e| panic!("{e}: {}", self.text()))
    }
    /// The answer, which must have this status.
    pub fn expect(self, status: u16) -> Answer {
        assert_eq!(self.status, status, "{}\n{}", self.head, self.text());
        self
    }
    /// The problem, which must be told as RFC 9457 has it, with what to do.
    pub fn problem(self, status: u16, code: &str) -> Value {
        let answer = self.expect(status);
        assert_eq!(answer.header("content-type"), Some("application/problem+json"));
        let problem = answer.json();
        assert_eq!(problem["status"], status, "{problem}");
        assert_eq!(problem["code"], code, "{problem}");
        for member in ["type", "title", "detail", "remedy"] {
            assert!(problem[member].as_str().is_some_and(|t| !t.is_empty()), "{member}: {problem}");
        }
        problem
    }
}

impl Served {
    /// All surveys of a folder, which is empty.
    pub fn folder() -> Served {
        Served::limited(1 << 30)
    }
    /// The same, with uploads of at most so many bytes.
    pub fn limited(most_upload_bytes: u64) -> Served {
        let folder = tempfile::tempdir().expect("a folder");
        let surveys = Where::Folder(folder.path().to_owned());
        Served::start(folder, surveys, most_upload_bytes, Config::PATIENCE)
    }
    /// All surveys of an empty folder, by a server that waits so long for a body.
    pub fn impatient(patience: Duration) -> Served {
        let folder = tempfile::tempdir().expect("a folder");
        let surveys = Where::Folder(folder.path().to_owned());
        Served::start(folder, surveys, 1 << 30, patience)
    }
    /// All surveys of a folder that holds some.
    pub fn within(folder: TempDir) -> Served {
        let surveys = Where::Folder(folder.path().to_owned());
        Served::start(folder, surveys, 1 << 30, Config::PATIENCE)
    }
    /// One survey of that folder alone.
    pub fn one(folder: TempDir, name: &str) -> Served {
        let surveys = Where::Survey(folder.path().join(name));
        Served::start(folder, surveys, 1 << 30, Config::PATIENCE)
    }
    fn start(
        folder: TempDir,
        surveys: Where,
        most_upload_bytes: u64,
        patience: Duration,
    ) -> Served {
        let config = Config { surveys, port: None, most_upload_bytes, patience };
        let bound = Bound::new(config).expect("bound");
        let address = bound.address();
        let port = address.trim_end_matches('/').rsplit(':').next().expect("a port");
        let port = port.parse().expect("a number");
        let stop = Arc::new(AtomicBool::new(false));
        let told = stop.clone();
        let serve = move || bound.serve(move || told.load(Ordering::SeqCst)).expect("served");
        Served { folder, port, stop, thread: Some(std::thread::spawn(serve)) }
    }
    /// Ends the server and gives the folder back.
    pub fn end(mut self) -> TempDir {
        self.halt();
        std::mem::replace(&mut self.folder, tempfile::tempdir().expect("a folder"))
    }
    fn halt(&mut self) {
        self.stop.store(true, Ordering::SeqCst);
        if let Some(thread) = self.thread.take() {
            thread.join().expect("the server ended");
        }
    }

    /// Sends bytes as they are; reads until the server hangs up.
    pub fn raw(&self, request: &[u8]) -> Answer {
        let mut stream = self.connect();
        stream.write_all(request).expect("sent");
        read(&mut stream)
    }
    pub fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(("127.0.0.1", self.port)).expect("it answers");
        stream.set_read_timeout(Some(Duration::from_secs(60))).expect("a time");
        stream
    }
    /// Sends a request with these headers beside its Host.
    pub fn send(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
        let mut request = format!(
            "{method} {path} HTTP/1.1\r\nhost: 127.0.0.1:{}\r\nconnection: close\r\n\
             content-length: {}\r\n",
            self.port,
            body.len()
        );
        for (name, value) in headers {
            request.push_str(&format!("{name}: {value}\r\n"));
        }
        request.push_str("\r\n");
        let mut stream = self.connect();
        stream.write_all(request.as_bytes()).expect("sent");
        // A server that refuses need not read the rest.
        let _ = stream.write_all(body);
        read(&mut stream)
    }
    pub fn get(&self, path: &str) -> Answer {
        self.send("GET", path, &[], b"")
    }
    pub fn with(&self, method: &str, path: &str, body: &Value) -> Answer {
        self.seen(method, path, None, body)
    }
    pub fn post(&self, path: &str, body: &Value) -> Answer {
        self.with("POST", path, body)
    }
    /// The same, having seen a version.
    pub fn seen(&self, method: &str, path: &str, version: Option<&str>, body: &Value) -> Answer {
        let mut headers = vec![("content-type", "application/json")];
        headers.extend(version.map(|version| ("if-match", version)));
        self.send(method, path, &headers, body.to_string().as_bytes())
    }

    /// Starts a survey.
    pub fn survey(&self, name: &str) {
        let new = json!({"survey": name, "name": "Heron", "region": "UK",
                         "time_zone": "Europe/London", "by": "T. Ashdown"});
        self.post("/api/surveys", &new).expect(201);
    }
    /// Sends files into a new upload; gives its id.
    pub fn upload(&self, survey: &str, files: &[(&str, &[u8])]) -> String {
        let begun = self.post(&format!("/api/surveys/{survey}/uploads"), &json!(null)).expect(201);
        let id = begun.json()["upload"].as_str().expect("an id").to_owned();
        for (name, bytes) in files {
            let path = format!("/api/surveys/{survey}/uploads/{id}/{name}");
            let received = self.send("PUT", &path, &[], bytes).expect(201).json();
            assert_eq!(received["bytes"], bytes.len());
        }
        id
    }
    /// Uploads one recording and begins to import it; gives the job's id.
    pub fn import(&self, survey: &str, recording: &Recording, role: &str, at: &str) -> String {
        let (data, meta) = (format!("{}.sigmf-data", recording.name), recording.meta_name());
        let files =
            [(data.as_str(), &recording.data[..]), (meta.as_str(), recording.meta.as_bytes())];
        let upload = self.upload(survey, &files);
        let said = json!({"upload": upload, "role": role, "at": at, "chain": "receiver A"});
        let job = self.post(&format!("/api/surveys/{survey}/imports"), &said).expect(202).json();
        job["id"].as_str().expect("an id").to_owned()
    }
    /// Waits for the end of a job.
    pub fn ended(&self, survey: &str, job: &str) -> Value {
        let began = Instant::now();
        loop {
            let now = self.get(&format!("/api/surveys/{survey}/jobs/{job}")).expect(200).json();
            if now["state"] != "running" {
                return now;
            }
            assert!(began.elapsed() < Duration::from_secs(120), "{now}");
            std::thread::sleep(Duration::from_millis(20));
        }
    }
    /// Checks evidence and journal, which must be as they were written.
    pub fn verified(&self, survey: &str) -> Value {
        let path = format!("/api/surveys/{survey}/verifications");
        let job = self.post(&path, &json!(null)).expect(202).json();
        let ended = self.ended(survey, job["id"].as_str().expect("an id"));
        assert_eq!(ended["verification"]["ok"], true, "{ended}");
        ended["verification"].clone()
    }
    /// The ledger once nothing waits.
    pub fn ledger(&self, survey: &str) -> Value {
        let began = Instant::now();
        loop {
            let now = self.get(&format!("/api/surveys/{survey}/ledger")).expect(200).json();
            if now["waiting"] == 0 {
                return now["ledger"].clone();
            }
            assert!(began.elapsed() < Duration::from_secs(120), "{now}");
            std::thread::sleep(Duration::from_millis(50));
        }
    }
    /// A survey of a yard and a room, analysed.
    pub fn small(&self, name: &str) {
        self.survey(name);
        for (recording, role, at) in [
            (recording("yard", 1), "reference", "yard"),
            (recording("room", 1), "room", "boardroom"),
        ] {
            let job = self.import(name, &recording, role, at);
            let ended = self.ended(name, &job);
            assert_eq!(ended["state"], "done", "{ended}");
        }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.halt();
    }
}

/// What a server answers until it hangs up.
pub fn read(stream: &mut TcpStream) -> Answer {
    let mut bytes = Vec::new();
    // What came before a reset counts.
    let _ = stream.read_to_end(&mut bytes);
    let end = bytes.windows(4).position(|four| four == b"\r\n\r\n").expect("a head") + 4;
    let head = String::from_utf8_lossy(&bytes[..end]).into_owned();
    let status = head.split(' ').nth(1).and_then(|s| s.parse().ok()).expect("a status");
    Answer { status, head, body: bytes.split_off(end) }
}

/// A recording as files.
pub struct Recording {
    pub name: &'static str,
    pub data: Vec<u8>,
    pub meta: String,
}

impl Recording {
    pub fn meta_name(&self) -> String {
        format!("{}.sigmf-meta", self.name)
    }
}

/// A place with a sender in a room and another outside; heard from the yard and from the room.
const SCENE: &str = r#"
name = "Heron Court"
start = "2026-03-01T20:00:00Z"
[[floors]]
name = "ground"
level_m = 0.0
rooms = [{ name = "Boardroom", x_m = [0, 6], y_m = [0, 5] }]
walls = [
    { from_m = [0, 0], to_m = [6, 0], material = "brick_double" },
    { from_m = [6, 0], to_m = [6, 5], material = "brick_double" },
    { from_m = [6, 5], to_m = [0, 5], material = "brick_double" },
    { from_m = [0, 5], to_m = [0, 0], material = "brick_double" },
]
[[positions]]
name = "yard"
place = { at_m = [-15, -12], height_m = 1.4 }
[[positions]]
name = "boardroom"
place = { floor = "ground", at_m = [3, 2.5] }
[[chains]]
name = "receiver A"
sample_rate_hz = 250e3
centres_hz = [433.92e6]
noise_figure_db = 8
gain_db = 20
full_scale_dbm = 0
adc_bits = 16
[[visits]]
name = "yard"
chain = "receiver A"
position = "yard"
role = "reference"
start = "2026-03-01T20:05:00Z"
duration_s = SECONDS
[[visits]]
name = "room"
chain = "receiver A"
position = "boardroom"
role = "room"
start = "2026-03-01T20:25:00Z"
duration_s = SECONDS
[[emitters]]
name = "under the table"
planted = true
place = { floor = "ground", at_m = [2.0, 2.0], height_m = 0.6 }
eirp_dbm = -10
centre_hz = 433.95e6
signal = { kind = "fsk", levels = 2, symbol_rate = 4800, deviation_hz = 2400, bt = 0.5 }
[[emitters]]
name = "across the road"
place = { bearing_deg = 40, distance_m = 300, height_m = 12 }
eirp_dbm = 20
centre_hz = 433.86e6
signal = { kind = "fsk", levels = 2, symbol_rate = 4800, deviation_hz = 2400, bt = 0.5 }
"#;

/// The recording of a visit of the scene, so many seconds long.
pub fn recording(name: &'static str, seconds: u32) -> Recording {
    let scene = SCENE.replace("SECONDS", &seconds.to_string());
    let scene: Scene = toml::from_str(&scene).expect("a scene");
    let simulation = Simulation::new(&scene, 7).expect("a simulation");
    let visit = simulation.visits().iter().position(|plan| plan.name == name).expect("a visit");
    let mut data = Vec::new();
    let mut captures = Vec::new();
    let mut sample = 0;
    let kept: Result<(), ()> = simulation.synthesise(visit, &mut |piece| {
        match piece {
            Piece::Segment(segment) => captures.push(json!({"core:sample_start": sample,
                "core:frequency": segment.centre_hz, "core:datetime": segment.start.to_string()})),
            Piece::Samples(samples) => {
                sample += samples.len();
                for rail in samples.iter().flat_map(|x| [x.re, x.im]) {
                    data.extend(((rail * 32768.0).round() as i16).to_le_bytes());
                }
            }
        }
        Ok(())
    });
    kept.expect("made");
    let meta = json!({"global": {"core:datatype": "ci16_le", "core:sample_rate": 250e3,
        "core:version": "1.2.0"}, "captures": captures, "annotations": []});
    Recording { name, data, meta: meta.to_string() }
}

/// Everything that lies under a folder, by its path within.
pub fn below(folder: &Path) -> Vec<String> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in std::fs::read_dir(&next).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path.clone());
            }
            let within = path.strip_prefix(folder).expect("within");
            found.push(within.to_string_lossy().into_owned());
        }
    }
    found.sort();
    found
}
