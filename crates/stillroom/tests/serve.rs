//! `serve`: prints its address, answers there, ends on an interrupt with status 130.
#![cfg(unix)]

mod support;

use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use support::{arg, done, run};

/// A server of one survey, and its host and port.
fn serving(case: &Path) -> (Child, String) {
    serving_with(case, &[], &std::env::var("PATH").unwrap_or_default())
}

/// The same, with more options and another search path.
fn serving_with(case: &Path, more: &[&str], path: &str) -> (Child, String) {
    let mut child = Command::new(assert_cmd::cargo::cargo_bin("stillroom"))
        .args(["serve", arg(case), "--port", "0"])
        .args(more)
        .env("PATH", path)
        .stdout(Stdio::piped())
        .spawn()
        .expect("it starts");
    let mut said = String::new();
    let out = child.stdout.take().expect("its words");
    BufReader::new(out).read_line(&mut said).expect("a line");
    let address = said.trim().strip_prefix("http://").and_then(|a| a.strip_suffix('/'));
    let address = address.unwrap_or_else(|| panic!("no address: {said}")).to_owned();
    (child, address)
}

fn ask(address: &str, first: &str) -> String {
    let mut stream = TcpStream::connect(address).expect("it answers");
    let request = format!(
        "{first} HTTP/1.1\r\nhost: {address}\r\ncontent-length: 0\r\nconnection: close\r\n\r\n"
    );
    stream.write_all(request.as_bytes()).expect("sent");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("read");
    answer
}

#[test]
fn it_serves_one_survey_until_it_is_interrupted() {
    let place = tempfile::tempdir().expect("a folder");
    let case = place.path().join("night-one");
    done(&["new", arg(&case), "--by", "T. Ashdown"]);
    let (mut child, address) = serving(&case);
    let answer = ask(&address, "GET /api/surveys");
    assert!(answer.starts_with("HTTP/1.1 200") && answer.contains("night-one"), "{answer}");
    kill(Pid::from_raw(child.id().cast_signed()), Signal::SIGINT).expect("sent");
    assert_eq!(child.wait().expect("ended").code(), Some(130));
}

#[test]
fn a_killed_server_leaves_nothing_of_a_file_that_was_arriving() {
    let place = tempfile::tempdir().expect("a folder");
    let case = place.path().join("night-one");
    done(&["new", arg(&case), "--by", "T. Ashdown"]);
    let (mut child, address) = serving(&case);
    let id = begun(&address);
    let mut stream = TcpStream::connect(&address).expect("it answers");
    let half = format!(
        "PUT /api/surveys/night-one/uploads/{id}/a.bin HTTP/1.1\r\nhost: {address}\r\n\
         content-length: 3000000\r\n\r\n{}",
        "x".repeat(2_500_000)
    );
    stream.write_all(half.as_bytes()).expect("sent");
    let staging = case.join("staging");
    let held = || {
        let folders = std::fs::read_dir(&staging).expect("a folder").flatten();
        folders.flat_map(|f| std::fs::read_dir(f.path()).into_iter().flatten()).count()
    };
    // The lock of the program, and what it wrote of the file.
    while held() < 2 {
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    child.kill().expect("killed"); // SIGKILL
    child.wait().expect("ended");
    assert_eq!(held(), 2, "as the kill left it");
    done(&["verify", arg(&case)]);
    assert_eq!(std::fs::read_dir(&staging).expect("a folder").count(), 0);
}

/// Begins an upload; its id.
fn begun(address: &str) -> String {
    let begun = ask(address, "POST /api/surveys/night-one/uploads");
    let id = begun.split("\"upload\":\"").nth(1).and_then(|rest| rest.split('"').next());
    id.unwrap_or_else(|| panic!("{begun}")).to_owned()
}

fn json(answer: &str) -> serde_json::Value {
    serde_json::from_str(answer.split("\r\n\r\n").nth(1).expect("a body")).expect("JSON")
}

#[test]
fn what_came_whole_outlives_a_killed_server() {
    let place = tempfile::tempdir().expect("a folder");
    let case = place.path().join("night-one");
    done(&["new", arg(&case), "--by", "T. Ashdown"]);
    let (mut child, address) = serving(&case);
    let id = begun(&address);
    let path = format!("/api/surveys/night-one/uploads/{id}");
    let log = "Time,Frequency,Level\n2026-03-01T20:00:00Z,433.92,-60\n";
    let put = format!(
        "PUT {path}/log.csv HTTP/1.1\r\nhost: {address}\r\nconnection: close\r\n\
         content-length: {}\r\n\r\n{log}",
        log.len()
    );
    let mut stream = TcpStream::connect(&address).expect("it answers");
    stream.write_all(put.as_bytes()).expect("sent");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("read");
    assert!(answer.starts_with("HTTP/1.1 201"), "{answer}");
    child.kill().expect("killed"); // SIGKILL
    child.wait().expect("ended");
    // Another program that opens the survey meanwhile lets it be.
    done(&["verify", arg(&case)]);
    let (mut child, address) = serving(&case);
    let held = json(&ask(&address, "GET /api/surveys/night-one/uploads"));
    let file = serde_json::json!({"name": "log.csv", "bytes": log.len()});
    assert_eq!(held, serde_json::json!([{"upload": id, "files": [file]}]));
    let kept = case.join("staging").join(format!("upload-{id}")).join("log.csv");
    assert_eq!(std::fs::read_to_string(&kept).expect("kept"), log);
    // What is begun now is another, and what is discarded is gone for good.
    assert_ne!(begun(&address), id);
    assert!(ask(&address, &format!("DELETE {path}")).starts_with("HTTP/1.1 204"));
    assert!(!kept.exists());
    child.kill().expect("killed");
    child.wait().expect("ended");
    let (mut child, address) = serving(&case);
    let held = json(&ask(&address, "GET /api/surveys/night-one/uploads"));
    assert_eq!(held, serde_json::json!([]));
    child.kill().expect("killed");
    child.wait().expect("ended");
}

#[test]
fn the_page_is_opened_when_asked() {
    use std::os::unix::fs::PermissionsExt;
    let place = tempfile::tempdir().expect("a folder");
    let case = place.path().join("night-one");
    done(&["new", arg(&case), "--by", "T. Ashdown"]);
    // Stands in for the desktop's own opener.
    let (opener, told) = (place.path().join("xdg-open"), place.path().join("told"));
    let script =
        format!("#!/bin/sh\necho \"$@\" > '{0}.new'; mv '{0}.new' '{0}'\n", told.display());
    std::fs::write(&opener, script).expect("written");
    let executable = std::fs::Permissions::from_mode(0o755);
    std::fs::set_permissions(&opener, executable).expect("set");
    let path = format!("{}:/usr/bin:/bin", place.path().display());
    for (more, opened) in [(&["--open"][..], true), (&[], false)] {
        let (mut child, address) = serving_with(&case, more, &path);
        if opened {
            let began = std::time::Instant::now();
            while !told.exists() {
                assert!(began.elapsed().as_secs() < 20, "nothing was opened");
                std::thread::sleep(std::time::Duration::from_millis(20));
            }
            let asked = std::fs::read_to_string(&told).expect("what was opened");
            assert_eq!(asked.trim(), format!("http://{address}/"));
            std::fs::remove_file(&told).expect("removed");
        }
        ask(&address, "GET /");
        kill(Pid::from_raw(child.id().cast_signed()), Signal::SIGINT).expect("sent");
        child.wait().expect("ended");
        assert!(!told.exists());
    }
    // Without an opener it serves all the same.
    let (mut child, address) = serving_with(&case, &["--open"], "");
    assert!(ask(&address, "GET /").starts_with("HTTP/1.1 200"));
    child.kill().expect("killed");
    child.wait().expect("ended");
}

#[test]
fn what_cannot_be_served_is_said() {
    let place = tempfile::tempdir().expect("a folder");
    let none = run(&["serve", arg(place.path())]);
    assert_eq!(none.status, 2, "{}", none.err);
    let taken = std::net::TcpListener::bind(("127.0.0.1", 0)).expect("a port");
    let port = taken.local_addr().expect("an address").port().to_string();
    let busy = run(&["serve", "--surveys", arg(place.path()), "--port", &port]);
    assert_eq!(busy.status, 3, "{}", busy.err);
    assert!(busy.err.contains(&port) && busy.err.contains("--port"), "{}", busy.err);
}
