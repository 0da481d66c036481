//! The program itself, killed (SIGKILL) at random moments while it brings in and analyses recordings
//! that `simulate` made: what was acknowledged is there, nothing is half there, and what is derived
//! in the end is to the byte what a run in peace derives.
//!
//! Twelve times, or as often as STILLROOM_KILLS says.

#![allow(missing_docs)]

mod support;

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;
use support::{arg, done};

const VISITS: usize = 6;

/// A yard and a room, a sender of bursts and a carrier; a few seconds of each.
fn scene() -> String {
    let mut text = String::from(
        r#"
name = "to be killed"
region = "CEPT"
start = "2026-03-01T20:00:00Z"
[[positions]]
name = "yard"
place = { at_m = [0.0, 0.0] }
[[positions]]
name = "shed"
place = { at_m = [30.0, 0.0] }
[[emitters]]
name = "carrier"
place = { at_m = [12.0, 3.0] }
eirp_dbm = 0.0
centre_hz = 433.96e6
signal = { kind = "cw" }
[[emitters]]
name = "bursts"
planted = true
place = { at_m = [25.0, 4.0] }
eirp_dbm = 5.0
centre_hz = 433.85e6
signal = { kind = "fsk", levels = 2, symbol_rate = 9600, deviation_hz = 9600 }
schedule = { kind = "periodic", period_s = 0.3, on_s = 0.05, first_s = 0.1 }
[[chains]]
name = "stick"
sample_rate_hz = 250e3
centres_hz = [433.92e6]
noise_figure_db = 6.0
gain_db = 20.0
full_scale_dbm = 0.0
adc_bits = 16
"#,
    );
    for visit in 0..VISITS {
        let position = if visit == 0 { "yard" } else { "shed" };
        text += &format!(
            "[[visits]]\nname = \"v{visit}\"\nchain = \"stick\"\nposition = \"{position}\"\n\
             role = \"room\"\nstart = \"2026-03-01T20:{visit}0:00Z\"\nduration_s = 4.0\n"
        );
    }
    text
}

fn new(place: &Path, name: &str) -> PathBuf {
    let case = place.join(name);
    done(&["new", arg(&case), "--region", "CEPT", "--time-zone", "UTC", "--by", "a test"]);
    case
}

fn command(case: &Path, files: &[PathBuf]) -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin("stillroom"));
    command.args(["add", arg(case), "--role", "room", "--at", "shed", "--chain", "rx"]).args(files);
    command.env("NO_COLOR", "1").stdout(Stdio::null()).stderr(Stdio::piped());
    command
}

/// Every file under derived/, by its path there.
fn derived(case: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let root = case.join("derived");
    let (mut files, mut folders) = (BTreeMap::new(), vec![root.clone()]);
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).expect("listed") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(&root).expect("under it").to_owned();
                files.insert(name, std::fs::read(path).expect("read"));
            }
        }
    }
    files
}

#[test]
fn killed_while_it_analyses_nothing_is_lost_or_half_there() {
    let kills: u64 =
        std::env::var("STILLROOM_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(12);
    let place = tempfile::tempdir().expect("a temporary folder");
    std::fs::write(place.path().join("scene.toml"), scene()).expect("written");
    let out = place.path().join("out");
    done(&["simulate", arg(&place.path().join("scene.toml")), "--out", arg(&out), "--seed", "5"]);
    let files: Vec<PathBuf> = (0..VISITS).map(|v| out.join(format!("v{v}.sigmf-meta"))).collect();
    // In peace: what there is to come to, and how long it takes.
    let peace = new(place.path(), "peace");
    let began = Instant::now();
    assert!(command(&peace, &files).stderr(Stdio::null()).status().expect("ran").success());
    let whole = began.elapsed();
    let wanted = derived(&peace);
    for name in ["analysis.json", "bursts.csv", "zarr.json"] {
        let with = wanted.keys().filter(|path| path.ends_with(name)).count();
        assert!(with >= VISITS, "{with} of {name}");
    }

    let mut acknowledged = 0;
    let (mut cut, mut within) = (0, 0);
    let mut case = new(place.path(), "case 0");
    for kill in 0..kills {
        let mut child = command(&case, &files).spawn().expect("started");
        let lines = BufReader::new(child.stderr.take().expect("its words")).lines();
        let reader = std::thread::spawn(move || {
            lines.map_while(Result::ok).filter(|l| l.starts_with("stored: ")).count()
        });
        // Knuth's multiplier (from memory) scatters the moments over the whole of it.
        let part = (kill + 1).wrapping_mul(6_364_136_223_846_793_005) >> 40;
        std::thread::sleep(whole.mul_f64(part as f64 / (1u64 << 24) as f64));
        child.kill().expect("killed"); // SIGKILL
        cut += usize::from(!child.wait().expect("ended").success());
        acknowledged += reader.join().expect("lines");
        done(&["verify", arg(&case)]);
        let half = derived(&case).len();
        within += usize::from(half > 0 && half < wanted.len());
        let listed = done(&["emissions", arg(&case), "--json"]);
        let ledger: serde_json::Value = serde_json::from_str(&listed.out).expect("JSON alone");
        let captures = ledger["captures"].as_array().expect("a list").len();
        assert!(captures >= acknowledged, "kill {kill}: {captures} of {acknowledged} captures");
        // What waits was taken up: every capture has its data, and no other data is there.
        for (name, bytes) in derived(&case) {
            assert!(wanted.get(&name) == Some(&bytes), "kill {kill}: {}", name.display());
        }
        assert_eq!(derived(&case).len() * VISITS, wanted.len() * captures, "kill {kill}");
        acknowledged = captures;
        if captures == VISITS {
            case = new(place.path(), &format!("case {}", kill + 1));
            acknowledged = 0;
        }
    }
    println!("{kills} kills over {whole:?}: {cut} cut short, {within} amid the derived data");
    assert!(2 * cut > kills as usize, "the kills came too late to mean anything");
    assert!(within > 0, "no kill fell into an analysis");
}
