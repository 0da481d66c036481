//! Derived data that somebody edits: the ledger never counts with it, `verify` names it, and it is
//! made anew from the evidence.

mod common;

use common::*;
use std::fs;
use std::path::{Path, PathBuf};
use survey::{Fault, Quiet, Survey};

/// The analysis that shows this text, of all under derived/.
fn analysis_with(case: &Path, text: &str) -> PathBuf {
    let folders = fs::read_dir(case.join("derived")).expect("listed");
    let files = folders.map(|folder| folder.expect("an entry").path().join("analysis.json"));
    let holds = |file: &PathBuf| fs::read_to_string(file).expect("read").contains(text);
    files.into_iter().find(holds).expect("one of them")
}

/// Moves an emission by a megahertz, as `sed` can.
fn edit(case: &Path) -> PathBuf {
    let file = analysis_with(case, "434000000");
    let text = fs::read_to_string(&file).expect("read").replace("434000000", "435000000");
    fs::write(&file, text).expect("written");
    file
}

#[test]
fn an_edited_analysis_is_named_and_made_anew() {
    let place = place();
    let survey = small(place.path());
    let before = rows(&survey);
    let entries = survey.journal().expect("entries").len();
    let then = survey.ledger_at(entries as u64).expect("a ledger").ledger.emissions;
    drop(survey);
    let file = edit(&place.path().join("case"));
    let check = open(place.path()).verify(&Quiet).expect("checked");
    let named = |f: &Fault| matches!(f, Fault::DerivedAltered { of, .. } if of == "C3");
    assert!(!check.ok && check.faults.len() == 1 && named(&check.faults[0]), "{:?}", check.faults);
    assert!(check.faults[0].to_string().contains("`reanalyse`"), "{}", check.faults[0]);
    let survey = open(place.path());
    let told = survey.ledger(&Quiet).expect("a ledger").warnings;
    let told: Vec<_> = told.iter().filter(|w| w.code == "derived_altered").collect();
    assert!(told.len() == 1 && told[0].text.contains("C3"), "{told:?}");
    assert_eq!(rows(&survey), before, "it never counts");
    assert!(fs::read_to_string(file).expect("read").contains("434000000"), "made anew");
    assert!(survey.verify(&Quiet).expect("checked").ok);
    assert_eq!(survey.journal().expect("entries").len(), entries, "the same bytes as before");
    assert_eq!(survey.ledger_at(entries as u64).expect("a ledger").ledger.emissions, then);
}

#[test]
fn where_nothing_may_be_written_an_edited_analysis_counts_for_nothing() {
    let place = place();
    drop(small(place.path()));
    let case = place.path().join("case");
    edit(&case);
    let survey = Survey::open_unwritten_with(&case, Fake::new()).expect("opens");
    let outcome = survey.ledger(&Quiet).expect("a ledger");
    assert!(outcome.warnings.iter().any(|w| w.code == "derived_altered"), "{:?}", outcome.warnings);
    assert!(rows(&survey).iter().all(|row| row.1 < 434_000), "{:?}", rows(&survey));
}

#[test]
fn an_edited_list_of_bursts_is_named_and_reanalyse_makes_it_anew() {
    let place = place();
    drop(small(place.path()));
    let case = place.path().join("case");
    let bursts = analysis_with(&case, "434000000").with_file_name("bursts.csv");
    fs::write(bursts, "emission,start_s\n").expect("written");
    let survey = open(place.path());
    let check = survey.verify(&Quiet).expect("checked");
    assert!(check.faults.len() == 1 && check.faults[0].to_string().contains("bursts.csv"));
    assert_eq!(survey.reanalyse("B. Ito", &Quiet).expect("derived again").derived, 1);
    assert!(survey.verify(&Quiet).expect("checked").ok);
    let again = survey.reanalyse("B. Ito", &Quiet).expect("nothing to do");
    assert_eq!((again.derived, again.of), (0, 3));
}

#[test]
fn what_an_edit_left_beside_an_amended_capture_is_not_taken_up_again() {
    let place = place();
    let survey = small(place.path());
    let before = rows(&survey);
    let amend = |centre_hz| survey::Amend {
        overrides: survey::Overrides { centre_hz: Some(centre_hz), ..Default::default() },
        ..Default::default()
    };
    // It counts with other derived data now; what was edited lies there unused.
    survey.amend("C3", &amend(434e6), "").expect("amended");
    survey.ledger(&Quiet).expect("a ledger");
    let folders = fs::read_dir(place.path().join("case/derived")).expect("listed").count();
    assert_eq!(folders, 4);
    for folder in fs::read_dir(place.path().join("case/derived")).expect("listed") {
        let file = folder.expect("an entry").path().join("analysis.json");
        let text = fs::read_to_string(&file).expect("read").replace("434000000", "435000000");
        fs::write(&file, text).expect("written");
    }
    drop(survey);
    let survey = open(place.path());
    let journal = survey.journal().expect("entries");
    let amended = journal.iter().find(|entry| entry.kind == "amend").expect("one");
    survey.undo(amended.seq, "").expect("taken back");
    assert_eq!(rows(&survey), before);
    assert!(survey.verify(&Quiet).expect("checked").ok);
}
