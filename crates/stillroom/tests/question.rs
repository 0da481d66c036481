//! The one question, on a terminal: what the columns of an unknown log are. A pseudo-terminal
//! stands for the technician's; from the stick to ranked rows it takes one answer and ten seconds.

#![allow(missing_docs)]

mod support;

use nix::pty::openpty;
use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use std::fs::File;
use std::io::{Read, Write};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use support::{arg, done};

/// What ends the question.
const PROMPT: &str = "type the mapping as it should be: ";
/// An invented detector's log: a decimal comma, days first, a strength without its scale.
const LOG: &str = "Date;Time;Frequency MHz;Strength;Duration s\n\
    01.03.2026;20:03;433,92;9;4\n01.03.2026;20:06;433,92;9;4\n01.03.2026;20:09;433,92;8;4\n\
    01.03.2026;20:12;433,92;9;4\n01.03.2026;20:13;868,30;3;1\n01.03.2026;20:15;433,92;9;4\n";

/// A survey, and a stick with a log on it.
fn stick(place: &Path) -> (PathBuf, PathBuf) {
    let (case, log) = (place.join("case"), place.join("LOG0001.CSV"));
    std::fs::write(&log, LOG).expect("written");
    done(&["new", arg(&case), "--time-zone", "Europe/Vienna", "--by", "a test"]);
    (case, log)
}

/// `add` at a terminal, waiting for its answer.
struct Asked {
    terminal: File,
    child: Child,
    said: String,
}

fn ask(case: &Path, log: &Path) -> Asked {
    let pty = openpty(None, None).expect("a pseudo-terminal");
    let end = |fd: &OwnedFd| Stdio::from(fd.try_clone().expect("a second end"));
    let mut command = Command::new(assert_cmd::cargo::cargo_bin("stillroom"));
    command.env_remove("STILLROOM_BY").args(["add", arg(case), arg(log)]);
    command.args(["--role", "room", "--at", "boardroom"]);
    command.stdin(end(&pty.slave)).stderr(end(&pty.slave)).stdout(Stdio::piped());
    let child = command.spawn().expect("it starts");
    drop((command, pty.slave));
    let mut asked = Asked { terminal: File::from(pty.master), child, said: String::new() };
    asked.read_until(PROMPT);
    asked
}

impl Asked {
    fn read_until(&mut self, words: &str) {
        let mut bytes = [0; 4096];
        while !self.said.contains(words) {
            // The other end is closed (EIO) when the program has ended.
            let n = self.terminal.read(&mut bytes).unwrap_or(0);
            assert!(n > 0, "it ended without asking: {}", self.said);
            self.said.push_str(&String::from_utf8_lossy(&bytes[..n]));
        }
    }

    /// Types an answer; gives the status and what came on standard output.
    fn answer(mut self, typed: &str) -> (i32, String) {
        self.terminal.write_all(typed.as_bytes()).expect("typed");
        let mut rest = Vec::new();
        let _ = self.terminal.read_to_end(&mut rest);
        self.said.push_str(&String::from_utf8_lossy(&rest));
        assert_eq!(self.said.matches(PROMPT).count(), 1, "asked once: {}", self.said);
        let output = self.child.wait_with_output().expect("it ends");
        let out = String::from_utf8(output.stdout).expect("UTF-8");
        (output.status.code().expect("a status"), out)
    }
}

fn captures(case: &Path) -> usize {
    let json = done(&["emissions", arg(case), "--json"]).out;
    let ledger: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    ledger["captures"].as_array().expect("captures").len()
}

#[test]
fn the_steps_are_asked_for_and_rows_are_ranked_within_ten_seconds() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let (case, log) = stick(place.path());
    let began = Instant::now();
    let asked = ask(&case, &log);
    for words in ["Frequency MHz", "strength=Strength/", "assumed: "] {
        assert!(asked.said.contains(words), "{words}: {}", asked.said);
    }
    // The log names no scale: Enter does not take the guess, the steps are asked for again.
    let mut asked = asked;
    asked.terminal.write_all(b"\n").expect("typed");
    asked.said.clear();
    asked.read_until(PROMPT);
    assert_eq!(captures(&case), 0);
    let (status, out) = asked.answer("20\n");
    assert_eq!(status, 0, "{out}");
    let ledger = done(&["emissions", arg(&case)]).out;
    assert!(began.elapsed() < Duration::from_secs(10), "{:?}", began.elapsed());
    // The one that comes back every three minutes leads.
    let first = ledger.lines().find(|line| line.starts_with("  1 ")).expect("a first row");
    assert!(first.contains("433.9200 MHz") && first.contains("9/20"), "{ledger}");
    // What was said once need not be said again: the same stick is known.
    assert_eq!(captures(&case), 1);
}

#[test]
fn a_mapping_that_is_typed_replaces_the_proposal() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let (case, log) = stick(place.path());
    let typed = "date=Date:%d.%m.%Y,time=Time,frequency=Frequency MHz:MHz,strength=Strength/20\n";
    let (status, out) = ask(&case, &log).answer(typed);
    assert_eq!(status, 0, "{out}");
    assert!(done(&["emissions", arg(&case)]).out.contains("boardroom 9/20"));
}

#[test]
fn no_and_the_end_of_input_and_nonsense_add_nothing() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let (case, log) = stick(place.path());
    // 4 is a terminal's end of input.
    for typed in ["n\n", "\u{4}", "time=Never/never\n", "y\n", "0\n"] {
        let (status, out) = ask(&case, &log).answer(typed);
        assert_eq!((status, out.as_str()), (2, ""), "{typed:?}");
    }
    assert_eq!(captures(&case), 0);
}

#[test]
fn an_interrupt_at_the_question_leaves_at_once() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let (case, log) = stick(place.path());
    let asked = ask(&case, &log);
    let pid = Pid::from_raw(i32::try_from(asked.child.id()).expect("a process id"));
    kill(pid, Signal::SIGINT).expect("sent");
    let (status, out) = asked.answer("");
    assert_eq!((status, out.as_str()), (130, ""));
    assert_eq!(captures(&case), 0);
}
