//! `analyse` from outside: the table, the document, refusals.

#![allow(missing_docs)]

mod support;

use support::{Tone, arg, done, fits, run, tone, wire};

#[test]
fn the_table_names_what_is_there_on_100_columns() {
    let folder = tempfile::tempdir().expect("a folder");
    let burst = Tone { offset_hz: -40e3, dbfs: -50.0, on_s: (0.4, 0.6) };
    let tones = [tone(30e3, -30.0), burst];
    let path = support::sigmf(folder.path(), "yard", "2026-03-01T20:00:00Z", 1.0, &tones, 1);
    let ran = done(&["analyse", arg(&path), "--region", "cept"]);
    let rows: Vec<&str> = ran.out.lines().filter(|line| line.starts_with('R')).collect();
    assert_eq!(rows.len(), 2, "{}", ran.out);
    assert!(rows[0].contains("433.8800 MHz") && rows[1].contains("433.9500 MHz"), "{}", ran.out);
    assert!(rows[0].contains("burst") && rows[1].contains("steady"), "{}", ran.out);
    let table: String = ran.out.lines().skip(1).map(|line| format!("{line}\n")).collect();
    fits(&table);
}

#[test]
fn the_document_holds_each_recording_once_and_bursts_when_asked() {
    let folder = tempfile::tempdir().expect("a folder");
    let tones = [tone(30e3, -30.0)];
    let a = support::sigmf(folder.path(), "a", "2026-03-01T20:00:00Z", 0.5, &tones, 1);
    let b = support::sigmf(folder.path(), "b", "2026-03-01T21:00:00Z", 0.5, &tones, 2);
    let data = folder.path().join("a.sigmf-data");
    let ran = done(&["analyse", arg(&a), arg(&data), arg(&b), "--json", "--bursts"]);
    let read: wire::Analysis = serde_json::from_str(&ran.out).expect("the contract");
    let paths: Vec<&str> = read.recordings.iter().map(|r| r.recording.path.as_str()).collect();
    assert_eq!(paths, [arg(&a), arg(&b)]);
    for recording in &read.recordings {
        assert_eq!(recording.emissions.len(), 1);
        assert_eq!(recording.burst_list.as_ref().map(Vec::len), Some(1));
        let keys: Vec<&str> = recording.emissions[0].measured.keys().map(String::as_str).collect();
        assert_eq!(keys, wire::MEASURED);
    }
    let plain = done(&["analyse", arg(&a), "--json", "--centre", "100MHz"]);
    assert!(!plain.out.contains("burst_list"));
    let read: wire::Analysis = serde_json::from_str(&plain.out).expect("the contract");
    assert!((read.recordings[0].emissions[0].centre_hz - 100.03e6).abs() < 500.0);
    assert!(read.recordings[0].warnings.iter().any(|w| w.code == "centre_overridden"));
}

/// 100 s at 2 kHz: a carrier 31 dB under the noise of the band, and 2 dB over that of one hertz.
#[test]
fn the_deep_search_adds_up_what_no_block_shows() {
    let folder = tempfile::tempdir().expect("a folder");
    let slowed = support::RATE / 2000.0;
    let path = support::raw(
        folder.path(),
        "slow.ci16",
        2e5 / support::RATE,
        &[tone(251.3 * slowed, -91.0)],
    );
    let plain =
        ["analyse", arg(&path), "--format", "ci16_le", "--rate", "2000", "--centre", "100MHz"];
    assert!(!done(&plain).out.contains("R1"));
    let ran = done(&[&plain[..], &["--deep"]].concat());
    assert!(ran.out.contains("R1") && ran.out.contains("100.0003 MHz"), "{}", ran.out);
    assert!(ran.out.contains("R1 was found by the deep search alone"), "{}", ran.out);
    fits(&ran.out);
    let json = done(&[&plain[..], &["--deep", "--json"]].concat());
    let read: wire::Analysis = serde_json::from_str(&json.out).expect("the contract");
    let row = &read.recordings[0].emissions[0];
    assert!((row.centre_hz - 100_000_251.3).abs() < 0.1, "{row:?}");
    let why = read.recordings[0].warnings.iter().find(|w| w.code == "deep_carrier");
    let why = why.expect("a reason that names the row");
    assert_eq!(why.values["emission"], "R1");
    assert!(why.values["false_alarm"].as_f64().expect("a number") < 0.005, "{why:?}");
}

#[test]
fn what_is_no_recording_is_refused_in_words() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("picture.png");
    std::fs::write(&path, b"\x89PNG\r\n\x1a\n0000").expect("written");
    let ran = run(&["analyse", arg(&path), "--json"]);
    assert_eq!((ran.status, ran.out.as_str()), (2, ""));
    assert!(ran.err.contains("picture"), "{}", ran.err);
    let ran = run(&["analyse", arg(&folder.path().join("nothing.wav"))]);
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("no such file"), "{}", ran.err);
}
