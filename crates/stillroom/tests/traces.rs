//! Swept spectra as CSV, in their three shapes, through the whole survey: the same sweeps give the
//! same row, with the level that was written, and it can be decided and verified.

#![allow(missing_docs)]

mod support;

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use support::{Noise, arg, done, wire};

const POINTS: usize = 200;
const LOW_HZ: usize = 433_000_000;
const STEP_HZ: usize = 10_000;
/// The one carrier stands at this point, 433.92 MHz.
const CARRIER: usize = 92;
const SWEEPS: u64 = 30;
const SWEEP_S: u64 = 10;

/// Sweeps and the hour at which they begin, as the text of a table.
type Shape = fn(&[Vec<f64>], u64) -> String;

/// Sweeps of noise about -100 dBm with a carrier of exactly this level.
fn sweeps(carrier_dbm: f64, seed: u64) -> Vec<Vec<f64>> {
    let mut noise = Noise(seed);
    let mut sweep = || {
        let mut levels: Vec<f64> = (0..POINTS).map(|_| -100.0 + noise.pair().0).collect();
        levels[CARRIER] = carrier_dbm;
        levels
    };
    (0..SWEEPS).map(|_| sweep()).collect()
}

fn clock(hour: u64, sweep: usize) -> String {
    let s = sweep as u64 * SWEEP_S;
    format!("{hour:02}:{:02}:{:02}", s / 60, s % 60)
}

fn joined(levels: &[f64]) -> String {
    levels.iter().map(|level| format!("{level:.1}")).collect::<Vec<_>>().join(",")
}

/// Time, then the levels at the header's frequencies; a comment names their unit.
fn as_sweep(sweeps: &[Vec<f64>], hour: u64) -> String {
    let header = (0..POINTS).map(|i| format!("{} Hz", LOW_HZ + i * STEP_HZ));
    let header = header.collect::<Vec<_>>().join(",");
    let mut text = format!("# levels in dBm\ntime,{header}\n");
    for (i, levels) in sweeps.iter().enumerate() {
        let _ = writeln!(text, "2026-03-01T{}Z,{}", clock(hour, i), joined(levels));
    }
    text
}

/// Date, time, low, high, step, count, levels: each sweep in two rows.
fn as_segment(sweeps: &[Vec<f64>], hour: u64) -> String {
    let mut text = "date,time,low (Hz),high (Hz),step (Hz),count,level (dBm)\n".to_owned();
    for (i, levels) in sweeps.iter().enumerate() {
        for (half, levels) in levels.chunks(POINTS / 2).enumerate() {
            let low = LOW_HZ + half * levels.len() * STEP_HZ;
            let high = low + levels.len() * STEP_HZ;
            let (clock, levels) = (clock(hour, i), joined(levels));
            let _ = writeln!(text, "2026-03-01,{clock},{low},{high},{STEP_HZ},20,{levels}");
        }
    }
    text
}

/// Time, frequency, level, with semicolons and decimal commas.
fn as_point(sweeps: &[Vec<f64>], hour: u64) -> String {
    let mut text = "time;frequency_mhz;level_dbm\n".to_owned();
    for (i, levels) in sweeps.iter().enumerate() {
        for (k, level) in levels.iter().enumerate() {
            let mhz = (LOW_HZ + k * STEP_HZ) as f64 / 1e6;
            let numbers = format!("{mhz:.2};{level:.1}").replace('.', ",");
            let _ = writeln!(text, "2026-03-01T{}Z;{numbers}", clock(hour, i));
        }
    }
    text
}

fn ledger(case: &Path) -> wire::Ledger {
    let json = done(&["emissions", arg(case), "--json"]).out;
    serde_json::from_str(&json).expect("the contract")
}

/// A yard where it is weak and an office where it is strong, recorded in one shape.
fn survey(place: &Path, shape: &str, text: Shape) -> PathBuf {
    let case = place.join(shape);
    done(&["new", arg(&case), "--region", "CEPT", "--time-zone", "UTC", "--by", "a test"]);
    let visits = [("yard", "reference", -80.0, 18), ("office", "room", -40.0, 20)];
    for (at, role, carrier_dbm, hour) in visits {
        let file = place.join(format!("{at}-{shape}.csv"));
        std::fs::write(&file, text(&sweeps(carrier_dbm, hour), hour)).expect("written");
        // They name their units, so nothing is asked.
        done(&["add", arg(&case), arg(&file), "--role", role, "--at", at, "--chain", "swept"]);
    }
    case
}

#[test]
fn the_three_shapes_of_traces_become_rows_that_are_decided_and_verified() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let shapes: [(&str, Shape); 3] =
        [("sweep", as_sweep), ("segment", as_segment), ("point", as_point)];
    for (shape, text) in shapes {
        let case = survey(place.path(), shape, text);
        let found = ledger(&case);
        assert_eq!(found.emissions.len(), 1, "{shape}");
        assert!(found.captures.iter().all(|capture| capture.kind == "traces"), "{shape}");
        let row = &found.emissions[0];
        let carrier_hz = (LOW_HZ + CARRIER * STEP_HZ) as f64;
        assert!(
            (row.centre_hz - carrier_hz).abs() < STEP_HZ as f64 / 2.0,
            "{shape} {}",
            row.centre_hz
        );
        // The levels that were written, at each place; 40 dB between them.
        let heard = |at: &str| {
            let position = found.positions.iter().find(|p| p.name == at).expect("it");
            let reception =
                row.receptions.iter().find(|r| r.position.as_ref() == Some(&position.id));
            let reception = reception.expect("a reception there");
            assert!(reception.heard && reception.level_dbfs.is_none(), "{shape} {at}");
            reception.level_dbm.expect("a level")
        };
        assert!((heard("yard") + 80.0).abs() < 0.2, "{shape} {}", heard("yard"));
        assert!((heard("office") + 40.0).abs() < 0.2, "{shape} {}", heard("office"));
        let excess = row.origin.excess_db.expect("an excess");
        assert!((excess - 40.0).abs() < 0.5, "{shape} {excess}");
        assert!(row.origin.p_inside.expect("a probability") > 0.8, "{shape}");
        assert_eq!(row.first.as_deref(), Some("2026-03-01T18:00:00Z"), "{shape}");
        let decide =
            ["decide", arg(&case), &row.id, "--as", "suspect", "--reason", "in the office"];
        done(&decide);
        assert_eq!(ledger(&case).emissions[0].decision.state, "suspect", "{shape}");
        done(&["verify", arg(&case)]);
    }
}
