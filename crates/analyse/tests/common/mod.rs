//! What the tests of whole recordings share: scenes that are simulated and written by the writers
//! of `capture`, and the document as a stranger reads it.
#![allow(dead_code, reason = "each test uses a part")]

pub mod schema;
#[path = "../../../stillroom/tests/support/wire.rs"]
pub mod wire;

use analyse::{AnalyseOptions, Analysed, Document, Quiet, analyse};
use capture::write::{SigmfMeta, SigmfWriter, WavWriter};
use capture::{Number, NumberKind};
use serde_json::Value;
use simulate::{Piece, Scene, Simulation};
use std::path::{Path, PathBuf};
use units::Iq;

/// One receiver at 433.92 MHz for two seconds: a carrier, a keyed remote, a voice channel.
pub const SCENE: &str = r#"
name = "bench"
region = "CEPT"
time_zone = "UTC"
start = "2026-03-01T20:00:00Z"
[[positions]]
name = "bench"
place = { at_m = [0.0, 0.0] }
[[chains]]
name = "receiver"
sample_rate_hz = 1e6
centres_hz = [433.92e6]
noise_figure_db = 6.0
gain_db = 40.0
full_scale_dbm = 0.0
adc_bits = 16
[[visits]]
name = "recording"
chain = "receiver"
position = "bench"
role = "room"
start = "2026-03-01T20:00:00Z"
duration_s = 2.0
[[emitters]]
name = "carrier"
snr_db = 45.0
centre_hz = 434.2e6
signal = { kind = "cw" }
[[emitters]]
name = "voice"
snr_db = 30.0
centre_hz = 433.7e6
signal = { kind = "fm", deviation_hz = 2500.0, top_hz = 3000.0, sound = "programme" }
[[emitters]]
name = "keyed"
snr_db = 35.0
centre_hz = 434.05e6
signal = { kind = "fsk", levels = 2, symbol_rate = 9600.0, deviation_hz = 4800.0 }
schedule = { kind = "periodic", period_s = 0.5, on_s = 0.1, first_s = 0.1 }
"#;

/// The samples of a scene's first visit.
pub fn simulated(toml: &str) -> (Simulation, Vec<Iq>) {
    let scene: Scene = toml::from_str(toml).expect("a scene");
    let simulation = Simulation::new(&scene, 1).expect("sound");
    let mut all = Vec::new();
    let ended = simulation.synthesise::<std::convert::Infallible>(0, &mut |piece| {
        if let Piece::Samples(samples) = piece {
            all.extend_from_slice(samples);
        }
        Ok(())
    });
    match ended {
        Ok(()) => (simulation, all),
    }
}

/// Writes a scene's first visit as SigMF, its segments as they are.
pub fn sigmf(simulation: &Simulation, samples: &[Iq], folder: &Path) -> PathBuf {
    let plan = &simulation.visits()[0];
    let meta = SigmfMeta::new(plan.sample_rate_hz, Number::little(NumberKind::I16));
    let mut writer = SigmfWriter::create(folder, "recording", meta).expect("a folder");
    let mut rest = samples;
    for segment in &plan.segments {
        let (own, later) = rest.split_at(segment.samples as usize);
        writer.segment(Some(segment.centre_hz), Some(segment.start));
        writer.push(own).expect("written");
        rest = later;
    }
    writer.finish().expect("written")
}

/// The same samples as a WAV of I and Q.
pub fn wav(simulation: &Simulation, samples: &[Iq], folder: &Path) -> PathBuf {
    let plan = &simulation.visits()[0];
    let first = plan.segments[0];
    let path = folder.join("recording.wav");
    let (rate, centre) = (plan.sample_rate_hz, Some(first.centre_hz));
    let mut writer =
        WavWriter::iq(&path, NumberKind::I16, rate, centre, Some(first.start)).expect("begins");
    writer.push_iq(samples).expect("written");
    writer.finish().expect("written")
}

/// Analyses with nothing to stop it.
pub fn analysed(path: &Path, options: &AnalyseOptions) -> Analysed {
    analyse(path, options, &Quiet).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// The document as text, checked against the committed schema, and as a stranger reads it.
pub fn document(recordings: &[Analysed]) -> (String, wire::Analysis) {
    let text = serde_json::to_string(&Document::new(recordings)).expect("JSON");
    let value: Value = serde_json::from_str(&text).expect("JSON");
    let schema = include_str!("../../../../docs/schemas/stillroom.analysis.1.json");
    let schema: Value = serde_json::from_str(schema).expect("a schema");
    assert_eq!(schema::faults(&schema, &value), Vec::<String>::new());
    let read: wire::Analysis = serde_json::from_str(&text).expect("the contract");
    (text, read)
}
