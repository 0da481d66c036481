//! `simulate` from outside: a scene in TOML becomes recordings with their truth.

mod support;

use support::{arg, done, run};

const SCENE: &str = r#"
name = "one carrier and a yard"
region = "CEPT"
start = "2026-03-01T20:00:00Z"

[[positions]]
name = "yard"
place = { at_m = [0.0, 0.0] }

[[emitters]]
name = "carrier"
planted = true
place = { at_m = [10.0, 0.0] }
eirp_dbm = 0.0
centre_hz = 433.96e6
signal = { kind = "cw" }

[[chains]]
name = "stick"
sample_rate_hz = 250e3
centres_hz = [433.92e6]
noise_figure_db = 6.0
gain_db = 30.0
full_scale_dbm = 0.0
adc_bits = 16

[[visits]]
name = "yard-1"
chain = "stick"
position = "yard"
role = "reference"
start = "2026-03-01T20:00:00Z"
duration_s = 0.5
"#;

#[test]
fn a_scene_becomes_recordings_and_truth() {
    let dir = tempfile::tempdir().expect("a folder");
    let scene = dir.path().join("scene.toml");
    std::fs::write(&scene, SCENE).expect("written");
    let out = dir.path().join("out");
    let ran = done(&["simulate", arg(&scene), "--out", arg(&out)]);
    assert!(ran.out.contains("yard-1.sigmf-meta"), "{}", ran.out);
    let data = std::fs::read(out.join("yard-1.sigmf-data")).expect("data");
    assert_eq!(data.len(), 125_000 * 4);
    let truth = std::fs::read_to_string(out.join("truth.json")).expect("truth");
    let truth: serde_json::Value = serde_json::from_str(&truth).expect("JSON");
    // ITU-R P.525: 45.2 dB over 10 m (and 1.2 m heights) at 434 MHz; 30 dB of gain.
    let level = truth["visits"][0]["emitters"][0]["level_dbfs"].as_f64().expect("a level");
    assert!((level - (-45.2 + 30.0)).abs() < 0.1, "{level}");
    // The samples carry that level: mean |x|² of what was written.
    let power = |bytes: &[u8]| {
        let v = f64::from(i16::from_le_bytes([bytes[0], bytes[1]])) / 32768.0;
        v * v
    };
    let mean = data.chunks_exact(2).map(power).sum::<f64>() * 2.0 / (data.len() / 2) as f64;
    assert!((10.0 * mean.log10() - level).abs() < 0.2, "{}", 10.0 * mean.log10());
    // The same seed gives the same bytes, another one others.
    let again = dir.path().join("again");
    done(&["simulate", arg(&scene), "--out", arg(&again), "--seed", "1"]);
    assert!(std::fs::read(again.join("yard-1.sigmf-data")).expect("data") == data);
    let other = dir.path().join("other");
    done(&["simulate", arg(&scene), "--out", arg(&other), "--seed", "2"]);
    assert!(std::fs::read(other.join("yard-1.sigmf-data")).expect("data") != data);
    // Nothing is left beside, and nothing is written over.
    let left = std::fs::read_dir(dir.path()).expect("listed").filter_map(Result::ok);
    assert_eq!(left.count(), 4);
    let over = run(&["simulate", arg(&scene), "--out", arg(&out)]);
    assert_eq!(over.status, 2);
    assert!(over.err.contains("empty"), "{}", over.err);
}

#[test]
fn a_scene_that_cannot_be_says_which_key() {
    let dir = tempfile::tempdir().expect("a folder");
    let scene = dir.path().join("scene.toml");
    let out = dir.path().join("out");
    let floor = "[[floors]]\nname = \"g\"\nlevel_m = 0\n\
        rooms = [{ name = \"r\", x_m = [0, 7], y_m = [0, 4] }]\n\
        walls = [{ from_m = [0, 0], to_m = [7, 0], material = \"brick_single\" }]\n";
    let scene_text = SCENE.replacen("[[positions]]", &format!("{floor}\n[[positions]]"), 1);
    for (from, to, words) in [
        ("kind = \"cw\"", "kind = \"whistle\"", "whistle"),
        ("chain = \"stick\"", "chain = \"none\"", "none"),
        ("noise_figure_db = 6.0", "noise_figure_dB = 6.0", "noise_figure_dB"),
        ("duration_s = 0.5", "duration_s = -1.0", "duration_s"),
        ("name = \"one carrier and a yard\"", "name = ", "line 2"),
        // The mark stays under what is wrong.
        ("name = \"one carrier and a yard\"", "name = ", "2 | name =\n  |        ^"),
        ("region = \"CEPT\"", "region = \"MARS\"", "give WORLD"),
        ("position = \"yard\"", "position = \"yrad\"", "give one of 'yard'"),
        ("at_m = [0.0, 0.0]", "at_m = [0.0, 0.0, 0.0]", "3 numbers; expected two"),
        ("at_m = [0.0, 0.0]", "at_m = [0.0, 0.0], height_m = 1e308", "1e308 cannot be"),
        ("at_m = [0.0, 0.0]", "floor = \"g\", at_m = [0, 0], height_m = -3", "-3 cannot be"),
        ("x_m = [0, 7]", "x_m = [7, 0]", "the smaller edge first"),
        ("to_m = [7, 0]", "to_m = [0, 0]", "the wall's two ends"),
    ] {
        std::fs::write(&scene, scene_text.replacen(from, to, 1)).expect("written");
        let ran = run(&["simulate", arg(&scene), "--out", arg(&out)]);
        assert_eq!(ran.status, 2, "{to}: {}", ran.err);
        assert!(ran.err.contains("scene.toml") && ran.err.contains(words), "{to}: {}", ran.err);
        assert!(!out.exists(), "{to} left something");
    }
    let none = run(&["simulate", "nowhere.toml", "--out", arg(&out)]);
    assert_eq!(none.status, 2, "{}", none.err);
}

/// A hand-held that is carried from the gate to the yard: what its stick holds, and the notebook.
const WALK: &str = r#"
time_zone = "Europe/Vienna"

[[positions]]
name = "gate"
place = { at_m = [9000.0, 0.0] }

[[detectors]]
name = "pocket"
bands = [{ label = "430", low_hz = 430e6, high_hz = 440e6 }]
threshold_dbm = -50.0
step_db = 4.0
steps = 12
hold_s = 2.0
longest_s = 300.0

[[walks]]
name = "round"
detector = "pocket"
until = "2026-03-01T20:30:00Z"
stops = [
    { position = "gate", arrived = "2026-03-01T20:00:00Z" },
    { position = "yard", arrived = "2026-03-01T20:10:20Z" },
]
"#;

#[test]
fn a_walk_becomes_a_log_and_movements() {
    let dir = tempfile::tempdir().expect("a folder");
    let scene = dir.path().join("scene.toml");
    // Keys of the top come before tables.
    let (top, tables) = WALK.split_once("\n\n").expect("two parts");
    let text = SCENE.replacen("region = \"CEPT\"\n", &format!("region = \"CEPT\"{top}\n"), 1);
    std::fs::write(&scene, format!("{text}\n{tables}")).expect("written");
    let out = dir.path().join("out");
    let ran = done(&["simulate", arg(&scene), "--out", arg(&out)]);
    assert!(ran.out.contains("--columns") && ran.out.contains("Strength/12"), "{}", ran.out);
    let log = std::fs::read_to_string(out.join("round.csv")).expect("a log");
    let lines: Vec<&str> = log.lines().collect();
    assert_eq!(lines[0], "Time,Band,Strength,Seconds");
    // The carrier is over the threshold in the yard only, and logged in pieces of five minutes;
    // the detector shows the minute of Vienna, an hour ahead of UTC in March.
    assert!(lines[1].starts_with("2026-03-01 21:10,430-440 MHz (430),"), "{}", lines[1]);
    assert_eq!(lines.len(), 5, "{log}");
    let movements = std::fs::read_to_string(out.join("round-movements.csv")).expect("movements");
    assert!(movements.contains("2026-03-01T20:10:20Z,yard"), "{movements}");
}
