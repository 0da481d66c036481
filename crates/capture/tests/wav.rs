//! WAV by its bytes: every width, RF64, extensible, streamed and damaged headers, `auxi`.

#![allow(missing_docs)]

mod common;

use capture::{OpenOptions, Recording, TreatAs, open};
use common::{Folder, chunk, codes, format, iq, open_bytes, riff, samples};
use std::io::{Seek, SeekFrom, Write};
use units::{Iq, Samples, Utc};

fn plain() -> OpenOptions {
    OpenOptions::default()
}

/// A whole file, every byte spelled out: two channels of 16 bits at 48000 Hz, two frames.
#[test]
fn spelled_out() {
    #[rustfmt::skip]
    let bytes = [
        b'R', b'I', b'F', b'F', 0x2c, 0, 0, 0, b'W', b'A', b'V', b'E',
        b'f', b'm', b't', b' ', 16, 0, 0, 0, 1, 0, 2, 0,
        0x80, 0xbb, 0, 0, 0x00, 0xee, 0x02, 0x00, 4, 0, 16, 0,
        b'd', b'a', b't', b'a', 8, 0, 0, 0,
        0x00, 0x40, 0x00, 0xc0, 0xff, 0x7f, 0x00, 0x80,
    ];
    let opened = open_bytes("a.wav", &bytes, &plain()).expect("opens");
    assert_eq!(samples(&opened), [Iq::new(0.5, -0.5), Iq::new(32767.0 / 32768.0, -1.0)]);
    assert_eq!(iq(&opened).sample_rate_hz(), 48_000.0);
    assert_eq!(opened.format, "wav ci16_le");
    assert_eq!(iq(&opened).rail_limits(), Some((-1.0, 32767.0 / 32768.0)));
    let sound = OpenOptions { treat_as: Some(TreatAs::Sound), ..plain() };
    let opened = open_bytes("a.wav", &bytes, &sound).expect("opens");
    let Recording::Sound(sound) = &opened.recording else { panic!("sound") };
    assert_eq!((sound.channels(), sound.len()), (2, 2));
    let mut out = [0.0; 2];
    sound.read(1, &mut out).expect("a frame");
    assert_eq!(out, [32767.0 / 32768.0, -1.0]);
}

#[test]
fn every_width() {
    let cases: [(u16, u16, &[u8], [f32; 2]); 6] = [
        (1, 8, &[0xc0, 0x00], [0.5, -1.0]),
        (1, 16, &[0x00, 0x40, 0x00, 0x80], [0.5, -1.0]),
        (1, 24, &[0, 0, 0x40, 0, 0, 0x80], [0.5, -1.0]),
        (1, 32, &[0, 0, 0, 0x40, 0, 0, 0, 0x80], [0.5, -1.0]),
        (3, 32, &[0, 0, 0, 0x3f, 0, 0, 0x80, 0xbf], [0.5, -1.0]),
        (3, 64, &[0, 0, 0, 0, 0, 0, 0xe0, 0x3f, 0, 0, 0, 0, 0, 0, 0xf0, 0xbf], [0.5, -1.0]),
    ];
    for (tag, bits, data, expected) in cases {
        let bytes = riff(&[format(tag, 2, 1000, bits), chunk(b"data", data)]);
        let opened = open_bytes("a.wav", &bytes, &plain()).expect("opens");
        assert_eq!(samples(&opened), [Iq::new(expected[0], expected[1])], "{tag} {bits}");
    }
}

/// WAVE_FORMAT_EXTENSIBLE: the sub-format's GUID begins with the tag proper.
#[test]
fn extensible() {
    let mut body = format(0xfffe, 2, 1000, 16)[8..].to_vec();
    body.extend(22u16.to_le_bytes());
    body.extend(12u16.to_le_bytes()); // valid bits
    body.extend(3u32.to_le_bytes()); // channel mask
    body.extend([1, 0, 0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71]);
    let bytes = riff(&[chunk(b"fmt ", &body), chunk(b"data", &[0, 0x40, 0, 0x40])]);
    let opened = open_bytes("a.wav", &bytes, &plain()).expect("opens");
    assert_eq!(samples(&opened), [Iq::new(0.5, 0.5)]);
}

/// Chunks of odd length are padded; unknown ones are passed over, before and after the samples.
#[test]
fn odd_chunks_and_order() {
    let data = chunk(b"data", &[0x80, 0x80, 0xff]);
    let auxi = chunk(b"auxi", &auxi_bytes(100_100_000));
    let bytes =
        riff(&[chunk(b"LIST", b"odd"), format(1, 2, 1000, 8), chunk(b"junk", b"x"), data, auxi]);
    let opened = open_bytes("a.wav", &bytes, &plain()).expect("opens");
    assert_eq!(samples(&opened), [Iq::new(0.0, 0.0)]);
    assert_eq!(codes(&opened), ["partial_sample"]);
    assert_eq!(iq(&opened).segments()[0].centre_hz, Some(100.1e6));
}

/// 2026-03-01 is a Sunday (0); 21:30:05.250.
fn auxi_bytes(centre: u32) -> Vec<u8> {
    let mut body = Vec::new();
    for word in [2026u16, 3, 0, 1, 21, 30, 5, 250, 2026, 3, 0, 1, 21, 31, 5, 250] {
        body.extend(word.to_le_bytes());
    }
    body.extend(centre.to_le_bytes());
    body.resize(68, 0);
    body
}

#[test]
fn auxi_gives_centre_and_start() {
    let bytes = riff(&[
        format(1, 2, 1000, 16),
        chunk(b"auxi", &auxi_bytes(433_920_000)),
        chunk(b"data", &[0; 8]),
    ]);
    let opened = open_bytes("a.wav", &bytes, &plain()).expect("opens");
    assert_eq!(iq(&opened).segments()[0].centre_hz, Some(433_920_000.0));
    assert_eq!(opened.start, Some(Utc::parse("2026-03-01T21:30:05.25Z").expect("a time")));
    assert!(opened.warnings.is_empty());
    let over =
        OpenOptions { rate_hz: Some(2000.0), centre_hz: Some(1e6), start: Some(Utc(0)), ..plain() };
    let opened = open_bytes("a.wav", &bytes, &over).expect("opens");
    assert_eq!(codes(&opened), ["rate_overridden", "centre_overridden", "start_overridden"]);
    assert_eq!(opened.start, Some(Utc(0)));
    let xml = riff(&[
        format(1, 2, 1000, 16),
        chunk(b"auxi", "<\0?\0x\0m\0l\0 this is some sixteen-bit text".as_bytes()),
        chunk(b"data", &[0; 8]),
    ]);
    let opened = open_bytes("a.wav", &xml, &plain()).expect("opens");
    assert_eq!(codes(&opened), ["auxi_not_understood", "centre_unknown"]);
}

/// A recorder that is killed, or that streams, leaves a length of 0, of 2^32 - 1, or a wrong one.
#[test]
fn wrong_lengths_are_cut_to_the_file() {
    for (stated, code) in
        [(0, "data_size_missing"), (u32::MAX, "data_size_too_large"), (99, "data_size_too_large")]
    {
        let mut bytes = riff(&[format(1, 2, 1000, 16), chunk(b"data", &[0; 8])]);
        let at = bytes.len() - 12;
        bytes[at..at + 4].copy_from_slice(&u32::to_le_bytes(stated));
        let opened = open_bytes("a.wav", &bytes, &plain()).expect("opens");
        assert_eq!(iq(&opened).len(), 2, "{stated}");
        assert_eq!(codes(&opened), [code, "centre_unknown"], "{stated}");
    }
}

/// EBU Tech 3306: RF64 with the true lengths in ds64; more than 4 GiB as a sparse file.
#[test]
fn rf64_beyond_4_gib() {
    let folder = Folder::new();
    let path = folder.path("large.wav");
    let frames: u64 = (5 << 30) / 4;
    let mut header = b"RF64\xff\xff\xff\xffWAVE".to_vec();
    let mut ds64 = (4 * frames + 72).to_le_bytes().to_vec();
    ds64.extend((4 * frames).to_le_bytes());
    ds64.extend(frames.to_le_bytes());
    ds64.extend([0; 4]);
    header.extend(chunk(b"ds64", &ds64));
    header.extend(format(1, 2, 1_000_000, 16));
    header.extend(b"data\xff\xff\xff\xff");
    let first = header.len() as u64;
    let mut file = std::fs::File::create(&path).expect("a file");
    file.write_all(&header).expect("written");
    file.seek(SeekFrom::Start(first + 4 * (frames - 1))).expect("sought");
    file.write_all(&[0x00, 0x40, 0x00, 0xc0]).expect("written");
    // A chunk after the samples is found only if their length is right.
    file.write_all(&chunk(b"auxi", &auxi_bytes(7_000_000))).expect("written");
    drop(file);
    let opened = open(&path, &plain()).expect("opens");
    assert_eq!(iq(&opened).len(), frames);
    assert_eq!(iq(&opened).segments()[0].centre_hz, Some(7e6));
    let mut out = [Iq::default(); 2];
    iq(&opened).read(frames - 2, &mut out).expect("samples");
    assert_eq!(out, [Iq::new(0.0, 0.0), Iq::new(0.5, -0.5)]);
    assert!(opened.warnings.is_empty(), "{:?}", opened.warnings);
    // The same lengths in a plain RIFF header that passed 4 GiB and began anew.
    let mut wrapped = riff(&[format(1, 2, 1_000_000, 16)]);
    wrapped.extend(b"data");
    wrapped.extend(((4 * frames) as u32).to_le_bytes());
    let path = folder.put("wrapped.wav", &wrapped);
    let file = std::fs::OpenOptions::new().write(true).open(&path).expect("a file");
    file.set_len(wrapped.len() as u64 + 4 * frames).expect("grown");
    let opened = open(&path, &plain()).expect("opens");
    assert_eq!(iq(&opened).len(), frames);
    assert_eq!(codes(&opened), ["data_size_wrapped", "centre_unknown"]);
}

#[test]
fn channels_decide() {
    let mono = riff(&[format(1, 1, 8000, 16), chunk(b"data", &[0, 0x40])]);
    let opened = open_bytes("a.wav", &mono, &plain()).expect("opens");
    assert!(matches!(opened.recording, Recording::Sound(_)));
    let as_iq = OpenOptions { treat_as: Some(TreatAs::Iq), ..plain() };
    let e = open_bytes("a.wav", &mono, &as_iq).expect_err("one channel");
    assert!(e.to_string().contains("1 channels"), "{e}");
    let four = riff(&[format(1, 4, 8000, 16), chunk(b"data", &[0; 16])]);
    let opened = open_bytes("a.wav", &four, &plain()).expect("opens");
    assert_eq!(opened.format, "wav sound i16_le");
}
