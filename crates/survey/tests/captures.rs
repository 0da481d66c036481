//! Captures: brought in once, each somewhere, corrected, set aside and restored.

mod common;

use common::*;
use ledger::Role;
use std::fs;
use std::sync::atomic::{AtomicBool, Ordering};
use survey::{AddOptions, Amend, Field, Note, Quiet};
use units::{Band, Utc, Zone};

#[test]
fn a_name_makes_a_position_and_a_chain_once() {
    let place = place();
    let survey = small(place.path());
    let positions = survey.ledger(&Quiet).expect("a ledger").ledger.positions;
    let zones: Vec<_> = positions.iter().map(|p| (p.name.as_str(), p.zone)).collect();
    assert_eq!(
        zones,
        [("yard", Zone::Outside), ("boardroom", Zone::Inside), ("office", Zone::Inside)]
    );
    let file = recording(place.path(), "more", "2026-03-01T23:00:00Z", &[]);
    let mut options = at(Role::Room, "Boardroom");
    options.zone = Some(Zone::Outside);
    let refused =
        survey.add(std::slice::from_ref(&file), &options, "", &Quiet).expect_err("another zone");
    assert!(refused.to_string().contains("'boardroom' (P2) is inside"), "{refused}");
    options.zone = None;
    assert_eq!(add(&survey, &file, &options), "C4");
    assert_eq!(survey.capture("C4").expect("there").position.as_deref(), Some("P2"));
    assert!(survey.describe().expect("a text").matches("[[chains]]").count() == 1);
}

#[test]
fn the_same_recording_comes_in_once() {
    let place = place();
    let survey = small(place.path());
    let copy = place.path().join("copy of yard");
    fs::copy(place.path().join("yard"), &copy).expect("copied");
    let entries = survey.journal().expect("entries").len();
    let added = survey
        .add(std::slice::from_ref(&copy), &at(Role::Reference, "yard"), "", &Quiet)
        .expect("nothing to do");
    assert!(added[0].already && added[0].capture == "C1");
    assert_eq!(survey.journal().expect("entries").len(), entries);
    let mut elsewhere = at(Role::Reference, "street");
    let refused =
        survey.add(std::slice::from_ref(&copy), &elsewhere, "", &Quiet).expect_err("elsewhere");
    assert_eq!(refused.exit_code(), 2);
    assert!(refused.to_string().contains("is C1 already, at yard"), "{refused}");
    assert_eq!(survey.journal().expect("entries").len(), entries, "not even the position");
    elsewhere.again = true;
    assert_eq!(add(&survey, &copy, &elsewhere), "C4");
    assert_eq!(survey.verify(&Quiet).expect("verified").files, 3);
}

#[test]
fn nothing_is_stored_when_one_of_several_is_refused() {
    let place = place();
    let survey = new_survey(place.path());
    let good = recording(place.path(), "good", "2026-03-01T20:00:00Z", &[]);
    let bad = place.path().join("bad");
    fs::write(&bad, r#"{"kind": "iq", "start": "2026-03-01T20:00:00Z", "rows": []}"#).expect("bad");
    let refused = survey
        .add(&[good, bad], &at(Role::Room, "den"), "", &Quiet)
        .expect_err("nobody states the centre");
    assert!(refused.to_string().contains("--centre"), "{refused}");
    assert!(survey.captures().expect("none").is_empty());
    assert_eq!(survey.verify(&Quiet).expect("verified").files, 0);
}

#[test]
fn a_capture_says_where_it_was_or_is_refused() {
    let place = place();
    let survey = new_survey(place.path());
    let file = recording(
        place.path(),
        "walk",
        "2026-03-01T20:00:00Z",
        &[(433_100_000.0, -60.0, 5.0), (433_500_000.0, -40.0, 25.0)],
    );
    let mut options = at(Role::Walk, "x");
    options.at = None;
    let refused =
        survey.add(std::slice::from_ref(&file), &options, "", &Quiet).expect_err("no place");
    assert!(refused.to_string().contains("--at"), "{refused}");
    for (name, when) in [("hall", "2026-03-01T20:00:00Z"), ("study", "2026-03-01T20:00:20.5Z")] {
        let when = Some(Utc::parse(when).expect("a time"));
        let note = Note::Arrived { at: name.into(), when, chain: None };
        survey.note(&note, "").expect("noted");
    }
    // The movements cut it: each stay is analysed by itself.
    assert_eq!(add(&survey, &file, &options), "C1");
    let rows_now = rows(&survey);
    let heard: Vec<_> = rows_now.iter().map(|row| (row.1, row.2.join(" "))).collect();
    assert_eq!(heard, [(433_100, "C1.1".to_owned()), (433_500, "C1.2".to_owned())]);
    let ledger = survey.ledger(&Quiet).expect("a ledger").ledger;
    let hall = ledger.positions.iter().find(|p| p.name == "hall").expect("made");
    let row = ledger.emissions.iter().find(|row| row.emission.centre_hz < 433.2e6).expect("one");
    let heard = row.receptions.iter().find(|r| r.heard).expect("heard");
    assert_eq!(heard.position.as_ref(), Some(&hall.id));
    // A movement noted later cuts it anew.
    let when = Some(Utc::parse("2026-03-01T20:00:10.5Z").expect("a time"));
    survey.note(&Note::Arrived { at: "attic".into(), when, chain: None }, "").expect("noted");
    let rows_now = rows(&survey);
    let heard: Vec<_> = rows_now.iter().map(|row| (row.1, row.2.join(" "))).collect();
    assert_eq!(heard, [(433_100, "C1.1".to_owned()), (433_500, "C1.3".to_owned())]);
}

#[test]
fn set_aside_counts_for_nothing_and_comes_back_as_it_was() {
    let place = place();
    let survey = small(place.path());
    let before = rows(&survey);
    let aside = Amend { set_aside: Some("wrong antenna".into()), ..Amend::default() };
    survey.amend("C3", &aside, "").expect("set aside");
    assert!(rows(&survey).iter().all(|row| !row.2.contains(&"C3".to_owned())));
    let added = survey
        .add(&[place.path().join("office")], &at(Role::Room, "office"), "", &Quiet)
        .expect("there already");
    assert_eq!(added[0].warnings[0].code, "already_set_aside");
    survey.amend("C3", &Amend { restore: true, ..Amend::default() }, "").expect("restored");
    assert_eq!(rows(&survey), before);
    assert!(survey.amend("C3", &Amend { restore: true, ..Amend::default() }, "").is_err());
    assert!(survey.amend("C9", &Amend::default(), "").is_err());
    assert!(survey.amend("C3", &Amend::default(), "").is_err(), "nothing to amend");
}

#[test]
fn what_was_said_can_be_emptied_but_not_the_only_word_on_where() {
    let place = place();
    let survey = small(place.path());
    let said = Amend {
        gain_db: Some(20.0),
        condition: Some("meeting".into()),
        setting: Some("wide".into()),
        clock_s: Some(3.0),
        ..Amend::default()
    };
    survey.amend("C2", &said, "").expect("amended");
    let empty = |empty: &[Field]| Amend { empty: empty.to_vec(), ..Amend::default() };
    survey
        .amend("C2", &empty(&[Field::GainDb, Field::Condition, Field::ClockS]), "")
        .expect("emptied");
    let capture = survey.capture("C2").expect("there");
    assert_eq!((capture.gain_db, capture.condition, capture.clock_s), (None, None, 0.0));
    assert_eq!(capture.setting.as_deref(), Some("wide"));
    assert!(survey.amend("C2", &empty(&[Field::GainDb]), "").is_err(), "it is empty already");
    assert!(survey.amend("C2", &empty(&[Field::At]), "").is_err(), "nothing else says where");
}

#[test]
fn corrections_move_a_capture_and_its_clock() {
    let place = place();
    let survey = small(place.path());
    let amend = Amend {
        at: Some("cellar".into()),
        clock_s: Some(-75.0),
        gain_db: Some(20.0),
        condition: Some("meeting".into()),
        ..Amend::default()
    };
    survey.amend("C2", &amend, "").expect("amended");
    let ledger = survey.ledger(&Quiet).expect("a ledger").ledger;
    let cellar = ledger.positions.iter().find(|p| p.name == "cellar").expect("made");
    let capture = survey.capture("C2").expect("there");
    assert_eq!(capture.position.as_ref(), Some(&cellar.id));
    assert_eq!((capture.clock_s, capture.gain_db), (-75.0, Some(20.0)));
    assert!(survey.describe().expect("text").contains("state = \"meeting\""));
    let twin = Amend { at: Some("cellar".into()), ..Amend::default() };
    let mut again = at(Role::Room, "boardroom");
    again.again = true;
    let id = add(&survey, &place.path().join("board"), &again);
    let refused = survey.amend(&id, &twin, "").expect_err("two of the same there");
    assert!(refused.to_string().contains("is C2 at that position already"), "{refused}");
}

#[test]
fn what_a_condition_is_stated_to_be_counts_and_not_its_name() {
    let place = place();
    let survey = small(place.path());
    let during = |condition: &str| AddOptions {
        condition: Some(condition.into()),
        ..at(Role::Room, "boardroom")
    };
    let evening = [(434_250_000.0, -41.0, 2.0)];
    let evening = recording(place.path(), "evening", "2026-03-01T23:00:00Z", &evening);
    add(&survey, &evening, &during("as rehearsed"));
    let night = recording(place.path(), "night", "2026-03-02T02:00:00Z", &[]);
    add(&survey, &night, &during("not empty"));
    let with_the_room = || {
        let ledger = survey.ledger(&Quiet).expect("a ledger").ledger;
        let rows = ledger.emissions.iter().flat_map(|row| &row.attention.reasons);
        rows.filter(|reason| reason.code == "with_the_room").count()
    };
    assert_eq!(with_the_room(), 0, "nobody stated how the room was");
    let state = |name: &str, state: &str| {
        let line = format!("name = \"{name}\"\n");
        let text = survey.describe().expect("a text");
        assert!(text.contains(&line), "{text}");
        let old: String = (text.lines())
            .filter(|l| !l.starts_with("state = \"in-use\""))
            .map(|l| format!("{l}\n"))
            .collect();
        let edited = old.replace(&line, &format!("{line}state = \"{state}\"\n"));
        survey.apply(&edited, "").expect("applied");
    };
    state("not empty", "in-use");
    assert_eq!(with_the_room(), 0, "in use both times");
    state("not empty", "empty");
    state("as rehearsed", "meeting");
    assert_eq!(with_the_room(), 1, "{}", survey.describe().expect("a text"));
}

#[test]
fn a_recording_that_cannot_be_analysed_does_not_stop_the_rest() {
    let place = place();
    let survey = small(place.path());
    let file = place.path().join("broken");
    let says = r#"{"kind": "iq", "start": "2026-03-01T20:00:00Z", "centre": 1, "broken": true}"#;
    fs::write(&file, says).expect("written");
    let added = survey.add(&[file], &at(Role::Room, "den"), "", &Quiet).expect("stored");
    assert!(added[0].warnings.iter().any(|w| w.code == "analysis_failed"), "{added:?}");
    let outcome = survey.ledger(&Quiet).expect("a ledger");
    assert_eq!(outcome.ledger.emissions.len(), 3);
    let warning = outcome.warnings.iter().find(|w| w.code == "analysis_failed").expect("told");
    assert!(warning.text.contains("C4") && warning.text.contains("broken"), "{}", warning.text);
}

#[test]
fn an_analysis_that_is_no_result_does_not_lock_the_survey() {
    let place = place();
    let survey = small(place.path());
    let file = place.path().join("odd");
    let says = r#"{"kind": "iq", "start": "2026-03-01T20:00:00Z", "centre": 1, "nan": true}"#;
    fs::write(&file, says).expect("written");
    let added = survey.add(&[file], &at(Role::Room, "den"), "", &Quiet).expect("stored");
    assert!(added[0].warnings.iter().any(|w| w.code == "analysis_failed"), "{added:?}");
    drop(survey);
    assert_eq!(rows(&open(place.path())).len(), 3);
}

#[test]
fn what_cannot_be_is_refused_before_anything_is_stored() {
    let place = place();
    let survey = small(place.path());
    let file = recording(place.path(), "more", "2026-03-01T23:00:00Z", &[]);
    let (from, until) = (Utc::parse("2026-03-02T00:00:00Z"), Utc::parse("2026-03-01T00:00:00Z"));
    let (from, until) = (Some(from.expect("a time")), Some(until.expect("a time")));
    let good = at(Role::Room, "den");
    for (options, words) in [
        (AddOptions { from, until, ..good.clone() }, "before it began"),
        (AddOptions { gain_db: Some(1e9), ..good.clone() }, "a gain"),
        (AddOptions { bands: vec![Band { low_hz: 2e6, high_hz: 1e6 }], ..good.clone() }, "no band"),
        (AddOptions { at: Some("a\nb".into()), ..good.clone() }, "control"),
    ] {
        let files = std::slice::from_ref(&file);
        let refused = survey.add(files, &options, "", &Quiet).expect_err(words);
        assert!(refused.exit_code() == 2 && refused.to_string().contains(words), "{refused}");
    }
    let clock = Amend { clock_s: Some(1e300), ..Amend::default() };
    assert!(survey.amend("C1", &clock, "").expect_err("years").to_string().contains("clock"));
    assert_eq!(survey.captures().expect("captures").len(), 3);
    assert!(survey.verify(&Quiet).expect("checked").ok);
}

/// Says stop at the first step whose words hold this.
struct StopAt(&'static str, AtomicBool);

impl survey::Progress for StopAt {
    fn step(&self, _done: u64, _of: u64, what: &str) {
        self.1.fetch_or(what.contains(self.0), Ordering::Relaxed);
    }
    fn cancelled(&self) -> bool {
        self.1.load(Ordering::Relaxed)
    }
}

#[test]
fn stopping_leaves_nothing_half_done() {
    let place = place();
    let survey = small(place.path());
    let before = rows(&survey);
    let file = recording(place.path(), "more", "2026-03-02T01:00:00Z", &[(440e6, -50.0, 1.0)]);
    let files = [file];
    let copying = StopAt("copying", false.into());
    let stopped = survey.add(&files, &at(Role::Room, "den"), "", &copying).expect_err("stopped");
    assert_eq!(stopped.exit_code(), 130);
    assert_eq!(rows(&survey), before);
    assert_eq!(survey.captures().expect("captures").len(), 3);
    // Stopped while analysing: it is stored, and the next command takes it up.
    let analysing = StopAt("analysing", false.into());
    let stopped = survey.add(&files, &at(Role::Room, "den"), "", &analysing).expect_err("stopped");
    assert_eq!(stopped.exit_code(), 130);
    assert_eq!(survey.captures().expect("captures").len(), 4);
    assert_eq!(survey.jobs().expect("jobs").last().expect("one").state, "pending");
    assert_eq!(rows(&survey).len(), before.len() + 1);
    assert!(survey.verify(&Quiet).expect("checked").ok);
}

#[test]
fn what_is_said_otherwise_of_a_recording_that_is_there_is_told() {
    let place = place();
    let survey = small(place.path());
    let yard = place.path().join("yard");
    let said = |options: &AddOptions| {
        survey.add(std::slice::from_ref(&yard), options, "", &Quiet).expect("there").remove(0)
    };
    let same = said(&at(Role::Reference, "yard"));
    assert!(same.already && same.warnings.is_empty(), "{:?}", same.warnings);
    let mut other = at(Role::Room, "yard");
    other.overrides.format = Some("ci8".into());
    other.overrides.rate_hz = Some(1e6);
    let told = said(&other);
    assert!(told.already && told.warnings.len() == 1, "{:?}", told.warnings);
    let text = &told.warnings[0].text;
    for words in [
        "--role is reference there, room here",
        "--format is unstated there, ci8 here",
        "--rate",
        "`amend C1`",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
    assert!(!text.contains("--chain"), "{text}");
}

#[test]
fn what_is_not_brought_in_when_one_fails_is_told() {
    struct Told(std::sync::Mutex<Vec<String>>);
    impl survey::Progress for Told {
        fn step(&self, _: u64, _: u64, what: &str) {
            self.0.lock().expect("free").push(what.to_owned());
        }
        fn cancelled(&self) -> bool {
            false
        }
    }
    let place = place();
    let survey = small(place.path());
    let new = |name| recording(place.path(), name, "2026-03-01T23:00:00Z", &[]);
    // The second is in the survey already, elsewhere.
    let files = [new("one"), place.path().join("yard"), new("three")];
    let told = Told(std::sync::Mutex::default());
    survey.add(&files, &at(Role::Room, "den"), "", &told).expect_err("the second");
    let told = told.0.into_inner().expect("free");
    assert!(told.iter().any(|line| line.starts_with("stored: C4 ")), "{told:?}");
    let left: Vec<_> = told.iter().filter(|line| line.starts_with("not brought in: ")).collect();
    assert!(left.len() == 1 && left[0].contains("yard") && left[0].contains("three"), "{left:?}");
    assert!(!left[0].contains("one"), "{left:?}");
}

#[test]
fn a_correction_that_cannot_be_is_refused_for_its_own_reason() {
    let place = place();
    let survey = small(place.path());
    let refused = |amend: &Amend, words: &str| {
        let error = survey.amend("C2", amend, "").expect_err(words);
        assert!(error.exit_code() == 2 && error.to_string().contains(words), "{words}: {error}");
    };
    let over = |overrides| Amend { overrides, ..Amend::default() };
    refused(&Amend { clock_s: Some(1e300), ..Amend::default() }, "a clock's correction");
    refused(
        &over(survey::Overrides { centre_hz: Some(-1e9), ..Default::default() }),
        "a centre frequency of -1e9",
    );
    refused(
        &over(survey::Overrides { columns: Some("time=Time".into()), ..Default::default() }),
        "belong to a table",
    );
    let when = Some(Utc::parse("1850-01-01T00:00:00Z").expect("a time"));
    let note = Note::Arrived { at: "den".into(), when, chain: None };
    let error = survey.note(&note, "").expect_err("no such time").to_string();
    assert!(error.contains("1850") && error.contains("Check the year"), "{error}");
}
