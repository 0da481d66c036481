//! Decisions: made on what was seen, refused where that changed, taken back by a new entry.

mod common;

use common::*;
use ledger::{Ground, State};
use survey::{Quiet, Survey, SurveyError, Verdict};

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
fn a_ground_that_the_levels_speak_against_is_refused() {
    let place = place();
    let survey = small(place.path());
    let outside = Verdict {
        state: State::Accounted,
        ground: Some(Ground::StrongerOutside),
        reason: "the neighbour's".into(),
    };
    // Heard in the rooms alone, though the yard was listened to.
    let voice = row_at(&survey, 433_500);
    let gate = row_at(&survey, 433_100);
    let both = [gate.clone(), voice.clone()];
    let error = survey.decide(&both, &outside, None, "B. Ito").expect_err("stronger inside");
    assert!(
        error.to_string().contains(&format!("{voice} is stronger inside: at least ")),
        "{error}"
    );
    assert!(rows(&survey).iter().all(|row| row.3 == "open"), "all or none");
    survey.decide(&[gate], &outside, None, "B. Ito").expect("2 dB stronger in the yard");
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
    let newest = survey.undoable().expect("a list").remove(0);
    assert_eq!((newest.seq, newest.what), (decided, format!("{id} is accounted: gate")));
    let undone = survey.undo(decided, "").expect("undone");
    let listed = survey.undoable().expect("a list");
    assert!(!listed.iter().any(|one| one.seq == decided), "it was touched since: {listed:?}");
    assert_eq!(listed[0].what, format!("taken back: {id} is accounted: gate"));
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
