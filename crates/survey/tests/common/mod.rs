//! An invented kind of recording that costs nothing to analyse: a JSON text that says itself what
//! it shows. So these tests try the store, not the signal processing.
#![allow(dead_code)] // each test file uses a part of this

use ledger::{CaptureKind, Ground, Role, State};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::time::Duration;
use survey::{
    AddOptions, Derived, Deriver, Look, Named, NewSurvey, Overrides, Progress, Quiet, Survey,
    SurveyError, Task, Verdict,
};
use units::Utc;

/// An analysis that believes what the recording says.
#[derive(Debug, Clone, Copy)]
pub struct Fake {
    /// Number of its results.
    pub engine: u32,
    /// How long each analysis takes.
    pub takes: Duration,
    /// How much higher each version puts every centre, hertz.
    pub step_hz: f64,
}

impl Fake {
    pub fn new() -> Box<Fake> {
        Fake::version(1)
    }
    pub fn version(engine: u32) -> Box<Fake> {
        Box::new(Fake { engine, takes: Duration::ZERO, step_hz: 1000.0 })
    }
}

fn text(path: &Path) -> Result<Value, SurveyError> {
    let refused = |why: String| SurveyError::Refused {
        what: format!("{}: {why}", path.display()),
        remedy: "Give a recording.".into(),
    };
    let bytes = std::fs::read(path).map_err(|e| refused(e.to_string()))?;
    serde_json::from_slice(&bytes).map_err(|e| refused(e.to_string()))
}

impl Deriver for Fake {
    fn engine(&self) -> u32 {
        self.engine
    }
    fn recordings(&self, files: &[PathBuf]) -> Result<Vec<Named>, SurveyError> {
        let named =
            |path: &PathBuf| Named { path: path.clone(), inner: None, warnings: Vec::new() };
        Ok(files.iter().map(named).collect())
    }
    fn look(&self, path: &Path, overrides: &Overrides) -> Result<Look, SurveyError> {
        let says = text(path)?;
        let kind = serde_json::from_value::<CaptureKind>(says["kind"].clone()).expect("a kind");
        let start = says["start"].as_str().map(|t| Utc::parse(t).expect("a time"));
        Ok(Look {
            kind,
            format: "fake".into(),
            files: vec![path.to_owned()],
            start: overrides.start.or(start),
            duration_s: says["duration_s"].as_f64().unwrap_or(60.0),
            centre_unknown: says["centre"].is_null() && overrides.centre_hz.is_none(),
            places: says["places"]
                .as_array()
                .map(|places| places.iter().filter_map(|p| p.as_str().map(str::to_owned)).collect())
                .unwrap_or_default(),
            rows: Vec::new(),
            warnings: Vec::new(),
        })
    }
    fn derive(&self, task: &Task<'_>, progress: &dyn Progress) -> Result<Derived, SurveyError> {
        std::thread::sleep(self.takes);
        progress.step(1, 1, "analysing");
        if progress.cancelled() {
            return Err(SurveyError::Cancelled);
        }
        let says = text(task.path)?;
        if says["broken"] == true {
            return Err(SurveyError::Refused {
                what: "broken".into(),
                remedy: "Record again.".into(),
            });
        }
        let span = task.parameters.range_s;
        let mut rows = Vec::new();
        for row in says["rows"].as_array().into_iter().flatten() {
            let at = row[2].as_f64().unwrap_or(0.0);
            if span.is_some_and(|(from, until)| at < from || at >= until) {
                continue;
            }
            let centre =
                row[0].as_f64().expect("a centre") + self.step_hz * f64::from(self.engine - 1);
            rows.push(json!({
                "id": format!("R{}", rows.len() + 1), "first_s": at, "last_s": at + 30.0,
                "centre_hz": centre, "low_hz": centre - 6250.0, "high_hz": centre + 6250.0,
                "bandwidth_hz": 12500.0, "bandwidth_is": "measured", "shape": "continuous",
                "channels_hz": null,
                "bursts": {"count": 1, "median_s": 30.0, "period_s": null, "on_fraction": 1.0},
                "level_dbfs": row[1], "level_dbm": null, "snr_db": 30.0,
                "u": {"centre_hz": 20.0, "bandwidth_hz": 200.0, "level_db": 0.5, "first_s": 0.1,
                      "last_s": 0.1, "period_s": null},
                "measured": {}, "modulation": null, "technology": null, "allocations": []
            }));
        }
        let analysis = json!({
            "recording": {"path": "x", "sha256": task.sha256, "format": "fake",
                "sample_rate_hz": 1e6, "centre_hz": 433e6, "start": says["start"],
                "duration_s": 60.0, "samples": 60_000_000u64, "clipped_fraction": 0.0,
                "segments": []},
            "emissions": rows,
            "listened": [{"low_hz": 400e6, "high_hz": 500e6, "looked_s": 60.0,
                          "limit_dbfs": -110.0, "limit_dbm": null}],
            "warnings": []
        });
        let mut analysis: analyse::RecordingAnalysis =
            serde_json::from_value(analysis).expect("an analysis");
        if says["nan"] == true {
            analysis.recording.duration_s = f64::NAN;
        }
        Ok(Derived { analysis, events: Vec::new() })
    }
}

/// A recording of some emissions: (centre in hertz, level in dBFS, seconds from the start).
pub fn recording(dir: &Path, name: &str, start: &str, rows: &[(f64, f64, f64)]) -> PathBuf {
    let path = dir.join(name);
    let rows: Vec<_> = rows.iter().map(|(hz, dbfs, s)| json!([hz, dbfs, s])).collect();
    let says = json!({"kind": "iq", "start": start, "centre": 433e6, "rows": rows, "name": name});
    std::fs::write(&path, says.to_string()).expect("written");
    path
}

/// A temporary folder.
pub fn place() -> tempfile::TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

/// Seen, and so accounted.
pub fn accounted(reason: &str) -> Verdict {
    Verdict { state: State::Accounted, ground: Some(Ground::Seen), reason: reason.into() }
}

pub fn new_survey(dir: &Path) -> Survey {
    let new = NewSurvey {
        name: Some("Heron".into()),
        region: Some("UK".into()),
        time_zone: Some("Europe/London".into()),
        by: Some("T. Ashdown".into()),
    };
    Survey::create_with(&dir.join("case"), &new, Fake::new()).expect("a survey")
}

pub fn open(dir: &Path) -> Survey {
    Survey::open_with(&dir.join("case"), Fake::new()).expect("opens")
}

pub fn at(role: Role, position: &str) -> AddOptions {
    AddOptions {
        at: Some(position.into()),
        chain: Some("receiver A".into()),
        ..AddOptions::new(role)
    }
}

/// Brings one recording in and gives its id.
pub fn add(survey: &Survey, file: &Path, options: &AddOptions) -> String {
    let added = survey.add(&[file.to_owned()], options, "", &Quiet).expect("added");
    assert_eq!(added.len(), 1);
    added[0].capture.clone()
}

/// A survey of a yard and two rooms with three emissions.
pub fn small(dir: &Path) -> Survey {
    let survey = new_survey(dir);
    let yard = recording(dir, "yard", "2026-03-01T20:00:00Z", &[(433_100_000.0, -60.0, 1.0)]);
    let board = recording(
        dir,
        "board",
        "2026-03-01T21:00:00Z",
        &[(433_100_000.0, -62.0, 1.0), (433_500_000.0, -40.0, 2.0)],
    );
    let office = recording(
        dir,
        "office",
        "2026-03-01T22:00:00Z",
        &[(433_500_000.0, -58.0, 2.0), (434_000_000.0, -70.0, 3.0)],
    );
    add(&survey, &yard, &at(Role::Reference, "yard"));
    add(&survey, &board, &at(Role::Room, "boardroom"));
    add(&survey, &office, &at(Role::Room, "office"));
    survey
}

/// Rows as (id, centre in kilohertz, captures that heard it, state).
pub fn rows(survey: &Survey) -> Vec<(String, i64, Vec<String>, String)> {
    let outcome = survey.ledger(&Quiet).expect("a ledger");
    let mut rows: Vec<_> = outcome
        .ledger
        .emissions
        .iter()
        .map(|row| {
            let mut heard: Vec<_> =
                row.receptions.iter().filter(|r| r.heard).map(|r| r.capture.clone()).collect();
            heard.sort();
            let state = serde_json::to_value(row.decision.state).expect("a word");
            let khz = (row.emission.centre_hz / 1000.0).round() as i64;
            (row.id.clone(), khz, heard, state.as_str().expect("a word").to_owned())
        })
        .collect();
    rows.sort_by_key(|row| row.1);
    rows
}

pub fn row_at(survey: &Survey, khz: i64) -> String {
    rows(survey).into_iter().find(|row| row.1 == khz).expect("a row there").0
}
