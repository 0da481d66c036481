//! What a technician does with a survey, from the first file to the last correction.

mod common;

use common::*;
use ledger::{Ground, Role, State};
use std::fs;
use std::sync::atomic::{AtomicBool, Ordering};
use survey::{Amend, NewSurvey, Note, Quiet, ReadingNote, Survey, SurveyError, Verdict};
use units::{Band, Strength, Utc, Zone};

fn accounted(reason: &str) -> Verdict {
    Verdict { state: State::Accounted, ground: Some(Ground::Seen), reason: reason.into() }
}

fn place() -> tempfile::TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

#[test]
fn files_become_rows_that_can_be_decided_and_verified() {
    let place = place();
    let survey = small(place.path());
    let rows = rows(&survey);
    let heard: Vec<_> = rows.iter().map(|row| (row.1, row.2.join(" "))).collect();
    assert_eq!(
        heard,
        [(433_100, "C1 C2".to_owned()), (433_500, "C2 C3".to_owned()), (434_000, "C3".to_owned())]
    );
    assert!(rows.iter().all(|row| row.3 == "open"));
    let id = row_at(&survey, 433_100);
    survey.decide(&[id], &accounted("the yard's gate opener"), None, "B. Ito").expect("decided");
    drop(survey);
    let survey = open(place.path());
    let row = &survey.ledger(&Quiet).expect("a ledger").ledger;
    let row = row.emissions.iter().find(|row| row.decision.state == State::Accounted).expect("it");
    assert_eq!(row.decision.by.as_deref(), Some("B. Ito"));
    assert_eq!(row.decision.reason.as_deref(), Some("the yard's gate opener"));
    let check = survey.verify(&Quiet).expect("verified");
    assert_eq!((check.ok, check.files), (true, 3), "{:?}", check.faults);
    assert_eq!(check.head, survey.journal().expect("entries").last().expect("one").hash);
}

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
fn a_decision_is_refused_when_the_row_changed_since_it_was_seen() {
    let place = place();
    let survey = small(place.path());
    let seen = survey.ledger(&Quiet).expect("a ledger").ledger.version;
    let (gate, voice) = (row_at(&survey, 433_100), row_at(&survey, 433_500));
    // Somebody decides another row: this one is as it was.
    survey
        .decide(std::slice::from_ref(&gate), &accounted("gate"), Some(seen), "a")
        .expect("unchanged");
    survey
        .decide(std::slice::from_ref(&voice), &accounted("mine"), Some(seen), "b")
        .expect("unchanged");
    let error = survey
        .decide(std::slice::from_ref(&voice), &accounted("theirs"), Some(seen), "c")
        .expect_err("decided meanwhile");
    match error {
        SurveyError::Changed { seen: was, row } => {
            assert_eq!(was, seen);
            assert_eq!(row.decision.reason.as_deref(), Some("mine"));
        }
        other => panic!("{other}"),
    }
    let no_ground = Verdict { ground: None, ..accounted("x") };
    assert_eq!(
        survey
            .decide(std::slice::from_ref(&gate), &no_ground, None, "")
            .expect_err("no")
            .exit_code(),
        2
    );
    let no_reason = accounted(" ");
    assert!(survey.decide(std::slice::from_ref(&gate), &no_reason, None, "").is_err());
    assert!(survey.decide(&["E99".into()], &accounted("x"), None, "").is_err());
    assert!(survey.decide(&[gate], &accounted("x"), Some(10_000), "").is_err());
}

#[test]
fn undo_is_a_new_entry_and_can_itself_be_undone() {
    let place = place();
    let survey = small(place.path());
    let id = row_at(&survey, 433_100);
    let state =
        |survey: &Survey| rows(survey).into_iter().find(|row| row.0 == id).expect("the row").3;
    let decided =
        survey.decide(std::slice::from_ref(&id), &accounted("gate"), None, "").expect("decided")[0];
    let undone = survey.undo(decided, "").expect("undone");
    assert_eq!(state(&survey), "open");
    survey.undo(undone, "").expect("undone again");
    assert_eq!(state(&survey), "accounted");
    assert!(survey.undo(decided, "").is_err(), "it was touched since");
    assert!(survey.undo(9999, "").is_err());
    for entry in survey.journal().expect("entries") {
        if ["new", "add", "derive", "ids"].contains(&entry.kind.as_str()) {
            assert_eq!(survey.undo(entry.seq, "").expect_err("kept").exit_code(), 2);
        }
        if entry.kind == "position" {
            let refused = survey.undo(entry.seq, "").expect_err("a capture is there");
            assert!(refused.to_string().contains("is at position"), "{refused}");
        }
    }
    assert!(survey.verify(&Quiet).expect("verified").ok);
}

#[test]
fn what_was_derived_may_be_deleted() {
    let place = place();
    let survey = small(place.path());
    let before = rows(&survey);
    let entries = survey.journal().expect("entries").len();
    drop(survey);
    fs::remove_dir_all(place.path().join("case/derived")).expect("deleted");
    let survey = open(place.path());
    assert_eq!(rows(&survey), before);
    assert_eq!(survey.journal().expect("entries").len(), entries, "nothing new is recorded");
    assert!(survey.verify(&Quiet).expect("verified").ok);
}

#[test]
fn a_newer_program_leaves_what_was_derived_until_it_is_asked() {
    let place = place();
    let survey = small(place.path());
    let before = rows(&survey);
    drop(survey);
    let newer = Survey::open_with(&place.path().join("case"), Fake::version(2)).expect("opens");
    assert_eq!(rows(&newer), before);
    let derived = fs::read_dir(place.path().join("case/derived")).expect("listed").count();
    assert_eq!(derived, 3);
    let changes = newer.reanalyse("B. Ito", &Quiet).expect("derived again");
    assert_eq!(changes.derived, 3);
    // The newer one measures every centre 1 kHz higher.
    let after: Vec<_> = rows(&newer).iter().map(|row| row.1).collect();
    assert_eq!(after, [433_101, 433_501, 434_001]);
    assert_eq!(changes.changed.len() + changes.appeared.len(), 3);
    assert_eq!(fs::read_dir(place.path().join("case/derived")).expect("listed").count(), 6);
    assert_eq!(newer.reanalyse("B. Ito", &Quiet).expect("nothing to do").derived, 0);
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
fn notes_are_kept_with_what_they_say() {
    let place = place();
    let survey = small(place.path());
    let reading = ReadingNote {
        at: "boardroom".into(),
        band: Some(Band::new(433.5e6, 433.5e6)),
        strength: Some(Strength { value: 7.0, of: 12.0 }),
        heard: Some("hum".into()),
        ..ReadingNote::default()
    };
    assert_eq!(survey.note(&Note::Reading(reading.clone()), "").expect("noted"), "N1");
    let beyond =
        ReadingNote { strength: Some(Strength { value: 13.0, of: 12.0 }), ..reading.clone() };
    assert!(survey.note(&Note::Reading(beyond), "").is_err());
    let nothing = ReadingNote { strength: None, ..reading.clone() };
    assert!(survey.note(&Note::Reading(nothing), "").is_err());
    let unknown = ReadingNote { emission: Some("E77".into()), ..reading };
    assert!(survey.note(&Note::Reading(unknown), "").is_err());
    let from = survey.time("2026-07-01T21:30").expect("local time");
    assert_eq!(from.to_string(), "2026-07-01T20:30:00Z", "British summer time");
    let music = Note::Stimulus {
        what: "music".into(),
        at: Some("boardroom".into()),
        from: Some(from),
        until: None,
    };
    assert_eq!(survey.note(&music, "").expect("noted"), "S1");
    let seen = Note::Remark { text: "van left".into(), at: None, from: None, until: None };
    assert_eq!(survey.note(&seen, "").expect("noted"), "B1");
    let record = survey.describe().expect("a text");
    for part in ["[[readings]]", "heard = \"hum\"", "[[stimuli]]", "[[remarks]]", "van left"] {
        assert!(record.contains(part), "{part} in\n{record}");
    }
}

#[test]
fn the_record_is_text_that_can_be_edited_and_applied() {
    let place = place();
    let survey = small(place.path());
    let text = survey.describe().expect("a text");
    assert!(survey.apply(&text, "").expect("the same").is_empty(), "no difference:\n{text}");
    let edited = text.replace("name = \"boardroom\"", "name = \"boardroom\"\nx_m = 3.5\ny_m = 2");
    assert_ne!(edited, text);
    let edited = format!(
        "{edited}\n[brief]\nleaked = \"the tender\"\nfeared = [\"voice-fm\"]\n\n\
         [[authority]]\nwho = \"the owner\"\nright = \"owner\"\nrooms = [\"boardroom\"]\n\
         from = \"2026-03-01T18:00:00Z\"\nlistening = true\n\n\
         [[known_devices]]\nowner = \"client\"\nwhat = \"cordless telephone\"\n\n\
         [[found_items]]\nwhat = \"a socket with wires\"\nradiating = true\nemissions = [\"E2\"]\n\
         [[found_items.custody]]\nfrom = \"room\"\nto = \"lawyer\"\n\n\
         [[identities]]\nemission = \"{}\"\nidentity = \"02:00:5e:00:53:01\"\n\n\
         [[mappings]]\nname = \"my detector\"\ncolumns = \"time=1,band=2\"\n",
        row_at(&survey, 433_500)
    );
    let entries = survey.journal().expect("entries").len();
    let shown = survey.differences(&edited).expect("differences");
    let applied = survey.apply(&edited, "B. Ito").expect("applied");
    assert_eq!(shown, applied);
    assert_eq!(applied.len(), 7);
    assert_eq!(survey.journal().expect("entries").len(), entries + 7, "one entry each");
    let lines: Vec<_> = applied.iter().map(ToString::to_string).collect();
    assert!(
        lines.contains(&"position P2: x_m nothing → 3.5, y_m nothing → 2".into()),
        "{lines:#?}"
    );
    assert!(survey.apply(&survey.describe().expect("text"), "").expect("same").is_empty());
    let ledger = survey.ledger(&Quiet).expect("a ledger").ledger;
    let row = ledger.emissions.iter().find(|r| r.identity.is_some()).expect("identified");
    assert_eq!(row.identity.as_deref(), Some("02:00:5e:00:53:01"));
    assert_eq!(survey.mapping("my detector").expect("saved"), "time=1,band=2");
    assert!(survey.mapping("other").is_err());
    // Positions may be written by name, also one that the same text makes.
    let text = survey.describe().expect("text");
    let more = "\n[[positions]]\nname = \"attic\"\nzone = \"adjacent\"\n\n\
                [[movements]]\nposition = \"attic\"\nat = \"2026-03-01T23:00:00Z\"\n\n\
                [[movements]]\nposition = \"yard\"\nat = \"2026-03-01T23:05:00Z\"\n";
    survey.apply(&format!("{text}{more}"), "").expect("applied");
    let text = survey.describe().expect("text");
    assert!(text.contains("id = \"V1\"\nposition = \"P4\""), "{text}");
    assert!(text.contains("id = \"V2\"\nposition = \"P1\""), "{text}");
    // What would leave a capture nowhere, or says nonsense, changes nothing.
    let entries = survey.journal().expect("entries").len();
    for (bad, part) in [
        ("[[positions]]\nname = \"only one\"\nzone = \"inside\"\n", "is at position"),
        ("[[positions]]\nid = \"P77\"\nname = \"x\"\nzone = \"inside\"\n", "no position P77"),
        ("[[positions]]\nname = \"x\"\nzone = \"upstairs\"\n", "upstairs"),
        ("[[chains]]\nname = \"a\"\ncolour = \"red\"\n", "colour"),
        ("[[colours]]\nname = \"a\"\n", "colours"),
        ("[survey]\nname = \"x\"\nregion = \"MARS\"\ntime_zone = \"UTC\"\n", "MARS"),
        ("[survey]\nname = \"x\"\nregion = \"UK\"\ntime_zone = \"Mars/Base\"\n", "Mars/Base"),
        ("name = ", "TOML"),
    ] {
        let refused = survey.apply(bad, "").expect_err(bad);
        assert_eq!(refused.exit_code(), 2);
        assert!(refused.to_string().contains(part), "{part}: {refused}");
    }
    assert_eq!(survey.journal().expect("entries").len(), entries);
    assert!(survey.verify(&Quiet).expect("verified").ok);
}

#[test]
fn a_folder_that_is_no_survey_is_refused_in_words() {
    let place = place();
    let missing = Survey::open(&place.path().join("none")).expect_err("nothing there");
    assert_eq!(missing.exit_code(), 2);
    assert!(missing.to_string().contains("no survey"), "{missing}");
    let new = NewSurvey { name: None, region: None, time_zone: None, by: None };
    fs::write(place.path().join("letter"), "x").expect("written");
    assert!(Survey::create(place.path(), &new).is_err(), "not empty");
    let dir = place.path().join("case 7");
    let survey = Survey::create(&dir, &new).expect("made");
    let head = survey.head().expect("its head");
    assert_eq!((head.name.as_str(), head.region.as_str()), ("case 7", "WORLD"));
    assert!(survey.journal().expect("entries")[0].by == "unstated");
    assert!(Survey::create(&dir, &new).expect_err("already").to_string().contains("already"));
    let odd = NewSurvey { region: Some("MARS".into()), ..new };
    assert!(Survey::create(&place.path().join("x"), &odd).is_err());
    assert!(!place.path().join("x").exists(), "nothing of it stands");
}

#[test]
fn photographs_of_a_found_item_are_evidence() {
    let place = place();
    let survey = small(place.path());
    let photo = place.path().join("socket.jpg");
    fs::write(&photo, [0xff, 0xd8, 0xff, 0xe0]).expect("written");
    let files = [photo];
    assert!(survey.photograph("F1", &files, "", &Quiet).is_err(), "no such item");
    survey.apply("[[found_items]]\nwhat = \"a socket with wires\"\n", "").expect("applied");
    let kept = survey.photograph("F1", &files, "B. Ito", &Quiet).expect("kept");
    assert_eq!(kept[0].bytes, 4);
    survey.photograph("F1", &files, "B. Ito", &Quiet).expect("there already");
    let photographs = survey.journal().expect("entries");
    assert_eq!(photographs.iter().filter(|entry| entry.kind == "photograph").count(), 1);
    assert!(survey.describe().expect("text").contains("socket.jpg"));
    let check = survey.verify(&Quiet).expect("checked");
    assert_eq!((check.ok, check.files), (true, 4));
    fs::remove_file(survey.evidence_path(&kept[0].sha256)).expect("removed");
    let check = survey.verify(&Quiet).expect("checked");
    assert!(check.faults[0].to_string().contains("found item F1"), "{:?}", check.faults);
}

#[test]
fn a_disk_that_will_not_is_told_apart_from_bad_use() {
    let place = place();
    let survey = small(place.path());
    let file = recording(place.path(), "more", "2026-03-01T23:00:00Z", &[]);
    // A file where a folder should be: stands for a disk that refuses.
    let staging = place.path().join("case/staging");
    fs::remove_dir_all(&staging).expect("removed");
    fs::write(&staging, "x").expect("written");
    let error = survey.add(&[file], &at(Role::Room, "den"), "", &Quiet).expect_err("no staging");
    assert_eq!(error.exit_code(), 3);
    assert!(error.to_string().contains("staging"), "{error}");
    let missing = place.path().join("nowhere");
    let error = survey.add(&[missing], &at(Role::Room, "den"), "", &Quiet).expect_err("no file");
    assert_eq!(error.exit_code(), 2);
    assert_eq!(survey.captures().expect("captures").len(), 3);
    assert!(survey.verify(&Quiet).expect("checked").ok);
}

/// Every file of a folder with its bytes.
fn bytes_of(dir: &std::path::Path) -> std::collections::BTreeMap<std::path::PathBuf, Vec<u8>> {
    let mut files = std::collections::BTreeMap::new();
    for entry in fs::read_dir(dir).expect("listed") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            files.extend(bytes_of(&path));
        } else {
            files.insert(path.clone(), fs::read(&path).expect("read"));
        }
    }
    files
}

#[test]
fn a_survey_can_be_read_and_verified_without_writing_a_byte() {
    let place = place();
    let survey = small(place.path());
    let expected = rows(&survey);
    let case = place.path().join("case");
    let busy = Survey::open_unwritten_with(&case, Fake::new()).expect_err("in use");
    assert!(busy.to_string().contains("in use"), "{busy}");
    drop(survey);
    let before = bytes_of(&case);
    let survey = Survey::open_unwritten_with(&case, Fake::new()).expect("opens");
    assert_eq!(rows(&survey), expected);
    assert!(survey.verify(&Quiet).expect("checked").ok);
    let note = Note::Remark { text: "x".into(), at: None, from: None, until: None };
    assert_eq!(survey.note(&note, "").expect_err("refused").exit_code(), 2);
    drop(survey);
    assert!(bytes_of(&case) == before, "not a byte is different");
    let none = Survey::open_unwritten_with(place.path(), Fake::new()).expect_err("no survey");
    assert!(none.to_string().contains("no survey"), "{none}");
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
