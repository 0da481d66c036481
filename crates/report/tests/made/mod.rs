//! Surveys for the tests: recordings that say themselves what they show, so that what a report says
//! can be compared with what was put in. And a strict reader of the page.
#![allow(dead_code)] // each test file uses a part of this

pub mod xml;

use ledger::{CaptureKind, Ground, Role, State};
use report::Facts;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use survey::{
    AddOptions, Derived, Deriver, Look, Named, NewSurvey, Overrides, Progress, Quiet, Survey,
    SurveyError, Task, Verdict,
};
use units::Utc;

/// Seconds that every recording lasts.
pub const LASTS_S: f64 = 60.0;
/// Band that every recording listened to, hertz.
pub const BAND_HZ: (f64, f64) = (400e6, 500e6);

/// An analysis that believes what the recording says.
#[derive(Debug)]
struct Believes;

fn said(path: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(path).expect("a recording")).expect("JSON")
}

impl Deriver for Believes {
    fn engine(&self) -> u32 {
        1
    }
    fn recordings(&self, files: &[PathBuf]) -> Result<Vec<Named>, SurveyError> {
        let named =
            |path: &PathBuf| Named { path: path.clone(), inner: None, warnings: Vec::new() };
        Ok(files.iter().map(named).collect())
    }
    fn look(&self, path: &Path, _: &Overrides) -> Result<Look, SurveyError> {
        Ok(Look {
            kind: CaptureKind::Iq,
            format: "told".into(),
            files: vec![path.to_owned()],
            start: Some(
                Utc::parse(said(path)["start"].as_str().expect("a start")).expect("a time"),
            ),
            duration_s: LASTS_S,
            centre_unknown: false,
            places: Vec::new(),
            rows: Vec::new(),
            warnings: Vec::new(),
        })
    }
    fn derive(&self, task: &Task<'_>, _: &dyn Progress) -> Result<Derived, SurveyError> {
        let says = said(task.path);
        let mut rows = Vec::new();
        let mut bursts = "emission,start_s,stop_s,centre_hz,bandwidth_hz,snr_db\n".to_owned();
        for row in says["rows"].as_array().expect("rows") {
            let (centre, level) = (row[0].as_f64().expect("a centre"), &row[1]);
            let calibration_db = task.parameters.calibration_db;
            let level_dbm = level.as_f64().zip(calibration_db).map(|(dbfs, db)| dbfs + db);
            let id = format!("R{}", rows.len() + 1);
            for at in [5.0, 25.0, 45.0] {
                bursts.push_str(&format!("{id},{at},{},{centre},12500,30\n", at + 2.0));
            }
            rows.push(json!({
                "id": id, "first_s": 5.0, "last_s": 47.0, "centre_hz": centre,
                "low_hz": centre - 6250.0, "high_hz": centre + 6250.0, "bandwidth_hz": 12500.0,
                "bandwidth_is": "measured", "shape": "bursts", "channels_hz": null,
                "bursts": {"count": 3, "median_s": 2.0, "period_s": 20.0, "on_fraction": 0.1},
                "level_dbfs": level, "level_dbm": level_dbm, "snr_db": 30.0,
                "u": {"centre_hz": 20.0, "bandwidth_hz": 200.0, "level_db": 0.5, "first_s": 0.1,
                      "last_s": 0.1, "period_s": null},
                "measured": {}, "modulation": null, "technology": null, "allocations": []
            }));
        }
        std::fs::write(task.folder.join("bursts.csv"), bursts).expect("written");
        let derived = json!({"events": [], "analysis": {
            "recording": {"path": "x", "sha256": task.sha256, "format": "told",
                "sample_rate_hz": 1e6, "centre_hz": 450e6, "start": says["start"],
                "duration_s": LASTS_S, "samples": 60_000_000u64, "clipped_fraction": 0.0,
                "segments": []},
            "emissions": rows,
            "listened": [{"low_hz": BAND_HZ.0, "high_hz": BAND_HZ.1, "looked_s": says["looked_s"],
                          "limit_dbfs": -110.0, "limit_dbm": null}],
            "warnings": []
        }});
        Ok(serde_json::from_value(derived).expect("what was derived"))
    }
}

/// A survey in a folder of its own.
pub struct Made {
    pub place: tempfile::TempDir,
    pub survey: Survey,
}

/// A new survey of this name.
pub fn survey(name: &str) -> Made {
    let place = tempfile::tempdir().expect("a temporary folder");
    let new = NewSurvey {
        name: Some(name.into()),
        region: Some("CEPT".into()),
        time_zone: Some("Europe/Vienna".into()),
        by: Some("T. Ashdown".into()),
    };
    let survey = Survey::create_with(&place.path().join("case"), &new, Box::new(Believes));
    Made { survey: survey.expect("a survey"), place }
}

impl Made {
    /// Brings in a recording of some emissions in an empty room: (centre in hertz, level in dBFS).
    pub fn record(&self, start: &str, role: Role, at: &str, rows: &[(f64, f64)]) {
        self.record_with(start, role, at, rows, |_| {});
    }

    /// The same with other circumstances.
    pub fn record_with(
        &self,
        start: &str,
        role: Role,
        at: &str,
        rows: &[(f64, f64)],
        change: impl FnOnce(&mut AddOptions),
    ) {
        self.listen((start, LASTS_S), role, at, rows, change);
    }

    /// The same, looking at the band only for so many of its seconds.
    pub fn listen(
        &self,
        (start, looked_s): (&str, f64),
        role: Role,
        at: &str,
        rows: &[(f64, f64)],
        change: impl FnOnce(&mut AddOptions),
    ) {
        let path = self.place.path().join(format!("{at}-{start}.json").replace(['<', '/'], "_"));
        let rows: Vec<_> = rows.iter().map(|(hz, dbfs)| json!([hz, dbfs])).collect();
        let says = json!({"start": start, "rows": rows, "at": at, "looked_s": looked_s});
        std::fs::write(&path, says.to_string()).expect("written");
        let mut options = AddOptions {
            at: Some(at.into()),
            chain: Some("recorder".into()),
            gain_db: Some(20.0),
            condition: Some("empty".into()),
            ..AddOptions::new(role)
        };
        change(&mut options);
        self.survey.add(&[path], &options, "T. Ashdown", &Quiet).expect("added");
    }

    /// Writes more into the record.
    pub fn describe(&self, text: &str) {
        self.survey.apply(text, "T. Ashdown").expect("applied");
    }

    /// Decides the row at a frequency.
    pub fn decide(&self, hz: f64, state: State, reason: &str) {
        let ledger = self.survey.ledger(&Quiet).expect("a ledger").ledger;
        let row = ledger.emissions.iter().find(|row| (row.emission.centre_hz - hz).abs() < 1e3);
        let id = row.expect("a row there").id.clone();
        let ground = (state == State::Accounted).then_some(Ground::Seen);
        let verdict = Verdict { state, ground, reason: reason.into() };
        self.survey.decide(&[id], &verdict, None, "T. Ashdown").expect("decided");
    }

    /// What a report of it says.
    pub fn facts(&self) -> Facts {
        let made = Utc::parse("2026-03-02T08:00:00Z").expect("a time");
        Facts::gather(&self.survey, "9.9.9", made, &Quiet).expect("gathered")
    }
}

/// Three emissions in an office, two of them in the yard too.
pub fn office(name: &str) -> Made {
    let made = survey(name);
    let (yard, room) = ([(433.1e6, -60.0), (446.2e6, -50.0)], [(433.1e6, -70.0), (446.2e6, -62.0)]);
    made.record("2026-03-01T20:00:00Z", Role::Reference, "Yard", &yard);
    let with = [room[0], room[1], (468.55e6, -40.0)];
    made.record("2026-03-01T21:00:00Z", Role::Room, "Board room", &with);
    made.record("2026-03-01T21:10:00Z", Role::Room, "Kitchen", &room);
    made
}
