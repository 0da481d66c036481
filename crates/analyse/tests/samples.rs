//! Recordings of samples, from file to document.

#![allow(clippy::disallowed_methods, reason = "it looks at the files that were written")]
#![allow(missing_docs)]

mod common;

use analyse::{AnalyseError, AnalyseOptions, Analysed, Quiet, Region, analyse};
use capture::zarr::ZarrReader;
use capture::{OpenOptions, RawFormat};
use common::{SCENE, analysed, document, sigmf, simulated, wav};
use std::path::Path;
use units::Dbm;

/// The row nearest a frequency.
fn nearest(one: &Analysed, hz: f64) -> &analyse::EmissionRow {
    let off = |row: &&analyse::EmissionRow| (row.emission.centre_hz - hz).abs();
    let rows = &one.analysis.emissions;
    rows.iter().min_by(|a, b| off(a).total_cmp(&off(b))).expect("a row")
}

#[test]
fn a_simulated_recording_becomes_the_document() {
    let folder = tempfile::tempdir().expect("a folder");
    let (simulation, samples) = simulated(SCENE);
    let path = sigmf(&simulation, &samples, folder.path());
    let overview = folder.path().join("overview.zarr");
    let options = AnalyseOptions {
        region: Region::Cept,
        full_scale: Some(Dbm(-40.0)),
        bursts: true,
        overview: Some(overview.clone()),
        ..AnalyseOptions::default()
    };
    let one = analysed(&path, &options);
    let truth = simulation.truth();
    for (emitter, heard) in truth.emitters.iter().zip(&truth.visits[0].emitters) {
        let row = nearest(&one, emitter.centre_hz);
        let off = (row.emission.centre_hz - emitter.centre_hz).abs();
        assert!(off < 0.25 * emitter.bandwidth_hz.max(1000.0), "{}: {row:?}", emitter.name);
        let level = row.emission.level_dbfs.expect("samples have dBFS").0;
        assert!((level - heard.level_dbfs).abs() < 2.0, "{}: {level}", emitter.name);
        // The chain's calibration: 0 dBFS is -40 dBm.
        let dbm = row.emission.level_dbm.expect("calibrated").0;
        assert!((dbm - (level - 40.0)).abs() < 0.011, "{dbm} {level}");
        // ERC Recommendation 70-03, annex 1: 433.05 to 434.79 MHz.
        assert!(row.emission.allocations.iter().any(|a| a.low_hz == 433.05e6), "{row:?}");
    }
    let (text, read) = document(std::slice::from_ref(&one));
    assert_eq!(read.schema, "stillroom.analysis/1");
    let recording = &read.recordings[0];
    let info = &recording.recording;
    assert_eq!(info.path, path.display().to_string());
    assert_eq!((info.samples, info.sample_rate_hz), (2_000_000, Some(1e6)));
    assert_eq!(info.start.as_deref(), Some("2026-03-01T20:00:00Z"));
    assert!(info.format.starts_with("sigmf"), "{}", info.format);
    let data = folder.path().join("recording.sigmf-data");
    assert_eq!(info.sha256, capture::sha256_file(&data).expect("hashed"));
    let centres: Vec<f64> = recording.emissions.iter().map(|row| row.centre_hz).collect();
    assert!(centres.is_sorted(), "{centres:?}");
    let ids: Vec<&str> = recording.emissions.iter().map(|row| row.id.as_str()).collect();
    let expected: Vec<String> = (1..=ids.len()).map(|k| format!("R{k}")).collect();
    assert_eq!(ids, expected);
    // As the last key, every burst of the keyed emitter: four of them (one every half second).
    assert!(text.ends_with("}]}]}"), "{}", &text[text.len() - 80..]);
    let keyed = nearest(&one, truth.emitters[2].centre_hz);
    let bursts = recording.burst_list.as_ref().expect("asked for");
    let own: Vec<_> = bursts.iter().filter(|b| b.emission == keyed.id).collect();
    assert_eq!((own.len() as u64, keyed.emission.bursts.count), (4, 4), "{own:?}");
    for (burst, truth) in own.iter().zip(&truth.visits[0].emitters[2].bursts) {
        assert!((burst.start_s - truth.start_s).abs() < 0.005, "{burst:?} {truth:?}");
        assert!((burst.stop_s - truth.stop_s).abs() < 0.005, "{burst:?} {truth:?}");
    }
    check_overview(&overview, &data, 433.92e6 - 0.5e6, 434.2e6);
}

/// At most 2 % of the evidence, and the carrier is the strongest column.
fn check_overview(folder: &Path, data: &Path, low_hz: f64, carrier_hz: f64) {
    let bytes = |path: &Path| std::fs::metadata(path).expect("a file").len();
    let mut all = 0;
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in std::fs::read_dir(next).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() { folders.push(path) } else { all += bytes(&path) }
        }
    }
    assert!(all * 50 <= bytes(data), "{all} bytes of {}", bytes(data));
    let mean = ZarrReader::open(&folder.join("mean")).expect("an array");
    let shape = mean.description().shape.clone();
    let (rows, cells) = (shape[0] as usize, shape[1] as usize);
    assert!(rows > 0 && cells >= 256, "{shape:?}");
    let chunk = mean.read(&[0, 0], &[1, cells as u64]).expect("read");
    let row = &chunk[..cells];
    let loudest = (0..cells).max_by_key(|c| row[*c]).expect("a cell");
    let hz = low_hz + (loudest as f64 + 0.5) * 1e6 / cells as f64;
    assert!((hz - carrier_hz).abs() <= 2e6 / cells as f64, "{hz}");
}

#[test]
fn the_same_samples_as_wav_or_raw_give_the_same_rows() {
    let folder = tempfile::tempdir().expect("a folder");
    let (simulation, samples) = simulated(SCENE);
    let samples = &samples[..1_000_000];
    let meta = {
        let mut short = simulation.visits()[0].clone();
        short.segments[0].samples = samples.len() as u64;
        let plan = &short;
        let number = capture::Number::little(capture::NumberKind::I16);
        let meta = capture::write::SigmfMeta::new(plan.sample_rate_hz, number);
        let mut writer =
            capture::write::SigmfWriter::create(folder.path(), "recording", meta).expect("begins");
        writer.segment(Some(plan.segments[0].centre_hz), Some(plan.segments[0].start));
        writer.push(samples).expect("written");
        writer.finish().expect("written")
    };
    let of_sigmf = analysed(&meta, &AnalyseOptions::default());
    let of_wav = analysed(&wav(&simulation, samples, folder.path()), &AnalyseOptions::default());
    let raw = AnalyseOptions {
        open: OpenOptions {
            format: Some(RawFormat::Ci16Le),
            rate_hz: Some(1e6),
            ..OpenOptions::default()
        },
        ..AnalyseOptions::default()
    };
    let of_raw = analysed(&folder.path().join("recording.sigmf-data"), &raw);
    assert!(!of_sigmf.analysis.emissions.is_empty());
    assert_eq!(of_sigmf.analysis.emissions, of_wav.analysis.emissions);
    // Nobody states the raw file's centre: offsets, no allocations, and a warning.
    let warnings: Vec<&str> = of_raw.analysis.warnings.iter().map(|w| w.code.as_str()).collect();
    assert!(warnings.contains(&"centre_unknown"), "{warnings:?}");
    assert_eq!(of_raw.analysis.emissions.len(), of_sigmf.analysis.emissions.len());
    for (raw, sigmf) in of_raw.analysis.emissions.iter().zip(&of_sigmf.analysis.emissions) {
        let off = raw.emission.centre_hz - (sigmf.emission.centre_hz - 433.92e6);
        assert!(off.abs() <= 0.011, "{off}");
        assert!(raw.emission.allocations.is_empty());
    }
    document(&[of_sigmf, of_wav, of_raw]);
}

#[test]
fn a_part_is_analysed_as_if_it_were_the_whole() {
    let folder = tempfile::tempdir().expect("a folder");
    let (simulation, samples) = simulated(SCENE);
    let path = sigmf(&simulation, &samples, folder.path());
    let part = AnalyseOptions { range_s: Some((0.55, 1.05)), ..AnalyseOptions::default() };
    let one = analysed(&path, &part);
    let info = &one.analysis.recording;
    assert_eq!(info.samples, 500_000);
    assert!((info.duration_s - 0.5).abs() < 1e-9, "{}", info.duration_s);
    assert_eq!(info.start.map(|at| at.to_string()).as_deref(), Some("2026-03-01T20:00:00.55Z"));
    // The keyed emitter is on from 0.6 to 0.7 s: in this part from 0.05 to 0.15 s.
    let keyed = nearest(&one, 434.05e6);
    assert!(
        (keyed.first_s - 0.05).abs() < 0.005 && (keyed.last_s - 0.15).abs() < 0.005,
        "{keyed:?}"
    );
    let beyond = AnalyseOptions { range_s: Some((5.0, 6.0)), ..AnalyseOptions::default() };
    let nothing = analysed(&path, &beyond);
    assert!(nothing.analysis.emissions.is_empty() && nothing.analysis.recording.samples == 0);
    document(&[one, nothing]);
}

#[test]
fn sound_is_refused_in_words_and_stopping_stops() {
    let folder = tempfile::tempdir().expect("a folder");
    let (simulation, samples) = simulated(SCENE);
    let path = wav(&simulation, &samples[..100_000], folder.path());
    let sound = AnalyseOptions {
        open: OpenOptions { treat_as: Some(capture::TreatAs::Sound), ..OpenOptions::default() },
        ..AnalyseOptions::default()
    };
    let refused = analyse(&path, &sound, &Quiet).expect_err("sound");
    assert!(refused.to_string().contains("sound") && !refused.is_disk(), "{refused}");
    struct Stop;
    impl analyse::Progress for Stop {
        fn step(&self, _: u64, _: u64, _: &str) {}
        fn cancelled(&self) -> bool {
            true
        }
    }
    let stopped = analyse(&path, &AnalyseOptions::default(), &Stop).expect_err("stopped");
    assert!(matches!(stopped, AnalyseError::Cancelled), "{stopped}");
}
