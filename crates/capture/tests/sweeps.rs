//! Every sweep file of the outside collection is read, or refused in words. Skipped, saying so,
//! where the collection is not there.

#![allow(missing_docs)]

use capture::{OpenOptions, Recording, open};
use std::path::{Path, PathBuf};
use units::Traces;

fn folder() -> Option<PathBuf> {
    let default = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/recordings");
    let folder = std::env::var_os("STILLROOM_RECORDINGS").map_or(default, PathBuf::from);
    let folder = folder.join("open/sweeps");
    if folder.is_dir() {
        return Some(folder);
    }
    println!("skipped: no recordings at {}", folder.display());
    None
}

#[test]
fn every_sweep_file_is_read_or_refused_in_words() {
    let Some(folder) = folder() else { return };
    let mut files: Vec<PathBuf> = std::fs::read_dir(&folder)
        .expect("a folder")
        .map(|e| e.expect("an entry").path())
        .collect();
    files.sort();
    for file in &files {
        let name = file.file_name().expect("a name").to_string_lossy().into_owned();
        match open(file, &OpenOptions::default()) {
            Ok(opened) => println!("{name}: {}", told(&opened)),
            Err(e) => {
                let words = e.to_string().replace(&*folder.to_string_lossy(), "");
                println!("{name}: REFUSED {words}");
                assert!(!e.is_disk());
                let proposal = capture::table::propose(file, &OpenOptions::default());
                let Ok(Some(proposal)) = proposal else { continue };
                let options =
                    OpenOptions { mapping: Some(proposal.mapping), ..OpenOptions::default() };
                match open(file, &options) {
                    Ok(opened) => println!("    as proposed: {}", told(&opened)),
                    Err(e) => println!(
                        "    as proposed: {}",
                        e.to_string().replace(&*folder.to_string_lossy(), "")
                    ),
                }
            }
        }
    }
}

fn told(opened: &capture::Opened) -> String {
    let Recording::Traces(traces) = &opened.recording else {
        return format!("{:?}", opened.format);
    };
    let mut traces = traces.reopen();
    let (mut n, mut points, mut low, mut high) = (0, 0, f64::INFINITY, 0f64);
    let unit = traces.unit();
    while let Some(trace) = traces.next_trace().expect("read before") {
        n += 1;
        points = points.max(trace.levels_db.len());
        assert_eq!(trace.levels_db.len(), trace.frequencies_hz.len());
        assert!(trace.frequencies_hz.windows(2).all(|w| w[0] < w[1]));
        low = low.min(trace.frequencies_hz[0]);
        high = high.max(*trace.frequencies_hz.last().expect("not empty"));
    }
    let codes: Vec<&str> = opened.warnings.iter().map(|w| w.code.as_str()).collect();
    format!(
        "{}, {n} sweeps of up to {points}, {:.4} to {:.4} MHz, {unit:?}, {:.3} s, start {:?}, {codes:?}",
        opened.format,
        low / 1e6,
        high / 1e6,
        opened.duration_s,
        opened.start.map(|s| s.to_string())
    )
}
