//! `serve`: prints its address, answers there, ends on an interrupt with status 130.
#![cfg(unix)]

mod support;

use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Command, Stdio};
use support::{arg, done, run};

#[test]
fn it_serves_one_survey_until_it_is_interrupted() {
    let place = tempfile::tempdir().expect("a folder");
    let case = place.path().join("night-one");
    done(&["new", arg(&case), "--by", "T. Ashdown"]);
    let mut child = Command::new(assert_cmd::cargo::cargo_bin("stillroom"))
        .args(["serve", arg(&case), "--port", "0"])
        .stdout(Stdio::piped())
        .spawn()
        .expect("it starts");
    let mut said = String::new();
    let out = child.stdout.take().expect("its words");
    BufReader::new(out).read_line(&mut said).expect("a line");
    let address = said.trim().strip_prefix("http://").and_then(|a| a.strip_suffix('/'));
    let address = address.unwrap_or_else(|| panic!("no address: {said}"));
    let mut stream = TcpStream::connect(address).expect("it answers");
    let request =
        format!("GET /api/surveys HTTP/1.1\r\nhost: {address}\r\nconnection: close\r\n\r\n");
    stream.write_all(request.as_bytes()).expect("sent");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("read");
    assert!(answer.starts_with("HTTP/1.1 200") && answer.contains("night-one"), "{answer}");
    kill(Pid::from_raw(child.id().cast_signed()), Signal::SIGINT).expect("sent");
    assert_eq!(child.wait().expect("ended").code(), Some(130));
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
