//! Damaged and unfit files, and the exact words that a person gets. `messages.txt` holds them to be
//! read through; with STILLROOM_BLESS=1 it is written anew.

#![allow(missing_docs)]

mod common;

use capture::table::Mapping;
use capture::zarr::{Description, decode_chunk};
use capture::{OpenOptions, RawFormat, TreatAs, open};
use common::{Folder, chunk, format, open_bytes, riff};
use std::path::Path;

/// A case a line: what was tried, and what was said.
#[derive(Default)]
struct Said(String);

impl Said {
    fn head(&mut self, title: &str) {
        self.0 += &format!("{}## {title}\n\n", if self.0.is_empty() { "" } else { "\n" });
    }
    fn bytes(&mut self, what: &str, bytes: &[u8], options: &OpenOptions) {
        let error = open_bytes("x", bytes, options).err();
        self.line(what, error.map(|e| e.to_string()));
    }
    fn table(&mut self, what: &str, text: &str, columns: &str) {
        let mapping = (!columns.is_empty()).then(|| columns.parse().expect("a mapping"));
        let options = OpenOptions { mapping, ..OpenOptions::default() };
        let error = open_bytes("t.csv", text.as_bytes(), &options).err();
        self.line(what, error.map(|e| e.to_string()));
    }
    fn line(&mut self, what: &str, said: Option<String>) {
        let said = said.unwrap_or_else(|| "IS READ.".to_owned());
        assert!(!said.contains('\n') && said.ends_with('.'), "{said}");
        self.0 += &format!("{what}\n    {said}\n");
    }
}

#[test]
fn what_is_said_of_unfit_files() {
    let mut said = Said::default();
    kinds(&mut said);
    raw(&mut said);
    sigmf(&mut said);
    wav(&mut said);
    traces(&mut said);
    events(&mut said);
    mappings(&mut said);
    zarr(&mut said);
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/messages.txt");
    if std::env::var_os("STILLROOM_BLESS").is_some() {
        std::fs::write(&golden, &said.0).expect("written");
    }
    assert!(!said.0.contains("IS READ."));
    let expected = std::fs::read_to_string(&golden).unwrap_or_default();
    for (now, before) in said.0.lines().zip(expected.lines()) {
        assert_eq!(
            now, before,
            "the words changed: if they are better, run with STILLROOM_BLESS=1"
        );
    }
    assert_eq!(said.0.lines().count(), expected.lines().count());
}

fn kinds(said: &mut Said) {
    said.head("Kinds");
    let plain = OpenOptions::default();
    let folder = Folder::new();
    let hidden = |text: String| text.replace(&*folder.0.path().to_string_lossy(), "DIR");
    let missing = open(&folder.path("missing.wav"), &plain).expect_err("missing");
    said.line("a file that is not there", Some(hidden(missing.to_string())));
    let dir = open(folder.0.path(), &plain).expect_err("a folder");
    said.line("a folder", Some(hidden(dir.to_string())));
    let device = open(Path::new("/dev/zero"), &plain).expect_err("a device");
    said.line("a device", Some(device.to_string()));
    said.bytes("an empty file", b"", &plain);
    said.bytes("frames", b"\xd4\xc3\xb2\xa1\x02\0\x04\0", &plain);
    said.bytes("a zip archive", b"PK\x03\x04....", &plain);
    said.bytes("JSON of another kind", b"{\"a\": 1}", &plain);
    said.bytes("bytes", &[0, 1, 2, 3, 200, 201], &plain);
    said.bytes("prose", b"Dear Sir or Madam\nI write to you\n", &plain);
    said.bytes("UTF-16", b"\xff\xfea\0,\0b\0\n\0", &plain);
}

fn raw(said: &mut Said) {
    said.head("Raw samples");
    let options = OpenOptions { format: Some(RawFormat::Cf32Le), ..OpenOptions::default() };
    said.bytes("no rate", &[0; 16], &options);
    let rate = |hz| OpenOptions { rate_hz: Some(hz), ..options.clone() };
    said.bytes("no rate that can be", &[0; 16], &rate(0.0));
    said.bytes("a rate beyond radio", &[0; 16], &rate(1e300));
    let centre_hz = Some(-1e300);
    said.bytes("a centre beyond radio", &[0; 16], &OpenOptions { centre_hz, ..rate(1e6) });
    said.bytes("less than a sample", &[0; 7], &rate(1e6));
    let nan = f32::NAN.to_le_bytes();
    let opened =
        open_bytes("x", &[[0; 4], [0; 4], [0; 4], nan].concat(), &rate(1e6)).expect("opens");
    let mut out = [units::Iq::default(); 2];
    let read = units::Samples::read(common::iq(&opened), 0, &mut out);
    said.line("a sample that is no number", read.err().map(|e| e.to_string()));
    let mut out = [units::Iq::default(); 3];
    let read = units::Samples::read(common::iq(&opened), 0, &mut out);
    said.line("past the end", read.err().map(|e| e.to_string()));
}

fn sigmf(said: &mut Said) {
    said.head("SigMF");
    let mut case = |what: &str, metadata: &str, data: Option<&[u8]>| {
        let folder = Folder::new();
        let path = folder.put("r.sigmf-meta", metadata);
        if let Some(data) = data {
            folder.put("r.sigmf-data", data);
        }
        let error = open(&path, &OpenOptions::default()).err();
        said.line(
            what,
            error.map(|e| e.to_string().replace(&*folder.0.path().to_string_lossy(), "DIR")),
        );
    };
    let global = |fields: &str| {
        format!("{{\"global\": {{{fields}}}, \"captures\": [], \"annotations\": []}}")
    };
    let whole =
        "\"core:datatype\": \"cu8\", \"core:sample_rate\": 1e6, \"core:version\": \"1.2.0\"";
    case("no JSON", "{\"global\": {\n  \"core:datatype\" \"cu8\"}}", Some(&[0; 8]));
    case("no global", "{\"captures\": []}", Some(&[0; 8]));
    case("no datatype", &global("\"core:sample_rate\": 1"), Some(&[0; 8]));
    case("an unknown datatype", &global("\"core:datatype\": \"cf16_le\""), Some(&[0; 8]));
    case("real samples", &global("\"core:datatype\": \"ri16_le\""), Some(&[0; 8]));
    case("no rate", &global("\"core:datatype\": \"cu8\""), Some(&[0; 8]));
    case(
        "a rate in words",
        &global("\"core:datatype\": \"cu8\", \"core:sample_rate\": \"fast\""),
        Some(&[0; 8]),
    );
    case(
        "a rate beyond radio",
        &global("\"core:datatype\": \"cu8\", \"core:sample_rate\": 1e300"),
        Some(&[0; 8]),
    );
    case(
        "a centre beyond radio",
        &format!("{{\"global\": {{{whole}}}, \"captures\": [{{\"core:frequency\": 1e300}}]}}"),
        Some(&[0; 8]),
    );
    case("no data", &global(whole), None);
    case("empty data", &global(whole), Some(b""));
    let captures = |list: &str| {
        format!("{{\"global\": {{{whole}}}, \"captures\": {list}, \"annotations\": []}}")
    };
    case("captures that are no list", &captures("3"), Some(&[0; 8]));
    case(
        "a time that is none",
        &captures("[{\"core:sample_start\": 0, \"core:datetime\": \"noon\"}]"),
        Some(&[0; 8]),
    );
    let falling = "[{\"core:sample_start\": 3}, {\"core:sample_start\": 1}]";
    case("segments out of order", &captures(falling), Some(&[0; 8]));
    let folder = Folder::new();
    let data = folder.put("r.sigmf-data", [7u8; 8]);
    let error = open(&data, &OpenOptions::default()).expect_err("no metadata").to_string();
    said.line("data alone", Some(error.replace(&*folder.0.path().to_string_lossy(), "DIR")));
}

fn wav(said: &mut Said) {
    said.head("WAV");
    let plain = OpenOptions::default();
    said.bytes("cut in its header", b"RIFF\x04\0\0\0WAVEfm", &plain);
    said.bytes("no format", &riff(&[chunk(b"data", &[0; 8])]), &plain);
    said.bytes("no data", &riff(&[format(1, 2, 48_000, 16)]), &plain);
    let of = |fmt: Vec<u8>| riff(&[fmt, chunk(b"data", &[0; 16])]);
    said.bytes("compressed", &of(format(2, 2, 48_000, 4)), &plain);
    said.bytes("a width that is none", &of(format(1, 2, 48_000, 40)), &plain);
    said.bytes("no channel", &of(format(1, 0, 48_000, 16)), &plain);
    said.bytes("no rate", &of(format(1, 2, 0, 16)), &plain);
    said.bytes(
        "one channel as IQ",
        &of(format(1, 1, 48_000, 16)),
        &OpenOptions { treat_as: Some(TreatAs::Iq), ..plain },
    );
}

fn traces(said: &mut Said) {
    said.head("Traces");
    said.table("units that nothing names", "2026-03-01,21:30,88,89,0.5,1,-50,-60\n", "");
    said.table("day and month either way", "time,MHz,dBm\n01/03/2026 21:30,88,-50\n", "");
    said.table("columns of which nothing tells", "a,b\nx,y\n", "");
    said.table("no unit of levels", "MHz,level\n88,-50\n", "shape=point,frequency=MHz,level=level");
    said.table("no unit of frequencies", "f,dBm\n88,-50\n", "shape=point,frequency=f,level=dBm");
    let sweep = "shape=sweep,frequency=:MHz,level=:dBm";
    said.table("a header without frequencies", "time,a,b\n2026-03-01 21:30,-1,-2\n", sweep);
    said.table("frequencies beyond radio", "time,88,1e300\n2026-03-01 21:30,-1,-2\n", sweep);
    said.table("frequencies that fall", "time,88,87\n2026-03-01 21:30,-1,-2\n", sweep);
    said.table("a header alone", "time,88,89\n", sweep);
    said.table("a ragged row", "time,88,89\n2026-03-01 21:30,-1\n2026-03-01 21:31,-1,-2\n", sweep);
    said.table("a row too long", "time,88,89\n2026-03-01 21:30,-1,-2,-3\n", sweep);
    said.table("a level in words", "time,88,89\n2026-03-01 21:30,-1,loud\n", sweep);
    said.table("a time in words", "time,88,89\nlate,-1,-2\n", sweep);
    let segment = "shape=segment,frequency=:MHz,level=:dBm";
    said.table("a segment turned round", "2026-03-01,21:30,89,88,0.5,1,-50,-60\n", segment);
    said.table("a segment without a step", "2026-03-01,21:30,88,89,0,1,-50,-60\n", segment);
    said.table(
        "too few levels",
        "2026-03-01,21:30,88,89,0.1,1,-50,-60\n2026-03-01,21:31,88,89,0.1,1,-1\n",
        segment,
    );
    said.table("a segment of five fields", "2026-03-01,21:30,88,89,0.1\n", segment);
    let point = "shape=point,time=:%H:%M,frequency=:MHz,level=:dBm";
    said.table("points out of order", "21:30,88,-1\n21:30,90,-1\n21:30,89,-1\n", point);
    said.table("a point without a frequency", "21:30,88,-1\n21:30,,-1\n", point);
    said.table("a comma for a point", "21:30,88.1,-1\n21:31,\"88,1\",-1\n", point);
    let long = "21:30,88,-1\n".repeat(500) + "21:31,\0,-1\n";
    said.table("a zero byte", &long, point);
}

fn events(said: &mut Said) {
    said.head("Event logs and readings");
    let log = "time,band,strength,secs\n2026-03-01 21:30,868-870 MHz,7,2\n";
    let columns = "time=time,band=band,strength=strength/12,duration=secs:s";
    said.table("no mapping", log, "");
    let mut rows = |what: &str, more: &str| said.table(what, &format!("{log}{more}\n"), columns);
    rows("a sum at the end", "Total,1 event");
    rows("a title between the rows", "Monday,,,");
    rows("more than the scale", "2026-03-01 21:30,868,13,1");
    rows("a strength in words", "2026-03-01 21:30,868,strong,1");
    rows("a duration below zero", "2026-03-01 21:30,868,1,-1");
    rows("a row of nothing", "2026-03-01 21:30,,,4");
    rows("a day that is none", "2026-02-30 21:30,868,1,1");
    rows("a quote left open", "\"2026-03-01 21:30,868,1,1");
    rows("too many fields", "2026-03-01 21:30,868,1,1,,9");
    said.table("a header alone", "time,band,strength,secs\n", columns);
    said.table("a name that is not there", log, "time=when,band=band");
    said.table("a number beyond the last column", log, "time=1,band=5");
    said.table("a name that is there twice", "t,b,b\n2026-03-01 21:30,868,869\n", "time=t,band=b");
    said.table("no time", log, "band=band,strength=strength/12");
    said.table("a time of day alone", "t,b\n21:30,868\n", "time=t,band=b");
    said.table("a form that does not fit", log, "time=time:%d.%m.%Y,band=band");
    said.table("a form that tells nothing", log, "time=time:%%,band=band");
    said.table("a bare frequency", "t,f\n2026-03-01 21:30,868\n", "time=t,frequency=f");
    said.table(
        "a bare level",
        "t,f,p\n2026-03-01 21:30,868,-60\n",
        "time=t,frequency=f:MHz,level=p",
    );
    said.table("a bare duration", "t,b,d\n2026-03-01 21:30,868,2\n", "time=t,band=b,duration=d");
    said.table(
        "a bearing past the circle",
        "t,b,d\n2026-03-01 21:30,868,400\n",
        "time=t,band=b,bearing=d",
    );
}

fn mappings(said: &mut Said) {
    said.head("Mappings");
    for text in [
        "",
        "time",
        "time=",
        "when=1",
        "time=1,time=2",
        "time=0,band=1",
        "time=1:noon,band=2",
        "time=1,frequency=2:THz",
        "time=1,level=2:dB",
        "time=1,strength=2",
        "time=1,strength=2/many",
        "time=1,duration=2:h,band=3",
        "time=1,band=1",
        "time=1,note=2",
        "shape=waterfall",
        "shape=point,position=3",
        "date=1:us,band=2",
        "time=1,band=\"a",
    ] {
        let error = text.parse::<Mapping>().expect_err(text);
        said.line(&format!("'{text}'"), Some(format!("{error}.")));
    }
}

fn zarr(said: &mut Said) {
    said.head("Zarr");
    let mut case = |what: &str, json: &str| {
        let error = Description::parse(json.as_bytes(), Path::new("zarr.json")).err();
        said.line(what, error.map(|e| e.to_string()));
    };
    case("no JSON", "{");
    case("a group", "{\"zarr_format\": 3, \"node_type\": \"group\"}");
    case("another version", "{\"zarr_format\": 2}");
    let array = |more: &str| {
        format!(
            "{{\"zarr_format\": 3, \"node_type\": \"array\", \"shape\": [4], \"data_type\": \"float32\"{more}}}"
        )
    };
    case("floats", &array(""));
    said.line(
        "a damaged chunk",
        decode_chunk(&[1, 2, 3, 4, 5, 6], 4).err().map(|e| format!("{e}.")),
    );
}
