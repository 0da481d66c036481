//! What can be typed, seen from outside: help of every command, refusals in words, status 2.

use assert_cmd::Command;

fn stillroom() -> Command {
    let mut command = Command::cargo_bin("stillroom").expect("the program is built");
    command.env_remove("STILLROOM_BY");
    command
}

fn output(args: &[&str]) -> (i32, String, String) {
    let output = stillroom().args(args).output().expect("it starts");
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("UTF-8");
    (output.status.code().expect("a status"), text(&output.stdout), text(&output.stderr))
}

/// The commands of this version.
const COMMANDS: [&str; 17] = [
    "demo",
    "simulate",
    "new",
    "describe",
    "add",
    "amend",
    "note",
    "analyse",
    "emissions",
    "decide",
    "join",
    "split",
    "undo",
    "reanalyse",
    "report",
    "serve",
    "verify",
];

#[test]
fn every_command_has_help_with_an_example() {
    let (status, text, _) = output(&["--help"]);
    assert_eq!(status, 0);
    for command in COMMANDS {
        assert!(text.contains(&format!("  {command}")), "{command} is not listed:\n{text}");
        let (status, help, _) = output(&[command, "--help"]);
        assert_eq!(status, 0, "{command}");
        let example = help.lines().any(|l| l.trim().starts_with(&format!("stillroom {command}")));
        assert!(help.contains("Example") && example, "{command}:\n{help}");
        let wide = help.lines().find(|l| l.chars().count() > 100);
        assert_eq!(wide, None, "{command}");
    }
}

#[test]
fn commands_that_print_a_result_take_json() {
    for command in COMMANDS {
        let (_, help, _) = output(&[command, "--help"]);
        assert!(help.contains("--json"), "{command}");
    }
}

#[test]
fn commands_that_write_take_by() {
    let writers =
        ["new", "describe", "add", "amend", "note", "decide", "join", "split", "undo", "reanalyse"];
    for command in writers {
        let (_, help, _) = output(&[command, "--help"]);
        assert!(help.contains("--by") && help.contains("STILLROOM_BY"), "{command}");
    }
}

#[test]
fn bad_use_is_status_2_and_says_what() {
    for (args, words) in [
        (&["frobnicate"][..], "frobnicate"),
        (&[], "Usage"),
        (&["analyse"], "FILE"),
        (&["analyse", "x", "--rate", "fast"], "433920000"),
        (&["analyse", "x", "--rate", "-3"], "above zero"),
        (&["analyse", "x", "--centre", "12 volts"], "frequency"),
        (&["analyse", "x", "--region", "EUROPE"], "CEPT"),
        (&["analyse", "x", "--format", "cu9"], "ci16_le"),
        (&["add", "s", "f", "--role", "roof"], "reference"),
        (&["add", "s", "f", "--role", "room", "--bands", "900"], "LOW-HIGH"),
        (&["add", "s", "f", "--role", "room", "--map", "a", "--columns", "b"], "cannot be used"),
        (&["decide", "s", "E1", "--as", "accounted", "--reason", "x"], "--ground"),
        (&["decide", "s", "E1", "--as", "guilty", "--reason", "x"], "suspect"),
        (&["decide", "s", "E1", "--as", "suspect"], "--reason"),
        (&["note", "s"], "--remark"),
        (&["note", "s", "--strength", "13/12"], "steps"),
        (&["note", "s", "--level", "-61"], "dBm"),
        (&["join", "s", "E1"], "2"),
        (&["join", "s", "E1", "E2"], "--reason"),
        (&["split", "s", "E1", "C2"], "--reason"),
        (&["amend", "s", "C1", "--restore", "--set-aside", "x"], "cannot be used"),
    ] {
        let (status, out, err) = output(args);
        assert_eq!(status, 2, "{args:?}: {err}");
        assert!(out.is_empty(), "{args:?} printed on standard output: {out}");
        assert!(err.contains(words), "{args:?}: {err}");
    }
}
