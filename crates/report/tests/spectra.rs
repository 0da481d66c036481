//! The spectrum of a finding, from recordings of tones of known power, and the strengths of a log.

#![allow(missing_docs)]
// A test may look into its own folders and ask other programs.
#![allow(clippy::disallowed_methods)]

mod made;

use ledger::{Role, State};
use made::{Made, office, xml};
use report::{Block, Facts, Figure, Plot, Spectrum, full, html};
use std::f64::consts::TAU;
use std::path::{Path, PathBuf};
use survey::{AddOptions, Around, NewSurvey, Quiet, Survey};

const RATE_HZ: f64 = 250e3;
const CENTRE_HZ: f64 = 433.92e6;
/// On the middle of a bin of the 1024 that the overview has.
const TONE_HZ: f64 = CENTRE_HZ + 123.0 * RATE_HZ / 1024.0;
const LASTS_S: f64 = 2.0;
/// The tone in the room is on from then to then.
const ON_S: (f64, f64) = (0.5, 1.5);
const GAIN_DB: f64 = 10.0;

/// A SigMF recording (ci16_le): a tone of this amplitude (1 is full scale) in a little noise.
fn recording(
    folder: &Path,
    name: &str,
    amplitude: f64,
    (from_s, until_s): (f64, f64),
) -> [PathBuf; 2] {
    let mut state = 1u64;
    let mut noise = || {
        // Knuth's linear congruential generator, MMIX.
        state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (state >> 40) as f64 / 2f64.powi(24) - 0.5
    };
    let mut data = Vec::new();
    for n in 0..(RATE_HZ * LASTS_S) as u64 {
        let s = n as f64 / RATE_HZ;
        let on = if (from_s..until_s).contains(&s) { amplitude } else { 0.0 };
        let (sin, cos) = (TAU * (TONE_HZ - CENTRE_HZ) * s).sin_cos();
        for part in [cos, sin] {
            let value = 32767.0 * (on * part + 1e-3 * noise());
            data.extend((value.round() as i16).to_le_bytes());
        }
    }
    let meta = format!(
        "{{\"global\": {{\"core:datatype\": \"ci16_le\", \"core:sample_rate\": {RATE_HZ}, \
         \"core:version\": \"1.2.0\"}}, \"captures\": [{{\"core:sample_start\": 0, \
         \"core:frequency\": {CENTRE_HZ}, \"core:datetime\": \"2026-03-01T20:00:00Z\"}}], \
         \"annotations\": []}}"
    );
    let files = ["sigmf-data", "sigmf-meta"].map(|kind| folder.join(format!("{name}.{kind}")));
    std::fs::write(&files[0], data).expect("written");
    std::fs::write(&files[1], meta).expect("written");
    files
}

fn empty() -> Made {
    let place = tempfile::tempdir().expect("a temporary folder");
    let new = NewSurvey {
        name: Some("Heron".into()),
        region: Some("CEPT".into()),
        time_zone: Some("Europe/Vienna".into()),
        by: Some("T. Ashdown".into()),
    };
    let survey = Survey::create(&place.path().join("case"), &new).expect("a survey");
    Made { survey, place }
}

/// A tone of 20 dB under full scale in the room, for a second; of 40 dB under it in the yard, always.
fn tones() -> Made {
    let made = empty();
    let yard = recording(made.place.path(), "yard", 0.01, (0.0, LASTS_S));
    let room = recording(made.place.path(), "room", 0.1, ON_S);
    for (files, role, at) in [(yard, Role::Reference, "Yard"), (room, Role::Room, "Board room")] {
        let options = AddOptions {
            at: Some(at.into()),
            chain: Some("recorder".into()),
            gain_db: Some(GAIN_DB),
            ..AddOptions::new(role)
        };
        made.survey.add(&files, &options, "T. Ashdown", &Quiet).expect("added");
    }
    made
}

fn figure(facts: &Facts) -> (Figure, Spectrum) {
    let report = full(facts).expect("a report");
    let blocks = report.sections.into_iter().flat_map(|section| section.blocks);
    let found = blocks.into_iter().find_map(|block| match block {
        Block::Figure(figure) => match &figure.plot {
            Plot::Spectrum(spectrum) => Some((figure.clone(), (**spectrum).clone())),
            _ => None,
        },
        _ => None,
    });
    found.expect("a spectrum")
}

#[test]
fn lines_reach_the_power_of_the_tone_at_its_frequency() {
    let made = tones();
    made.decide(TONE_HZ, State::Suspect, "only sometimes on");
    let facts = made.facts();
    let (figure, drawn) = figure(&facts);
    assert_eq!(drawn.unit, "dBFS");
    // A complex tone of amplitude A has 20 lg A dBFS; less the gain that the chain has ahead.
    for (line, db) in drawn.lines.iter().zip([-40.0, f64::NAN, -20.0]) {
        let points = line.points.iter().filter_map(|(hz, db)| Some((*hz, (*db)?)));
        let (hz, peak) = points.max_by(|a, b| a.1.total_cmp(&b.1)).expect("points");
        assert!((hz - TONE_HZ).abs() < 250.0, "{} at {hz}", line.what);
        if db.is_finite() {
            // A code is 0.625 dB, and the least noise adds nothing.
            assert!((peak - (db - GAIN_DB)).abs() < 0.7, "{}: {peak}", line.what);
        } else {
            // On for half of the time: 3 dB less on the mean of the powers.
            assert!((peak + 23.0 + GAIN_DB).abs() < 1.0, "{}: {peak}", line.what);
        }
    }
    let places: Vec<&str> = drawn.lines.iter().map(|line| line.place.as_str()).collect();
    assert_eq!(places, ["Yard", "Board room", "Board room"]);
    assert!(drawn.band_hz.0 <= TONE_HZ + 1.0 && TONE_HZ - 1.0 <= drawn.band_hz.1);
    for said in
        ["at Board room (C2, room, 2026-03-01 21:00:00, 2.0\u{a0}s)", "at Yard (C1, reference"]
    {
        assert!(figure.caption.contains(said), "{said}: {}", figure.caption);
    }
    for said in [
        "Board room (measurement C2) reaches −30\u{a0}dBFS at 433.950",
        "Yard (measurement C1) reaches −50",
    ] {
        assert!(figure.alternative.contains(said), "{said}: {}", figure.alternative);
    }
}

#[test]
fn over_time_it_is_bright_while_it_was_on() {
    let made = tones();
    made.decide(TONE_HZ, State::Suspect, "only sometimes on");
    let (_, drawn) = figure(&made.facts());
    let picture = drawn.over_time.expect("a picture over time");
    let across = (TONE_HZ - drawn.span_hz.0) / (drawn.span_hz.1 - drawn.span_hz.0);
    let x = (across * picture.cells as f64) as usize;
    let rows = picture.shades.chunks(picture.cells);
    let row_s = picture.length_s / rows.len() as f64;
    assert!(picture.length_s >= LASTS_S && picture.length_s < LASTS_S + row_s + 1e-9);
    for (i, row) in rows.enumerate() {
        let (from_s, until_s) = (i as f64 * row_s, (i + 1) as f64 * row_s);
        if from_s > ON_S.0 && until_s < ON_S.1 {
            assert!(row[x] > 220, "{from_s}: {}", row[x]);
        } else if until_s < ON_S.0 - row_s || (from_s > ON_S.1 + row_s && until_s < LASTS_S) {
            assert!((1..100).contains(&row[x]), "{from_s}: {}", row[x]);
        }
    }
    assert!((picture.levels.1 + 20.0 + GAIN_DB).abs() < 0.7, "{:?}", picture.levels);
}

#[test]
fn the_page_draws_it_with_its_words_and_the_same_survey_gives_the_same_page() {
    let made = tones();
    made.decide(TONE_HZ, State::Unresolved, "nobody knows");
    let facts = made.facts();
    let page = html(&full(&facts).expect("a report"));
    let elements = xml::read(&page).expect("well-formed");
    let picture = elements.iter().find(|e| e.name == "image").expect("its levels over time");
    let href = picture.attribute("href").expect("inside the page");
    assert!(href.starts_with("data:image/png;base64,"), "{href:.40}");
    let svg = elements[*picture.inside.last().expect("inside a drawing")].clone();
    assert!(svg.attribute("aria-label").is_some_and(|words| words.contains("reaches")));
    for said in
        ["Board room", "C2, largest", "C2, mean", "Yard", "C1, largest", "dBFS", "MHz", "433."]
    {
        assert!(svg.text.contains(said), "{said}: {}", svg.text);
    }
    let again = Survey::open(&made.place.path().join("case")).expect("opened");
    let again = Facts::gather(&again, "9.9.9", facts.made, &Quiet).expect("gathered");
    assert_eq!(again.around, facts.around);
    assert_eq!(html(&full(&again).expect("a report")), page);
}

#[cfg(feature = "pdf")]
#[test]
fn the_document_holds_the_picture_and_is_sound() {
    let made = tones();
    made.decide(TONE_HZ, State::Suspect, "only sometimes on");
    let report = full(&made.facts()).expect("a report");
    let bytes = report::pdf(&report, &[]).expect("a PDF");
    assert!(bytes == report::pdf(&report, &[]).expect("a PDF"), "the same bytes");
    let file = made.place.path().join("report.pdf");
    std::fs::write(&file, bytes).expect("written");
    let ask = |program: &str, args: &[&str]| {
        let out = std::process::Command::new(program).args(args).arg(&file).output().ok()?;
        Some((out.status.success(), String::from_utf8_lossy(&out.stdout).into_owned()))
    };
    match (ask("qpdf", &["--check"]), ask("pdfimages", &["-list"])) {
        (Some((sound, said)), Some((_, images))) => {
            assert!(sound, "{said}");
            let rows: Vec<&str> = images.lines().skip(2).collect();
            assert_eq!(rows.len(), 1, "{images}");
        }
        _ => println!("skipped: qpdf or pdfimages is not installed"),
    }
}

#[test]
fn a_recording_that_cannot_be_read_is_told_and_costs_nothing_else() {
    // Its recordings are of an invented kind, which no reader opens.
    let made = office("Heron");
    made.decide(468.55e6, State::Suspect, "only in the board room");
    let facts = made.facts();
    let id = facts.ledger.emissions.iter().find(|row| row.decision.state == State::Suspect);
    let id = &id.expect("the row").id;
    assert_eq!(facts.around.get(id), Some(&Around::Unreadable("C2".into())));
    let page = html(&full(&facts).expect("a report"));
    assert!(page.contains(&format!("The spectrum of {id} is not drawn")), "{page}");
}

#[test]
fn a_log_has_strengths_in_steps_and_no_spectrum() {
    let made = empty();
    let log = made.place.path().join("walk.csv");
    let rows = "Time,Place,Band,Strength\n2026-03-01 20:05,Kitchen,890 MHz,3\n\
                2026-03-01 20:15,Board room,890 MHz,11\n2026-03-01 20:18,Board room,890 MHz,9\n\
                2026-03-01 20:25,Yard,433 MHz,2\n";
    std::fs::write(&log, rows).expect("written");
    let mut options = AddOptions {
        chain: Some("hand-held".into()),
        from: units::Utc::parse("2026-03-01T20:00:00Z").ok(),
        until: units::Utc::parse("2026-03-01T20:30:00Z").ok(),
        ..AddOptions::new(Role::Walk)
    };
    options.overrides.time_zone = Some("UTC".into());
    options.overrides.columns =
        Some("time=Time:%Y-%m-%d %H:%M,band=Band,strength=Strength/12,position=Place".into());
    options.bands = [(430e6, 440e6), (880e6, 915e6)]
        .map(|(low_hz, high_hz)| units::Band { low_hz, high_hz })
        .to_vec();
    made.survey.add(&[log], &options, "T. Ashdown", &Quiet).expect("added");
    let facts = made.facts();
    let row = facts.ledger.emissions.iter().find(|row| row.emission.centre_hz > 800e6);
    made.decide(row.expect("a row").emission.centre_hz, State::Suspect, "strong in the board room");
    let facts = made.facts();
    assert!(facts.around.is_empty(), "{:?}", facts.around);
    let page = html(&full(&facts).expect("a report"));
    let elements = xml::read(&page).expect("well-formed");
    let label = |e: &xml::Element| e.attribute("aria-label").unwrap_or_default().to_owned();
    let levels = elements.iter().find(|e| label(e).contains("loudest at Board room"));
    let levels =
        levels.unwrap_or_else(|| panic!("{:?}", elements.iter().map(label).collect::<Vec<_>>()));
    assert!(levels.text.contains("11 of 12") && levels.text.contains("3 of 12"), "{}", levels.text);
    assert!(!elements.iter().any(|e| label(e).starts_with("Spectrum")));
    let steps = page.matches("class=\"in\"").count();
    assert!(steps > 0 && page.contains("have an order and are no decibels"));
}
