//! Every recording of the outside collection opens, or is refused in words. Skipped, saying so,
//! where the collection is not there.

#![allow(missing_docs)]

use capture::{OpenOptions, Opened, RawFormat, Recording, TreatAs, open};
use std::path::{Path, PathBuf};
use units::{Iq, Samples};

fn folder() -> Option<PathBuf> {
    let default = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/recordings");
    let folder = std::env::var_os("STILLROOM_RECORDINGS").map_or(default, PathBuf::from);
    if folder.join("index.csv").is_file() {
        return Some(folder);
    }
    println!("skipped: no recordings at {}", folder.display());
    None
}

struct Row {
    id: String,
    path: String,
    format: String,
    rate_hz: Option<f64>,
    centre_hz: Option<f64>,
    duration_s: Option<f64>,
    sha256: String,
}

fn rows(folder: &Path) -> Vec<Row> {
    let mut reader = csv::Reader::from_path(folder.join("index.csv")).expect("index.csv");
    let header = reader.headers().expect("a header").clone();
    let column = |name: &str| header.iter().position(|h| h == name).expect("column");
    let names = ["id", "path", "format", "sample_rate_hz", "centre_hz", "duration_s", "sha256"];
    let [id, path, format, rate, centre, duration, sha256] = names.map(column);
    let row = |r: Result<csv::StringRecord, csv::Error>| {
        let r = r.expect("a row");
        Row {
            id: r[id].into(),
            path: r[path].into(),
            format: r[format].into(),
            rate_hz: r[rate].parse().ok(),
            centre_hz: r[centre].parse().ok(),
            duration_s: r[duration].parse().ok(),
            sha256: r[sha256].into(),
        }
    };
    reader.records().map(row).collect()
}

fn options(row: &Row) -> OpenOptions {
    let format: Option<RawFormat> = row.format.parse().ok();
    let treat_as = (row.format == "wav").then_some(TreatAs::Sound);
    match format {
        Some(_) => OpenOptions {
            format,
            rate_hz: row.rate_hz,
            centre_hz: row.centre_hz,
            ..OpenOptions::default()
        },
        None => OpenOptions { treat_as, ..OpenOptions::default() },
    }
}

/// Reads everything once; the largest magnitude of a rail.
fn read_all(opened: &Opened) -> f32 {
    let mut peak = 0f32;
    match &opened.recording {
        Recording::Iq(iq) => {
            let mut block = vec![Iq::default(); 65_536];
            let mut at = 0;
            while at < iq.len() {
                let n = (iq.len() - at).min(block.len() as u64) as usize;
                iq.read(at, &mut block[..n]).expect("samples");
                peak = block[..n].iter().fold(peak, |p, x| p.max(x.re.abs()).max(x.im.abs()));
                at += n as u64;
            }
        }
        Recording::Sound(sound) => {
            let mut all = vec![0.0; sound.len() as usize * usize::from(sound.channels())];
            sound.read(0, &mut all).expect("sound");
            peak = all.iter().fold(peak, |p, x| p.max(x.abs()));
        }
        _ => {}
    }
    peak
}

#[test]
fn every_recording_opens_or_is_refused_in_words() {
    let Some(folder) = folder() else { return };
    let (mut read, mut refused) = (0, 0);
    for row in rows(&folder) {
        let path = folder.join(&row.path);
        let iq = row.format.parse::<RawFormat>().is_ok()
            || ["sigmf", "wav", "wav_iq"].contains(&row.format.as_str());
        match open(&path, &options(&row)) {
            Ok(opened) => {
                read += 1;
                let peak = read_all(&opened);
                assert!(peak > 0.0 || row.format.starts_with("csv"), "{} is all zero", row.id);
                if let (Some(duration_s), true) = (row.duration_s, iq) {
                    // Two headers are known to state a wrong rate; then the duration differs.
                    let wrong_rate = ["air-vdl2", "ism-x10rf-wide"].contains(&row.id.as_str());
                    let close = (opened.duration_s - duration_s).abs() <= 2e-3 * duration_s + 1e-4;
                    assert!(
                        close || wrong_rate,
                        "{}: {} s, index says {duration_s}",
                        row.id,
                        opened.duration_s
                    );
                }
                assert!(
                    !iq || capture::sha256_file(&opened.data_file).expect("hash") == row.sha256
                );
                for warning in &opened.warnings {
                    println!("{}: {} ({})", row.id, warning.text, warning.code);
                }
            }
            Err(e) => {
                refused += 1;
                println!("{}: {}", row.id, e.to_string().replace(&*folder.to_string_lossy(), ""));
                assert!(!iq, "{} is refused: {e}", row.id);
                assert!(!e.is_disk(), "{e}");
            }
        }
    }
    println!("{read} read, {refused} refused");
    assert!(read > 130);
}
