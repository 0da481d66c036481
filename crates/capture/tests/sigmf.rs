//! SigMF as the specification (version 1.2) has it: its examples, every complex datatype with its
//! bytes spelled out, segments, non-conforming data, archives, collections.

#![allow(missing_docs)]

mod common;

use capture::{OpenOptions, open, parts};
use common::{Folder, codes, iq, samples};
use units::{Iq, Samples, Utc};

fn at(text: &str) -> Utc {
    Utc::parse(text).expect("a time")
}

/// The minimal example of the specification's repository.
#[test]
fn minimal_example() {
    let folder = Folder::new();
    let metadata = r#"{
        "global": {
            "core:datatype": "cf32_le",
            "core:sample_rate": 1000000,
            "core:hw": "PlutoSDR with 915 MHz whip antenna",
            "core:author": "Art Vandelay",
            "core:version": "1.0.0"
        },
        "captures": [{"core:sample_start": 0, "core:frequency": 915000000}],
        "annotations": []
    }"#;
    // 0.5 and -2, 1 and 0 as IEEE 754 binary32.
    let data = [0, 0, 0, 0x3f, 0, 0, 0, 0xc0, 0, 0, 0x80, 0x3f, 0, 0, 0, 0];
    let path = folder.sigmf("example", metadata, &data);
    for name in [path.clone(), folder.path("example.sigmf-data")] {
        let opened = open(&name, &OpenOptions::default()).expect("opens");
        assert_eq!(samples(&opened), [Iq::new(0.5, -2.0), Iq::new(1.0, 0.0)]);
        assert_eq!(iq(&opened).sample_rate_hz(), 1e6);
        assert_eq!(iq(&opened).segments()[0].centre_hz, Some(915e6));
        assert_eq!(opened.format, "sigmf cf32_le");
        assert_eq!(opened.files, [folder.path("example.sigmf-data"), path.clone()]);
        assert_eq!(iq(&opened).rail_limits(), None);
        assert!(opened.warnings.is_empty(), "{:?}", opened.warnings);
    }
    let both = [folder.path("example.sigmf-data"), path.clone()];
    let both = parts(&both).expect("listed");
    assert_eq!(both.len(), 1);
    assert_eq!(both[0].path, path);
}

/// Every complex datatype: the bytes of 0.5 and -0.5, of the lowest and the highest number.
#[test]
fn every_datatype() {
    let half = |name: &str| -> (&[u8], &[u8]) {
        match name {
            "ci8" => (&[0x40, 0xc0], &[0x80, 0x7f]),
            "cu8" => (&[0xbf, 0x40], &[0x00, 0xff]),
            "ci16_le" => (&[0x00, 0x40, 0x00, 0xc0], &[0x00, 0x80, 0xff, 0x7f]),
            "ci16_be" => (&[0x40, 0x00, 0xc0, 0x00], &[0x80, 0x00, 0x7f, 0xff]),
            "cu16_le" => (&[0xff, 0xbf, 0x00, 0x40], &[0x00, 0x00, 0xff, 0xff]),
            "cu16_be" => (&[0xbf, 0xff, 0x40, 0x00], &[0x00, 0x00, 0xff, 0xff]),
            "ci32_le" => (&[0, 0, 0, 0x40, 0, 0, 0, 0xc0], &[0, 0, 0, 0x80, 255, 255, 255, 0x7f]),
            "ci32_be" => (&[0x40, 0, 0, 0, 0xc0, 0, 0, 0], &[0x80, 0, 0, 0, 0x7f, 255, 255, 255]),
            "cu32_le" => (&[255, 255, 255, 0xbf, 0, 0, 0, 0x40], &[0, 0, 0, 0, 255, 255, 255, 255]),
            "cu32_be" => (&[0xbf, 255, 255, 255, 0x40, 0, 0, 0], &[0, 0, 0, 0, 255, 255, 255, 255]),
            "cf32_le" => (&[0, 0, 0, 0x3f, 0, 0, 0, 0xbf], &[0, 0, 0x80, 0xbf, 0, 0, 0x80, 0x3f]),
            "cf32_be" => (&[0x3f, 0, 0, 0, 0xbf, 0, 0, 0], &[0xbf, 0x80, 0, 0, 0x3f, 0x80, 0, 0]),
            "cf64_le" => (
                &[0, 0, 0, 0, 0, 0, 0xe0, 0x3f, 0, 0, 0, 0, 0, 0, 0xe0, 0xbf],
                &[0, 0, 0, 0, 0, 0, 0xf0, 0xbf, 0, 0, 0, 0, 0, 0, 0xf0, 0x3f],
            ),
            "cf64_be" => (
                &[0x3f, 0xe0, 0, 0, 0, 0, 0, 0, 0xbf, 0xe0, 0, 0, 0, 0, 0, 0],
                &[0xbf, 0xf0, 0, 0, 0, 0, 0, 0, 0x3f, 0xf0, 0, 0, 0, 0, 0, 0],
            ),
            _ => panic!("{name}"),
        }
    };
    let folder = Folder::new();
    for name in [
        "ci8", "cu8", "ci16_le", "ci16_be", "cu16_le", "cu16_be", "ci32_le", "ci32_be", "cu32_le",
        "cu32_be", "cf32_le", "cf32_be", "cf64_le", "cf64_be",
    ] {
        let (middle, ends) = half(name);
        let metadata = format!(
            r#"{{"global": {{"core:datatype": "{name}", "core:sample_rate": 1e6,
                "core:version": "1.2.0"}}, "captures": [], "annotations": []}}"#
        );
        let path = folder.sigmf(name, &metadata, &[middle, ends].concat());
        let opened = open(&path, &OpenOptions::default()).expect("opens");
        let [half, ends] = samples(&opened)[..] else { panic!("two samples") };
        // Offset binary has no exact half: the nearest steps are half a step away.
        let step = match name {
            "cu8" => 0.5 / 127.5 + 1e-7,
            "cu16_le" | "cu16_be" => 0.5 / 32767.5 + 1e-7,
            _ => 1e-9,
        };
        assert!((half.re - 0.5).abs() < step && (half.im + 0.5).abs() < step, "{name}: {half}");
        let limits = iq(&opened).rail_limits();
        match name {
            "cf32_le" | "cf32_be" | "cf64_le" | "cf64_be" => assert_eq!(limits, None),
            _ => assert_eq!(limits, Some((ends.re, ends.im)), "{name}"),
        }
        assert_eq!(ends.re, -1.0, "{name}");
        assert_eq!(opened.format, format!("sigmf {name}"));
        assert_eq!(codes(&opened), ["centre_unknown"]);
    }
}

/// The specification's example of header bytes: two segments, each after four bytes of header.
#[test]
fn header_bytes_example() {
    let folder = Folder::new();
    let metadata = r#"{
        "global": {"core:datatype": "cu8", "core:version": "1.2.0", "core:sample_rate": 8000,
                   "core:dataset": "non-conforming-dataset-01.dat", "core:trailing_bytes": 3},
        "captures": [{"core:sample_start": 0, "core:header_bytes": 4},
                     {"core:sample_start": 500, "core:header_bytes": 4}],
        "annotations": []
    }"#;
    let mut data = b"HEAD".to_vec();
    data.extend((0..1000).map(|i| if i % 2 == 0 { 10 } else { 20 }));
    data.extend(b"HEAD");
    data.extend([30, 40, 50, 60]);
    data.extend(b"END");
    folder.put("non-conforming-dataset-01.dat", &data);
    let path = folder.put("ncd.sigmf-meta", metadata);
    let opened = open(&path, &OpenOptions::default()).expect("opens");
    let value = |v: f32| (v - 127.5) / 127.5;
    let all = samples(&opened);
    assert_eq!(all.len(), 502);
    assert!(all[..500].iter().all(|x| *x == Iq::new(value(10.0), value(20.0))));
    assert_eq!(all[500], Iq::new(value(30.0), value(40.0)));
    assert_eq!(all[501], Iq::new(value(50.0), value(60.0)));
    // A read across the header between the segments.
    let mut across = [Iq::default(); 2];
    iq(&opened).read(499, &mut across).expect("samples");
    assert_eq!(across, [all[499], all[500]]);
    assert_eq!(opened.data_file, folder.path("non-conforming-dataset-01.dat"));
}

/// The specification's example of lost samples: the second segment is number 1000 of the stream.
#[test]
fn global_index_example() {
    let folder = Folder::new();
    let metadata = r#"{
        "global": {"core:datatype": "ci8", "core:version": "1.2.0", "core:sample_rate": 1000},
        "captures": [{"core:sample_start": 0, "core:global_index": 0, "core:frequency": 1e8,
                      "core:datetime": "2026-03-01T21:30:00Z"},
                     {"core:sample_start": 500, "core:global_index": 1000, "core:frequency": 1e8}],
        "annotations": [{"core:sample_start": 510, "core:sample_count": 5, "core:label": "burst",
                         "core:freq_lower_edge": 1e8, "core:freq_upper_edge": 100000200.0}]
    }"#;
    let path = folder.sigmf("gap", metadata, &[1; 2000]);
    let opened = open(&path, &OpenOptions::default()).expect("opens");
    let segments = iq(&opened).segments();
    assert_eq!(segments[0].start, Some(at("2026-03-01T21:30:00Z")));
    assert_eq!(segments[1].start, Some(at("2026-03-01T21:30:01Z")));
    assert_eq!((segments[1].first_sample, segments[1].samples), (500, 500));
    assert!((opened.duration_s - 1.5).abs() < 1e-9);
    assert_eq!(opened.claims[0].label.as_deref(), Some("burst"));
    assert_eq!(opened.claims[0].high_hz, Some(100_000_200.0));
}

#[test]
fn segments_of_a_stepped_receiver() {
    let folder = Folder::new();
    let metadata = r#"{
        "global": {"core:datatype": "ci8", "core:version": "1.2.0", "core:sample_rate": 1000,
                   "mine:unknown": {"kept": true}},
        "captures": [{"core:sample_start": 0, "core:frequency": 1e8,
                      "core:datetime": "2026-03-01T21:30:00.000Z"},
                     {"core:sample_start": 500, "core:frequency": 2e8,
                      "core:datetime": "2026-03-01T21:30:07.25Z"},
                     {"core:sample_start": 750, "core:frequency": 3e8,
                      "core:datetime": "2026-03-01T21:30:09Z"}],
        "annotations": []
    }"#;
    let path = folder.sigmf("steps", metadata, &[1; 2000]);
    let opened = open(&path, &OpenOptions::default()).expect("opens");
    let segments = iq(&opened).segments();
    let facts: Vec<_> = segments.iter().map(|s| (s.first_sample, s.samples, s.centre_hz)).collect();
    assert_eq!(facts, [(0, 500, Some(1e8)), (500, 250, Some(2e8)), (750, 250, Some(3e8))]);
    assert_eq!(segments[1].start, Some(at("2026-03-01T21:30:07.25Z")));
    assert!((opened.duration_s - 9.25).abs() < 1e-9);
    // A start given by a person moves all stated times alike.
    let moved = OpenOptions { start: Some(at("2026-03-02T21:30:00Z")), ..OpenOptions::default() };
    let opened = open(&path, &moved).expect("opens");
    assert_eq!(iq(&opened).segments()[2].start, Some(at("2026-03-02T21:30:09Z")));
    assert_eq!(codes(&opened), ["start_overridden"]);
    // One centre cannot replace three.
    let one = OpenOptions { centre_hz: Some(4e8), ..OpenOptions::default() };
    assert!(open(&path, &one).expect_err("refused").to_string().contains("--centre"));
    let rate = OpenOptions { rate_hz: Some(2000.0), ..OpenOptions::default() };
    let opened = open(&path, &rate).expect("opens");
    assert_eq!(iq(&opened).sample_rate_hz(), 2000.0);
    assert_eq!(codes(&opened), ["rate_overridden"]);
}

#[test]
fn what_is_odd_is_said() {
    let folder = Folder::new();
    let with = |name: &str, captures: &str, more: &str, data: &[u8]| {
        let metadata = format!(
            r#"{{"global": {{"core:datatype": "ci16", "core:sample_rate": 1000 {more}}},
                "captures": [{captures}]}}"#
        );
        let path = folder.sigmf(name, &metadata, data);
        open(&path, &OpenOptions::default()).expect("opens")
    };
    let start = r#"{"core:sample_start": 0, "core:frequency": 1}"#;
    assert_eq!(codes(&with("order", start, "", &[0; 8])), ["byte_order_assumed"]);
    let partial = with("partial", start, "", &[0; 11]);
    assert_eq!(codes(&partial), ["byte_order_assumed", "partial_sample"]);
    assert_eq!(iq(&partial).len(), 2);
    let late = r#"{"core:sample_start": 3, "core:frequency": 1}"#;
    let late = with("late", late, "", &[0; 40]);
    assert_eq!(codes(&late), ["byte_order_assumed", "samples_before_first_capture"]);
    assert_eq!(iq(&late).len(), 7);
    // A recording split over files counts from core:offset: nothing is left out.
    let split = r#"{"core:sample_start": 100, "core:frequency": 1}"#;
    let split = with("split", split, r#", "core:offset": 100"#, &[0; 40]);
    assert_eq!(codes(&split), ["byte_order_assumed"]);
    assert_eq!(iq(&split).len(), 10);
    let cut = format!(r#"{start}, {{"core:sample_start": 99, "core:frequency": 2}}"#);
    assert_eq!(codes(&with("cut", &cut, "", &[0; 40])), ["byte_order_assumed", "data_cut_short"]);
    let hash = r#", "core:sha512": "00""#;
    assert_eq!(
        codes(&with("hash", start, hash, &[0; 8])),
        ["byte_order_assumed", "sha512_differs"]
    );
    // Once is enough: that reads the file whole.
    let again = OpenOptions { again: true, ..OpenOptions::default() };
    let again = open(&folder.path("hash.sigmf-meta"), &again).expect("opens");
    assert_eq!(codes(&again), ["byte_order_assumed"]);
    let local = r#"{"core:frequency": 1, "core:datetime": "2026-03-01T21:30:00"}"#;
    let local = with("local", local, "", &[0; 8]);
    assert_eq!(codes(&local), ["byte_order_assumed", "time_without_offset"]);
    assert_eq!(local.start, Some(at("2026-03-01T21:30:00Z")));
}

#[test]
fn archives_are_read_in_place() {
    let folder = Folder::new();
    let metadata = |hz: u32| {
        format!(
            r#"{{"global": {{"core:datatype": "ci16_le", "core:sample_rate": 1000}},
                "captures": [{{"core:sample_start": 0, "core:frequency": {hz}}}]}}"#
        )
    };
    let archive = |names: &[&str]| {
        let mut tar = tar::Builder::new(Vec::new());
        for (i, name) in names.iter().enumerate() {
            let mut put = |name: String, bytes: &[u8]| {
                let mut header = tar::Header::new_ustar();
                header.set_size(bytes.len() as u64);
                header.set_mode(0o644);
                tar.append_data(&mut header, name, bytes).expect("appended");
            };
            put(format!("set/{name}.sigmf-meta"), metadata(100 + i as u32).as_bytes());
            put(format!("set/{name}.sigmf-data"), &[0, 0x40 + i as u8, 0, 0xc0, 1, 2]);
        }
        tar.into_inner().expect("an archive")
    };
    let one = folder.put("one.sigmf", archive(&["a"]));
    let opened = open(&one, &OpenOptions::default()).expect("opens");
    assert_eq!(samples(&opened), [Iq::new(0.5, -0.5)]);
    assert_eq!(opened.files, std::slice::from_ref(&one));
    assert_eq!(codes(&opened), ["partial_sample"]);
    assert_eq!(opened.format, "sigmf ci16_le archive");
    // Content, not name, tells an archive; one of several must be named.
    let two = folder.put("two.bin", archive(&["a", "b"]));
    let e = open(&two, &OpenOptions::default()).expect_err("two recordings");
    assert!(e.to_string().contains("2 recordings: set/a, set/b"), "{e}");
    let listed = parts(std::slice::from_ref(&two)).expect("listed");
    let second = OpenOptions { inner: listed[1].inner.clone(), ..OpenOptions::default() };
    let opened = open(&two, &second).expect("opens");
    assert_eq!(iq(&opened).segments()[0].centre_hz, Some(101.0));
    assert_eq!(samples(&opened)[0].re, f32::from(0x4100u16) / 32768.0);
}

#[test]
fn a_collection_lists_recordings() {
    let folder = Folder::new();
    let metadata = r#"{"global": {"core:datatype": "ci8", "core:sample_rate": 1}, "captures": []}"#;
    let a = folder.sigmf("a", metadata, &[1, 2]);
    let b = folder.sigmf("b", metadata, &[3, 4]);
    let text = r#"{"collection": {"core:version": "1.2.0", "core:streams": [
        {"name": "a", "hash": "00"}, {"name": "b"}]}}"#;
    let path = folder.put("all.sigmf-collection", text);
    let listed = parts(&[path.clone(), a.clone()]).expect("listed");
    assert_eq!(listed.iter().map(|p| &p.path).collect::<Vec<_>>(), [&a, &b]);
    assert_eq!(listed[0].warnings[0].code, "collection_hash_differs");
    assert!(listed[1].warnings.is_empty());
    let e = open(&path, &OpenOptions::default()).expect_err("several");
    assert!(e.to_string().contains("collection of 2 recordings"), "{e}");
    std::fs::remove_file(&b).expect("removed");
    let said = parts(&[path]).expect_err("one is missing").to_string();
    for words in ["all.sigmf-collection", "core:streams[1].name", "'b.sigmf-meta'"] {
        assert!(said.contains(words), "{words}: {said}");
    }
}

/// Many threads read the same recording at random places and see the same samples.
#[test]
fn random_ranges_from_many_threads() {
    let folder = Folder::new();
    let metadata = r#"{"global": {"core:datatype": "ci16_le", "core:sample_rate": 1},
        "captures": [{"core:sample_start": 0}, {"core:sample_start": 70000}]}"#;
    let data: Vec<u8> = (0..200_000u32)
        .flat_map(|i| [(i % 32_749) as i16, -((i / 7) as i16 & 0x7fff)])
        .flat_map(i16::to_le_bytes)
        .collect();
    let path = folder.sigmf("many", metadata, &data);
    let opened = open(&path, &OpenOptions::default()).expect("opens");
    let all = samples(&opened);
    assert_eq!(all[40_000].re, (40_000 % 32_749) as f32 / 32_768.0);
    let recording = iq(&opened);
    std::thread::scope(|scope| {
        for thread in 0..4u64 {
            let all = &all;
            scope.spawn(move || {
                let mut out = vec![Iq::default(); 30_000];
                for k in 0..200u64 {
                    let n = ((k * 7919 + thread * 104_729) % 30_000) as usize;
                    let first = (k * 15_485_863 + thread * 32_452_843) % (200_000 - n as u64);
                    recording.read(first, &mut out[..n]).expect("samples");
                    assert_eq!(out[..n], all[first as usize..first as usize + n]);
                }
            });
        }
    });
    let mut beyond = [Iq::default(); 2];
    assert!(recording.read(199_999, &mut beyond).is_err());
    assert!(recording.read(u64::MAX, &mut beyond).is_err());
}
