//! The folder: started, copied, derived anew, read where nothing may be written.

mod common;

use common::*;
use ledger::Role;
use std::fs;
use survey::{NewSurvey, Note, Quiet, Survey};

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
fn a_folder_that_is_no_survey_is_refused_in_words() {
    let place = place();
    let missing = Survey::open(&place.path().join("none")).expect_err("nothing there");
    assert_eq!(missing.exit_code(), 2);
    assert!(missing.to_string().contains("no survey"), "{missing}");
    let new = NewSurvey { name: None, region: None, time_zone: None, by: None };
    let letter = place.path().join("letter");
    fs::write(&letter, "x").expect("written");
    let refused = Survey::create(&letter, &new).expect_err("a file");
    assert!(refused.exit_code() == 2 && refused.to_string().contains("is a file"), "{refused}");
    assert!(Survey::create(place.path(), &new).is_err(), "not empty");
    let dir = place.path().join("case 7");
    let survey = Survey::create(&dir, &new).expect("made");
    let head = survey.head().expect("its head");
    assert_eq!((head.name.as_str(), head.region.as_str()), ("case 7", "WORLD"));
    assert!(survey.journal().expect("entries")[0].by == "unstated");
    assert!(Survey::create(&dir, &new).expect_err("already").to_string().contains("already"));
    let blank = NewSurvey { name: Some(" ".into()), by: Some(String::new()), ..new.clone() };
    let head = Survey::create(&place.path().join("case 8"), &blank).expect("made").head();
    let head = head.expect("its head");
    assert_eq!((head.name.as_str(), head.technician), ("case 8", None));
    let odd = NewSurvey { region: Some("MARS".into()), ..new };
    assert!(Survey::create(&place.path().join("x"), &odd).is_err());
    assert!(!place.path().join("x").exists(), "nothing of it stands");
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

#[test]
fn of_several_that_start_a_survey_at_once_one_does() {
    for _ in 0..8 {
        let place = place();
        let start = |i: usize| {
            let by = Some(format!("technician {i}"));
            let new = NewSurvey { name: None, region: None, time_zone: None, by };
            Survey::create_with(&place.path().join("case"), &new, Fake::new())
        };
        let made: Vec<_> = std::thread::scope(|scope| {
            let all: Vec<_> = (0..4).map(|i| scope.spawn(move || start(i))).collect();
            all.into_iter().map(|one| one.join().expect("ended")).collect()
        });
        let won: Vec<usize> = (0..4).filter(|i| made[*i].is_ok()).collect();
        assert_eq!(won.len(), 1, "{made:?}");
        let entry = open(place.path()).journal().expect("entries").remove(0);
        assert_eq!(entry.by, format!("technician {}", won[0]));
        let refused = made.iter().filter_map(|one| one.as_ref().err());
        assert!(refused.into_iter().all(|error| error.exit_code() == 2));
    }
}
