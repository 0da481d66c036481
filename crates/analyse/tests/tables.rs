//! Event logs and swept spectra, from file to document.

#![allow(missing_docs)]

mod common;

use analyse::{AnalyseOptions, Listening};
use capture::OpenOptions;
use capture::write::RowWriter;
use common::{analysed, document};
use simulate::{Scene, Simulation};
use std::path::{Path, PathBuf};
use units::Band;

fn options(columns: &str) -> AnalyseOptions {
    let mapping = Some(columns.parse().expect("a mapping"));
    AnalyseOptions {
        open: OpenOptions { mapping, ..OpenOptions::default() },
        ..AnalyseOptions::default()
    }
}

#[test]
fn every_event_of_a_log_belongs_to_a_row_of_its_band() {
    let folder = tempfile::tempdir().expect("a folder");
    let scene: Scene = toml::from_str(include_str!("../../../scenes/logs.toml")).expect("a scene");
    let walk = Simulation::new(&scene, 1).expect("sound").detector_log(0).expect("a walk");
    let path = folder.path().join("log.csv");
    let mut rows =
        RowWriter::create(&path, &["Time", "Band", "Strength", "Seconds"]).expect("begins");
    for row in &walk.rows {
        let band = format!("{}-{} MHz", row.low_hz / 1e6, row.high_hz / 1e6);
        let fields =
            [row.stamp.to_string(), band, row.strength.to_string(), row.duration_s.to_string()];
        rows.row(&fields).expect("written");
    }
    rows.finish().expect("written");
    let of = walk.rows[0].of;
    let bands = walk.bands.iter().map(|b| Band { low_hz: b.low_hz, high_hz: b.high_hz });
    let options = AnalyseOptions {
        listening: Listening {
            from: Some(walk.from),
            until: Some(walk.until),
            bands: bands.clone().collect(),
        },
        bursts: true,
        ..options(&format!("time=Time,band=Band,strength=Strength/{of},duration=Seconds:s"))
    };
    let one = analysed(&path, &options);
    let info = &one.analysis.recording;
    assert_eq!((info.format.as_str(), info.start), ("event-log", Some(walk.from)));
    assert!((info.duration_s - walk.until.seconds_since(walk.from)).abs() < 1e-6);
    assert_eq!(one.events.len(), walk.rows.len());
    for (event, row) in &one.events {
        let row = &one.analysis.emissions[row.expect("a row") as usize];
        let band = event.band.expect("a band");
        assert_eq!((row.emission.low_hz, row.emission.high_hz), (band.low_hz, band.high_hz));
        let e = &row.emission;
        assert!(e.level_dbfs.is_none() && e.level_dbm.is_none() && e.snr_db.is_none());
        assert!(e.bandwidth_hz.is_none() && row.strength.is_some(), "{row:?}");
    }
    let counted: u64 = one.analysis.emissions.iter().map(|r| r.emission.bursts.count).sum();
    assert_eq!(counted, walk.rows.len() as u64);
    assert_eq!(one.analysis.listened.len(), bands.count());
    let (_, read) = document(&[one]);
    assert_eq!(read.recordings[0].burst_list.as_ref().map(Vec::len), Some(walk.rows.len()));
}

/// A minute of sweeps from 430 to 440 MHz in steps of 25 kHz: noise of −100 dBm (the mean of ten
/// looks, so its sd is 10/√10/ln 10 = 1.4 dB), a line of −60 dBm in one step.
fn sweeps(folder: &Path) -> PathBuf {
    let path = folder.join("sweeps.csv");
    let steps: Vec<f64> = (0..=400).map(|k| 430.0 + 0.025 * f64::from(k)).collect();
    let mut header = vec!["time".to_owned()];
    header.extend(steps.iter().map(|mhz| format!("{mhz:.3}")));
    let header: Vec<&str> = header.iter().map(String::as_str).collect();
    let mut rows = RowWriter::create(&path, &header).expect("begins");
    let mut state = 7u64;
    // Knuth's MMIX generator; an exponential is a look's power.
    let mut uniform = || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    };
    for second in 0..60 {
        let mut row = vec![format!("2026-03-01T20:00:{second:02}Z")];
        for mhz in &steps {
            let power: f64 = (0..10).map(|_| -uniform().ln()).sum::<f64>() / 10.0;
            let line = if (mhz - 433.925f64).abs() < 0.001 { 1e4 } else { 0.0 };
            row.push(format!("{:.2}", -100.0 + 10.0 * (power + line).log10()));
        }
        rows.row(&row).expect("written");
    }
    rows.finish().expect("written")
}

#[test]
fn a_line_in_sweeps_is_a_row_in_dbm_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = sweeps(folder.path());
    let options = options("shape=sweep,time=time,frequency=:MHz,level=:dBm");
    let one = analysed(&path, &options);
    let rows = &one.analysis.emissions;
    assert_eq!(rows.len(), 1, "{rows:?}");
    let e = &rows[0].emission;
    assert!((e.centre_hz - 433.925e6).abs() < 12.5e3, "{e:?}");
    assert!((e.level_dbm.expect("dBm").0 + 60.0).abs() < 1.0, "{e:?}");
    assert!(e.level_dbfs.is_none() && e.bursts.on_fraction > 0.95, "{e:?}");
    let info = &one.analysis.recording;
    assert_eq!(info.start.map(|t| t.to_string()).as_deref(), Some("2026-03-01T20:00:00Z"));
    assert!(info.samples == 0 && info.sample_rate_hz.is_none(), "{info:?}");
    let part = AnalyseOptions { range_s: Some((20.0, 40.0)), ..options };
    let part = analysed(&path, &part);
    assert_eq!(part.analysis.emissions.len(), 1);
    let info = &part.analysis.recording;
    assert_eq!(info.start.map(|t| t.to_string()).as_deref(), Some("2026-03-01T20:00:20Z"));
    assert!((info.duration_s - 20.0).abs() < 1.01, "{info:?}");
    document(&[one, part]);
}
