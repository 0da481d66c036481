//! Every sweep file of the outside collection is read, or refused in words. Skipped, saying so,
//! where the collection is not there.

#![allow(missing_docs)]

use capture::table::propose;
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

/// How many stamps the collection's index counted in a file, where it says so.
fn stamps(folder: &Path, name: &str) -> Option<usize> {
    let mut index = csv::Reader::from_path(folder.join("../../index.csv")).ok()?;
    let row = index.records().find_map(|row| row.ok().filter(|row| row[1].ends_with(name)))?;
    let words: Vec<&str> = row.iter().flat_map(str::split_whitespace).collect();
    let at = words.windows(2).position(|w| w[0] == "time" && w[1].starts_with("stamps"))?;
    words.get(at.checked_sub(1)?)?.parse().ok()
}

#[test]
fn every_sweep_file_is_read_or_refused_in_words() {
    let Some(folder) = folder() else { return };
    let entries = std::fs::read_dir(&folder).expect("a folder");
    let mut files: Vec<PathBuf> = entries.map(|e| e.expect("an entry").path()).collect();
    files.sort();
    let plain = |e: capture::CaptureError| {
        assert!(!e.is_disk(), "{e}");
        e.to_string().replace(&*folder.to_string_lossy(), "")
    };
    let (mut as_it_is, mut as_proposed, mut refused) = (0, 0, 0);
    for file in &files {
        let name = file.file_name().expect("a name").to_string_lossy().into_owned();
        let mut read = open(file, &OpenOptions::default());
        let mut how = "as it is";
        if let Err(e) = read {
            println!("{name}: {}", plain(e));
            let Ok(Some(proposal)) = propose(file, &OpenOptions::default()) else {
                // Binary dumps and another program's JSON: no tables.
                assert!(!name.ends_with(".csv"), "{name}");
                refused += 1;
                continue;
            };
            let mapping = Some(proposal.mapping);
            read = open(file, &OpenOptions { mapping, ..OpenOptions::default() });
            how = "as proposed";
        }
        match read {
            Ok(opened) => {
                let (sweeps, told) = told(&opened);
                println!("{name} {how}: {told}");
                if let Some(stamps) = stamps(&folder, &name) {
                    // Wi-Fi channels that adjoin make one sweep of two stamps.
                    let adjoin = name.starts_with("swp-ar9");
                    assert!(
                        sweeps == stamps || (adjoin && sweeps <= stamps),
                        "{name}: {stamps} stamps"
                    );
                }
                if how == "as it is" { as_it_is += 1 } else { as_proposed += 1 }
            }
            Err(e) => {
                println!("{name} {how}: {}", plain(e));
                // Its rows are not in order of frequency.
                assert_eq!(name, "swp-decimal-comma__sweep.csv");
                refused += 1;
            }
        }
    }
    println!("{as_it_is} read as they are, {as_proposed} as proposed, {refused} refused");
    assert!(as_it_is >= 6 && as_proposed >= 8);
}

fn told(opened: &capture::Opened) -> (usize, String) {
    let Recording::Traces(traces) = &opened.recording else { panic!("{}", opened.format) };
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
    let told = format!(
        "{}, {n} sweeps of up to {points}, {:.4} to {:.4} MHz, {unit:?}, {:.3} s, start {:?}, {codes:?}",
        opened.format,
        low / 1e6,
        high / 1e6,
        opened.duration_s,
        opened.start.map(|s| s.to_string())
    );
    (n, told)
}
