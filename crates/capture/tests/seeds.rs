//! The seeds of the fuzz targets are what this crate's own writers make, and hand-written tables.
//! With STILLROOM_BLESS=1 they are written anew.

#![allow(missing_docs)]

mod common;

use capture::write::{SigmfMeta, SigmfWriter, WavWriter};
use capture::zarr::ZarrWriter;
use capture::{Number, NumberKind};
use common::Folder;
use std::path::Path;
use units::{Iq, Utc};

const SAMPLES: [Iq; 4] =
    [Iq::new(0.0, 0.5), Iq::new(-0.5, 0.25), Iq::new(0.75, -1.0), Iq::new(0.125, 0.0)];

#[test]
fn seeds_are_what_the_writers_make() {
    let mut seeds: Vec<(&str, &str, Vec<u8>)> = Vec::new();
    let folder = Folder::new();
    let read = |path: &Path| std::fs::read(path).expect("what was written");
    let start = Utc::parse("2026-03-01T21:30:00.25Z").expect("a time");

    let number = Number::little(NumberKind::I16);
    let mut writer =
        SigmfWriter::create(folder.0.path(), "r", SigmfMeta::new(1e6, number)).expect("created");
    writer.segment(Some(433.92e6), Some(start));
    writer.push(&SAMPLES[..2]).expect("pushed");
    writer.segment(Some(868.3e6), None);
    writer.push(&SAMPLES[2..]).expect("pushed");
    let metadata = read(&writer.finish().expect("finished"));
    let mut archive = tar::Builder::new(Vec::new());
    for (name, bytes) in
        [("r.sigmf-meta", &metadata), ("r.sigmf-data", &read(&folder.path("r.sigmf-data")))]
    {
        let mut header = tar::Header::new_ustar();
        header.set_size(bytes.len() as u64);
        header.set_mode(0o644);
        archive.append_data(&mut header, name, bytes.as_slice()).expect("appended");
    }
    seeds.push(("sigmf_metadata", "written.json", metadata));
    seeds.push(("sigmf_archive", "written.tar", archive.into_inner().expect("a tar")));

    for (name, kind) in
        [("i16.wav", NumberKind::I16), ("i24.wav", NumberKind::I24), ("f32.wav", NumberKind::F32)]
    {
        let path = folder.path(name);
        let mut writer = WavWriter::iq(&path, kind, 48e3, Some(1e6), Some(start)).expect("created");
        writer.push_iq(&SAMPLES).expect("pushed");
        writer.finish().expect("finished");
        seeds.push(("wav", name, read(&path)));
    }
    for (format, name) in ["cu8", "ci8", "ci16", "cf32"].into_iter().enumerate() {
        let samples: Vec<u8> = SAMPLES.iter().flat_map(|x| x.re.to_le_bytes()).collect();
        seeds.push(("raw", name, [vec![format as u8], samples].concat()));
    }
    for (name, mapping, text) in [
        (
            "sweep",
            6,
            "Time (dBm),88.0 MHz,88.1 MHz\n2026-03-01T21:30:00Z,-90.5,nan\n2026-03-01T21:30:10Z,-90,-91\n",
        ),
        ("sweep-commas", 1, "Tag;Zeit;88,0;88,1\r\n01.03.2026;21:30;-90,5;\r\n"),
        (
            "segment",
            2,
            "2026-03-01, 21:30:00, 100, 120, 10, 7, -1, -2, -9\n2026-03-01, 21:30:00, 120, 140, 10, 7, -3, -4\n",
        ),
        ("point", 7, "time_us,frequency_hz,level_dbm\n5,100,-1\n5,200,-2\n7,100,-4\n"),
        ("point-placed", 3, "21:30,88.1,-50\n21:30,88.2,-51\n21:31,88.1,-52\n"),
    ] {
        seeds.push(("table_traces", name, [&[mapping], text.as_bytes()].concat()));
    }
    for (name, mapping, text) in [
        (
            "log",
            0,
            "Time,Band,Strength,Seconds\n2026-03-01 21:30,868-870 MHz (alarm),7,2\n2026-03-01 21:31,900,12,61\n",
        ),
        ("log-dates", 1, "01.03.2026 21:30;\"868,3 MHz\";7/12\n"),
        ("log-columns", 2, "2026-03-01,21:30:05.5,433.92,-61,1:30\n"),
        ("log-unix", 3, "t,f,l\n1388354774.954,868 MHz,-60 dBm\n"),
        ("readings", 133, "Desk,868.3,4,270,clicks,\"a \"\"b\"\"\"\n# note\nWindow,868.3,9,,,\n"),
        ("unmapped", 7, "Date;Heure;Bande;Force;Dauer\n13/03/2026;21:30;868-870 MHz;7;12\n"),
    ] {
        seeds.push(("table_events", name, [&[mapping], text.as_bytes()].concat()));
    }
    seeds.push((
        "mapping",
        "log",
        b"date=1:%d.%m.%Y,time=\"a, b\":%H:%M,strength=Bars/12,duration=4:s,note=\"3\"".to_vec(),
    ));
    seeds.push(("mapping", "sweep", b"shape=sweep,frequency=:MHz,level=:dBm".to_vec()));

    let at = folder.path("a");
    let writer = ZarrWriter::create(&at, &[4, 4], 0, &["time", "frequency"]).expect("created");
    writer.chunk(&[0, 0], &[7; 16]).expect("written");
    writer.finish(&[3, 4], serde_json::Map::new()).expect("finished");
    let zarr = [read(&at.join("zarr.json")), vec![0], read(&at.join("c/0/0"))].concat();
    seeds.push(("zarr", "written", zarr));

    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../fuzz/seeds");
    for (target, name, bytes) in &seeds {
        let path = root.join(target).join(name);
        if std::env::var_os("STILLROOM_BLESS").is_some() {
            std::fs::create_dir_all(root.join(target)).expect("a folder");
            std::fs::write(&path, bytes).expect("written");
        }
        let there = std::fs::read(&path).unwrap_or_default();
        assert_eq!(&there, bytes, "{}: run with STILLROOM_BLESS=1", path.display());
    }
}
