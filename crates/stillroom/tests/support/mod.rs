//! What the tests of the command line share: running the program, and small recordings whose
//! content is known because it is written here sample by sample.
#![allow(dead_code)] // each test file uses its own part of this

pub mod wire;

use assert_cmd::Command;
use std::f64::consts::TAU;
use std::path::{Path, PathBuf};

/// How a run ended.
pub struct Ran {
    pub status: i32,
    pub out: String,
    pub err: String,
}

/// Runs the program, with nobody named in the environment. What it says on standard error is given
/// without the line breaks that fit it to a terminal.
pub fn run(args: &[&str]) -> Ran {
    let mut command = Command::cargo_bin("stillroom").expect("the program is built");
    command.env_remove("STILLROOM_BY").env("NO_COLOR", "1").args(args);
    let output = command.output().expect("it starts");
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("UTF-8");
    Ran {
        status: output.status.code().expect("a status"),
        out: text(&output.stdout),
        err: text(&output.stderr).replace("\n    ", " "),
    }
}

/// Runs the program and expects status 0.
pub fn done(args: &[&str]) -> Ran {
    let ran = run(args);
    assert_eq!(ran.status, 0, "{args:?}\n{}\n{}", ran.out, ran.err);
    ran
}

/// A tone of a recording: offset from the centre, level in dBFS, on from when to when.
#[derive(Clone, Copy)]
pub struct Tone {
    pub offset_hz: f64,
    pub dbfs: f64,
    pub on_s: (f64, f64),
}

/// A tone that never stops.
pub fn tone(offset_hz: f64, dbfs: f64) -> Tone {
    Tone { offset_hz, dbfs, on_s: (0.0, f64::INFINITY) }
}

/// A linear congruential generator (Knuth, MMIX) and Box-Muller: noise that any machine repeats.
pub struct Noise(pub u64);

impl Noise {
    fn uniform(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }
    /// Two normal variates.
    pub fn pair(&mut self) -> (f64, f64) {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        let (sin, cos) = (TAU * self.uniform()).sin_cos();
        (radius * cos, radius * sin)
    }
}

/// Samples a second of every recording made here.
pub const RATE: f64 = 250e3;

/// Interleaved 16-bit samples: tones in white noise of −60 dBFS over the whole rate.
fn samples(seconds: f64, tones: &[Tone], seed: u64) -> Vec<u8> {
    let mut noise = Noise(seed);
    let sigma = (1e-6f64 / 2.0).sqrt();
    let mut bytes = Vec::new();
    for n in 0..(seconds * RATE) as u64 {
        let t = n as f64 / RATE;
        let (mut i, mut q) = noise.pair();
        (i, q) = (i * sigma, q * sigma);
        for tone in tones.iter().filter(|tone| (tone.on_s.0..tone.on_s.1).contains(&t)) {
            let amplitude = 10f64.powf(tone.dbfs / 20.0);
            let (sin, cos) = (TAU * tone.offset_hz * t).sin_cos();
            (i, q) = (i + amplitude * cos, q + amplitude * sin);
        }
        for v in [i, q] {
            bytes.extend(((v * 32768.0).round().clamp(-32768.0, 32767.0) as i16).to_le_bytes());
        }
    }
    bytes
}

/// A raw file of 16-bit samples.
pub fn raw(dir: &Path, name: &str, seconds: f64, tones: &[Tone]) -> PathBuf {
    let path = dir.join(name);
    std::fs::write(&path, samples(seconds, tones, 1)).expect("written");
    path
}

/// A SigMF recording, centred on 433.92 MHz; gives its metadata file. The seed makes the noise,
/// so that no two recordings are the same bytes.
pub fn sigmf(
    dir: &Path,
    name: &str,
    start: &str,
    seconds: f64,
    tones: &[Tone],
    seed: u64,
) -> PathBuf {
    std::fs::write(dir.join(format!("{name}.sigmf-data")), samples(seconds, tones, seed))
        .expect("written");
    let meta = serde_json::json!({
        "global": {"core:datatype": "ci16_le", "core:sample_rate": RATE, "core:version": "1.2.0"},
        "captures": [{"core:sample_start": 0, "core:frequency": 433.92e6, "core:datetime": start}],
        "annotations": [],
    });
    let path = dir.join(format!("{name}.sigmf-meta"));
    std::fs::write(&path, meta.to_string()).expect("written");
    path
}

/// A path as an argument.
pub fn arg(path: &Path) -> &str {
    path.to_str().expect("a plain path")
}

/// Every line fits a terminal of 100 columns.
pub fn fits(text: &str) {
    for line in text.lines() {
        assert!(line.chars().count() <= 100, "{} columns: {line}", line.chars().count());
    }
}
