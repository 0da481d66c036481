//! What is written is read back: rows, SigMF, WAV, Zarr, and the text of mappings, for whatever
//! comes.

#![allow(missing_docs)]

mod common;

use capture::table::{Column, CounterUnit, DurationUnit, FrequencyUnit, Mapping, Shape, TimeForm};
use capture::write::{RowWriter, SigmfMeta, SigmfWriter, WavWriter};
use capture::zarr::{ZarrReader, ZarrWriter};
use capture::{Number, NumberKind, OpenOptions, Recording, TreatAs, open};
use common::{Folder, iq, samples};
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use units::{Iq, LevelUnit, Samples, Utc};

fn cases(n: u32) -> ProptestConfig {
    ProptestConfig { cases: n, failure_persistence: None, ..ProptestConfig::default() }
}

fn column() -> impl Strategy<Value = Column> {
    prop_oneof![
        (1usize..500).prop_map(Column::Number),
        "[^\\x00-\\x1f\\x7f]{1,12}"
            .prop_map(|name| name.trim().to_owned())
            .prop_filter("a name", |name| !name.is_empty())
            .prop_map(Column::Name),
    ]
}

fn pattern() -> impl Strategy<Value = TimeForm> {
    const FORMS: [&str; 6] =
        ["%H:%M", "%d.%m.%Y %H:%M:%S", "%b %d, %Y", "\"%T\"", "%s", "%Y-%m-%dT%H:%M:%S%.f"];
    prop_oneof![
        proptest::sample::select(FORMS.as_slice()).prop_map(|p| TimeForm::Pattern(p.to_owned())),
        proptest::sample::select(CounterUnit::ALL.as_slice()).prop_map(TimeForm::Counter),
    ]
}

proptest! {
    #![proptest_config(cases(256))]

    #[test]
    fn the_text_of_a_mapping(
        time in option::of((column(), option::of(pattern()))),
        frequency in option::of((column(), option::of(proptest::sample::select(FrequencyUnit::ALL.as_slice())))),
        level in (column(), option::of(proptest::sample::select([LevelUnit::Dbm, LevelUnit::Dbfs, LevelUnit::Dbuv].as_slice()))),
        strength in option::of((column(), 1u32..1000)),
        duration in option::of((column(), option::of(proptest::sample::select([DurationUnit::S, DurationUnit::Min].as_slice())))),
        texts in proptest::array::uniform6(option::of(column())),
    ) {
        let [band, position, setting, bearing, heard, note] = texts;
        let mapping = Mapping {
            time, frequency, level: Some(level), duration, band, position, setting, bearing, heard, note,
            strength: strength.map(|(column, of)| (column, f64::from(of))),
            ..Mapping::default()
        };
        let text = mapping.to_string();
        match text.parse::<Mapping>() {
            Ok(back) => prop_assert_eq!(back, mapping, "{}", text),
            // The one thing that a random mapping can have wrong.
            Err(e) => prop_assert!(e.to_string().contains("name the same"), "{}: {}", text, e),
        }
    }

    #[test]
    fn any_text_is_a_mapping_or_refused(text in "[a-z=:,/\"%1 ]{0,60}") {
        if let Ok(mapping) = text.parse::<Mapping>() {
            prop_assert_eq!(mapping.to_string().parse::<Mapping>(), Ok(mapping));
        }
    }
}

#[test]
fn mappings_as_json_are_their_text() {
    let text = "shape=sweep,time=\"a, b\":%H:%M,frequency=:MHz,level=:dBm";
    let mapping: Mapping = text.parse().expect("a mapping");
    assert_eq!(mapping.shape, Some(Shape::Sweep));
    let json = serde_json::to_string(&mapping).expect("JSON");
    assert_eq!(json, format!("{text:?}"));
    assert_eq!(serde_json::from_str::<Mapping>(&json).expect("back"), mapping);
    assert!(serde_json::from_str::<Mapping>("\"time\"").is_err());
}

/// RFC 4180: a field in double quotes may hold line breaks, and any other separator.
#[test]
fn a_quoted_note_of_several_lines_divides_no_table() {
    let folder = Folder::new();
    let path = folder.path("log.csv");
    let mut writer = RowWriter::create(&path, &["Time", "kHz", "Note"]).expect("created");
    let row = ["2026-03-01 00:00:00", "433920", "a\t\n\tb\n\tc"].map(str::to_owned);
    writer.row(&row).expect("written");
    writer.finish().expect("finished");
    let mapping = Some("time=Time,frequency=kHz:kHz,note=Note".parse().expect("a mapping"));
    let opened = open(&path, &OpenOptions { mapping, ..OpenOptions::default() }).expect("read");
    let Recording::Events(log) = &opened.recording else { panic!("no log") };
    assert_eq!(log.events[0].note.as_deref(), Some("a\t\n\tb\n\tc"));
}

proptest! {
    #![proptest_config(cases(48))]

    #[test]
    fn rows_of_an_event_log(
        rows in vec((0u32..86_400, 1u32..9_999_999, 0u32..13, 0u32..5000, "[^\\x00-\\x08\\x0b-\\x1f\\x7f]{0,20}"), 1..40),
    ) {
        let folder = Folder::new();
        let path = folder.path("log.csv");
        let header = ["Time", "kHz", "Bars", "Seconds", "a \"note\", in words"];
        let mut writer = RowWriter::create(&path, &header).expect("created");
        let mut rows = rows;
        rows.sort_by_key(|row| row.0);
        for (second, khz, bars, seconds, note) in &rows {
            let time = format!("2026-03-01 {:02}:{:02}:{:02}", second / 3600, second / 60 % 60, second % 60);
            let fields = [time, khz.to_string(), bars.to_string(), seconds.to_string(), note.clone()];
            writer.row(&fields).expect("written");
        }
        writer.finish().expect("finished");
        let columns = "time=Time,frequency=kHz:kHz,strength=Bars/12,duration=Seconds:s,note=\"a \"\"note\"\", in words\"";
        let mapping = Some(columns.parse().expect("a mapping"));
        let opened = open(&path, &OpenOptions { mapping, ..OpenOptions::default() }).expect("read");
        let Recording::Events(log) = &opened.recording else { panic!("no log") };
        prop_assert_eq!(log.events.len(), rows.len());
        for (event, (second, khz, bars, seconds, note)) in log.events.iter().zip(&rows) {
            let from = Utc::parse("2026-03-01T00:00:00Z").expect("a time").plus_seconds(f64::from(*second));
            prop_assert_eq!(event.start.from, from);
            prop_assert!((event.band.expect("a band").centre_hz() - f64::from(*khz) * 1e3).abs() < 1e-3);
            prop_assert_eq!(event.strength.expect("a strength").value, f64::from(*bars));
            prop_assert_eq!(event.duration_s, Some(f64::from(*seconds)));
            let kept = Some(note.trim().to_owned()).filter(|n| !n.is_empty() && n != "-");
            prop_assert_eq!(event.note.clone(), kept);
        }
    }

    #[test]
    fn sigmf(
        bytes in vec(any::<i16>(), 4..400),
        cut in 0usize..100,
        rate in 1.0f64..1e9,
        centre in option::of(-1e9f64..1e11),
        kind in proptest::sample::select([NumberKind::I8, NumberKind::I16, NumberKind::I32, NumberKind::F32].as_slice()),
        big_endian in any::<bool>(),
    ) {
        let scale = if kind == NumberKind::I8 { 128.0 } else { 32_768.0 };
        let value = |x: i16| (f32::from(if kind == NumberKind::I8 { x >> 8 } else { x })) / scale;
        let all: Vec<Iq> = bytes.chunks_exact(2).map(|x| Iq::new(value(x[0]), value(x[1]))).collect();
        let cut = cut.min(all.len());
        let start = Utc::parse("2026-03-01T21:30:00.123456789Z").expect("a time");
        let folder = Folder::new();
        let meta = SigmfMeta::new(rate, Number { kind, big_endian });
        let mut writer = SigmfWriter::create(folder.0.path(), "r", meta).expect("created");
        writer.segment(centre, Some(start));
        writer.push(&all[..cut]).expect("pushed");
        writer.segment(Some(1e6), Some(start.plus_seconds(100.0)));
        writer.push(&all[cut..]).expect("pushed");
        let opened = open(&writer.finish().expect("finished"), &OpenOptions::default()).expect("read");
        prop_assert_eq!(samples(&opened), all.clone());
        let segments = iq(&opened).segments();
        prop_assert_eq!(iq(&opened).sample_rate_hz(), rate);
        let last = segments.last().expect("a segment");
        prop_assert_eq!(last.samples as usize + last.first_sample as usize, all.len());
        if cut > 0 {
            prop_assert_eq!((segments[0].centre_hz, segments[0].start), (centre, Some(start)));
        }
    }

    #[test]
    fn wav(
        bytes in vec(any::<i16>(), 4..400),
        rate in 1u32..3_000_000,
        centre in option::of(0u32..u32::MAX),
        kind in proptest::sample::select([NumberKind::U8Wav, NumberKind::I16, NumberKind::I24, NumberKind::I32, NumberKind::F32, NumberKind::F64].as_slice()),
    ) {
        let scale = if kind == NumberKind::U8Wav { 128.0 } else { 32_768.0 };
        let value = |x: i16| (f32::from(if kind == NumberKind::U8Wav { x >> 8 } else { x })) / scale;
        let all: Vec<Iq> = bytes.chunks_exact(2).map(|x| Iq::new(value(x[0]), value(x[1]))).collect();
        let folder = Folder::new();
        let path = folder.path("r.wav");
        let centre_hz = centre.filter(|c| *c > 0).map(f64::from);
        let mut writer = WavWriter::iq(&path, kind, f64::from(rate), centre_hz, None).expect("created");
        writer.push_iq(&all).expect("pushed");
        writer.finish().expect("finished");
        let options = OpenOptions { treat_as: Some(TreatAs::Iq), ..OpenOptions::default() };
        let opened = open(&path, &options).expect("read");
        prop_assert_eq!(samples(&opened), all);
        prop_assert_eq!(iq(&opened).sample_rate_hz(), f64::from(rate));
        prop_assert_eq!(iq(&opened).segments()[0].centre_hz, centre_hz);
    }

    #[test]
    fn zarr(
        shape in (1u64..20, 1u64..30),
        chunk in (1u64..9, 1u64..9),
        seed in any::<u8>(),
        left_out in any::<u8>(),
        fill in any::<u8>(),
        part in (0.0f64..1.0, 0.0f64..1.0),
    ) {
        let folder = Folder::new();
        let at = folder.path("a");
        let writer = ZarrWriter::create(&at, &[chunk.0, chunk.1], fill, &["time", "frequency"]).expect("created");
        let value = |y: u64, x: u64| (y.wrapping_mul(31).wrapping_add(x * 7) as u8).wrapping_add(seed);
        let (rows, columns) = (shape.0.div_ceil(chunk.0), shape.1.div_ceil(chunk.1));
        let absent = |y: u64, x: u64| (y * columns + x).is_multiple_of(u64::from(left_out) + 2);
        for y in 0..rows {
            for x in 0..columns {
                if !absent(y, x) {
                    let cells = (0..chunk.0 * chunk.1).map(|i| value(y * chunk.0 + i / chunk.1, x * chunk.1 + i % chunk.1));
                    writer.chunk(&[y, x], &cells.collect::<Vec<u8>>()).expect("written");
                }
            }
        }
        writer.finish(&[shape.0, shape.1], serde_json::Map::new()).expect("finished");
        let reader = ZarrReader::open(&at).expect("opened");
        let start = [(part.0 * shape.0 as f64) as u64, (part.1 * shape.1 as f64) as u64];
        let count = [shape.0 - start[0], shape.1 - start[1]];
        let read = reader.read(&start, &count).expect("read");
        for (i, cell) in read.iter().enumerate() {
            let (y, x) = (start[0] + i as u64 / count[1], start[1] + i as u64 % count[1]);
            let expected = if absent(y / chunk.0, x / chunk.1) { fill } else { value(y, x) };
            prop_assert_eq!(*cell, expected, "at {}, {}", y, x);
        }
        prop_assert!(reader.read(&[0, 0], &[shape.0 + 1, 1]).is_err());
    }
}
