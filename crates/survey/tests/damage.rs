//! `verify` tried by damaging every kind of byte: it must name what is altered or missing, and
//! nothing else may make it complain.

mod common;

use common::*;
use ledger::{Ground, State};
use rusqlite::Connection;
use std::fs;
use std::path::{Path, PathBuf};
use survey::{Fault, Quiet, Verdict, Verification};

/// A decided survey, closed; its folder.
fn survey_on_disk() -> (tempfile::TempDir, PathBuf) {
    let place = tempfile::tempdir().expect("a temporary folder");
    let survey = small(place.path());
    let id = row_at(&survey, 433_100);
    let verdict = Verdict {
        state: State::Accounted,
        ground: Some(Ground::Seen),
        reason: "the gate opener of the yard".into(),
    };
    survey.decide(&[id], &verdict, None, "B. Ito").expect("decided");
    drop(survey);
    let case = place.path().join("case");
    (place, case)
}

fn verified(place: &Path) -> Verification {
    open(place).verify(&Quiet).expect("could be checked")
}

/// Changes the database as somebody with any SQLite tool can.
fn tamper(case: &Path, sql: &str) {
    let db = Connection::open(case.join("survey.sqlite")).expect("opens");
    db.execute_batch("DROP TRIGGER journal_is_not_changed; DROP TRIGGER journal_is_not_shortened;")
        .expect("triggers dropped");
    db.execute_batch(sql).expect("tampered");
    // Put back, so that only the damage itself can be what is noticed.
    let first = include_str!("../src/migrations/0001.sql");
    let begin = first.find("CREATE TRIGGER").expect("there");
    let end = first.find("-- What the journal adds up to").expect("there");
    db.execute_batch(&first[begin..end]).expect("triggers put back");
}

#[test]
fn every_column_of_the_journal_is_under_the_chain() {
    for (column, value) in [
        ("time", "'2026-03-01T00:00:00Z'"),
        ("by", "'someone else'"),
        ("kind", "'note'"),
        ("body", "replace(body, 'gate', 'door')"),
        ("previous", "replace(previous, substr(previous, 1, 1), 'x')"),
        ("hash", "replace(hash, substr(hash, 1, 1), 'x')"),
        ("seq", "seq + 100"),
    ] {
        let (place, case) = survey_on_disk();
        let decided: u64 = {
            let db = Connection::open(case.join("survey.sqlite")).expect("opens");
            db.query_row("SELECT seq FROM journal WHERE kind = 'decide'", [], |r| r.get(0))
                .expect("one")
        };
        tamper(&case, &format!("UPDATE journal SET {column} = {value} WHERE seq = {decided}"));
        let check = verified(place.path());
        assert!(!check.ok, "{column}");
        let named = decided + if column == "seq" { 100 } else { 0 };
        assert!(
            check.faults.iter().any(|f| matches!(f, Fault::Journal { seq, .. } if *seq == named)),
            "{column}: {:?}",
            check.faults
        );
    }
}

#[test]
fn an_entry_that_is_missing_added_or_exchanged_is_named() {
    for (sql, named) in [
        ("DELETE FROM journal WHERE seq = 5", 6),
        ("DELETE FROM journal WHERE seq = 1", 2),
        (
            "INSERT INTO journal SELECT max(seq) + 1, time, by, kind, body, hash, hash FROM journal",
            14,
        ),
        (
            "UPDATE journal SET seq = -3 WHERE seq = 3; UPDATE journal SET seq = 3 WHERE seq = 4; \
             UPDATE journal SET seq = 4 WHERE seq = -3",
            3,
        ),
    ] {
        let (place, case) = survey_on_disk();
        tamper(&case, sql);
        let check = verified(place.path());
        assert!(
            check.faults.iter().any(|f| matches!(f, Fault::Journal { seq, .. } if *seq == named)),
            "{sql}: {:?}",
            check.faults
        );
    }
    // Entries cut off at the end leave a record that no journal explains.
    let (place, case) = survey_on_disk();
    tamper(&case, "DELETE FROM journal WHERE kind = 'decide'");
    let check = verified(place.path());
    assert!(
        check.faults.iter().any(|f| matches!(f, Fault::Record { kind, .. } if kind == "act")),
        "{:?}",
        check.faults
    );
}

#[test]
fn a_row_of_the_record_that_the_journal_does_not_say_is_named() {
    for (sql, kind, id) in [
        (
            "UPDATE record SET body = replace(body, 'yard', 'barn') WHERE kind = 'position'",
            "position",
            "P1",
        ),
        ("UPDATE record SET seq = seq + 1 WHERE kind = 'capture' AND id = 'C2'", "capture", "C2"),
        ("DELETE FROM record WHERE kind = 'capture' AND id = 'C3'", "capture", "C3"),
        ("UPDATE record SET body = NULL WHERE kind = 'chain'", "chain", "K1"),
        ("UPDATE record SET id = 'C9' WHERE kind = 'capture' AND id = 'C3'", "capture", "C9"),
        (
            "INSERT INTO record VALUES ('remark', 'B1', 3, '{\"id\":\"B1\",\"text\":\"x\"}')",
            "remark",
            "B1",
        ),
    ] {
        let (place, case) = survey_on_disk();
        tamper(&case, sql);
        let check = verified(place.path());
        let named =
            |f: &Fault| matches!(f, Fault::Record { kind: k, id: i, .. } if k == kind && i == id);
        assert!(check.faults.iter().any(named), "{sql}: {:?}", check.faults);
        assert!(!check.faults.iter().any(|f| matches!(f, Fault::Journal { .. })), "{sql}");
    }
}

#[test]
fn evidence_that_is_altered_cut_or_missing_is_named() {
    let (place, case) = survey_on_disk();
    let path = open(place.path())
        .evidence_path(&open(place.path()).capture("C2").expect("there").recording);
    let good = fs::read(&path).expect("read");
    let named = |check: &Verification| -> String {
        assert_eq!(check.faults.len(), 1, "{:?}", check.faults);
        check.faults[0].to_string()
    };
    let write = |bytes: &[u8]| {
        fs::remove_file(&path).expect("removed");
        fs::write(&path, bytes).expect("written");
    };
    for bit in 0..8 {
        for byte in [0, good.len() / 2, good.len() - 1] {
            let mut bad = good.clone();
            bad[byte] ^= 1 << bit;
            write(&bad);
            let text = named(&verified(place.path()));
            assert!(text.contains("altered") && text.contains("capture C2"), "{text}");
        }
    }
    write(&good[..good.len() - 1]);
    assert!(named(&verified(place.path())).contains("altered"));
    let longer: Vec<u8> = good.iter().copied().chain([0]).collect();
    write(&longer);
    assert!(named(&verified(place.path())).contains("altered"));
    fs::remove_file(&path).expect("removed");
    assert!(named(&verified(place.path())).contains("missing"));
    // Bringing the same recording in again puts the very bytes back.
    fs::write(case.join("../again"), &good).expect("written");
    let survey = open(place.path());
    let added = survey
        .add(&[case.join("../again")], &at(ledger::Role::Room, "boardroom"), "", &Quiet)
        .expect("already there");
    assert!(added[0].already);
    assert!(survey.verify(&Quiet).expect("checked").ok);
}

#[test]
fn the_schema_cannot_be_changed_unseen() {
    let (place, case) = survey_on_disk();
    let db = Connection::open(case.join("survey.sqlite")).expect("opens");
    db.execute_batch("DROP TRIGGER journal_is_not_shortened").expect("dropped");
    drop(db);
    let check = verified(place.path());
    assert!(check.faults.iter().any(|f| f.to_string().contains("journal_is_not_shortened")));
}

#[test]
fn the_journal_refuses_to_be_changed() {
    let (_place, case) = survey_on_disk();
    let db = Connection::open(case.join("survey.sqlite")).expect("opens");
    for sql in ["UPDATE journal SET by = 'x' WHERE seq = 2", "DELETE FROM journal WHERE seq = 2"] {
        let refused = db.execute_batch(sql).expect_err("refused");
        assert!(refused.to_string().contains("never"), "{refused}");
    }
}

/// Flips bytes of the database file all over: whatever was hit, the survey is refused, or `verify`
/// finds it, or what it says is word for word what it said before.
#[test]
fn a_damaged_database_never_passes_for_another_one() {
    let (place, case) = survey_on_disk();
    let file = case.join("survey.sqlite");
    // Everything into the one file.
    Connection::open(&file)
        .and_then(|db| {
            db.execute_batch("PRAGMA wal_checkpoint(TRUNCATE); PRAGMA journal_mode=DELETE")
        })
        .expect("checkpointed");
    let good = fs::read(&file).expect("read");
    let before = {
        let survey = open(place.path());
        (survey.journal().expect("entries"), rows(&survey), survey.describe().expect("text"))
    };
    let (mut found, mut harmless) = (0, 0);
    for at in (0..good.len()).step_by(good.len() / 150) {
        let mut bad = good.clone();
        bad[at] ^= 0x5a;
        for left in ["survey.sqlite-wal", "survey.sqlite-shm"] {
            let _ = fs::remove_file(case.join(left));
        }
        fs::write(&file, &bad).expect("written");
        let opened = survey::Survey::open_with(&case, Fake::new());
        let check = opened.and_then(|survey| survey.verify(&Quiet).map(|check| (survey, check)));
        match check {
            Ok((survey, check)) if check.ok => {
                let after = (
                    survey.journal().expect("entries"),
                    rows(&survey),
                    survey.describe().expect("text"),
                );
                assert_eq!(after, before, "byte {at} changed what the survey says, unseen");
                harmless += 1;
            }
            Ok((_, check)) => {
                assert!(!check.faults.is_empty());
                found += 1;
            }
            Err(error) => {
                assert!(error.to_string().contains("survey"), "{error}");
                found += 1;
            }
        }
    }
    println!("{found} damages found, {harmless} in bytes that mean nothing");
    assert!(found > 20);
}

#[cfg(unix)]
#[test]
fn evidence_that_became_a_link_and_files_that_belong_to_nothing_are_told() {
    let (place, case) = survey_on_disk();
    let survey = open(place.path());
    let path = survey.evidence_path(&survey.capture("C2").expect("there").recording);
    drop(survey);
    // Even where the link leads to the very bytes: they can be exchanged from outside.
    let elsewhere = place.path().join("elsewhere");
    fs::rename(&path, &elsewhere).expect("moved");
    std::os::unix::fs::symlink(&elsewhere, &path).expect("linked");
    let check = verified(place.path());
    assert!(check.faults.len() == 1 && check.faults[0].to_string().contains("is a link"));
    fs::remove_file(&path).expect("removed");
    fs::rename(&elsewhere, &path).expect("moved back");
    assert!(verified(place.path()).warnings.is_empty());
    fs::write(case.join("evidence/planted"), "x").expect("written");
    fs::write(path.with_file_name("planted\nnothing is altered"), "x").expect("written");
    let check = verified(place.path());
    assert!(check.ok, "{:?}", check.faults);
    assert_eq!(check.warnings.len(), 2, "{:?}", check.warnings);
    assert!(check.warnings.iter().all(|w| w.contains("planted") && !w.contains('\n')));
}

#[test]
fn a_clock_that_was_set_back_is_told_and_is_no_fault() {
    use survey::Entry;
    let place = tempfile::tempdir().expect("a temporary folder");
    drop(new_survey(place.path()));
    let case = place.path().join("case");
    // The first entry as a machine would have written it whose clock ran a hundred years ahead.
    let first = open(place.path()).journal().expect("entries").remove(0);
    assert!(open(place.path()).clock_runs_back().expect("asked").is_none());
    let mut ahead = Entry { time: "2099-01-01T00:00:00Z".into(), ..first };
    ahead.hash = ahead.hash_of_columns();
    tamper(&case, &format!("UPDATE journal SET time = '{}', hash = '{}'", ahead.time, ahead.hash));
    let survey = open(place.path());
    assert!(survey.verify(&Quiet).expect("checked").warnings.is_empty());
    let told = survey.clock_runs_back().expect("asked").expect("it does");
    assert!(told.text.contains("2099-01-01T00:00:00Z"), "{}", told.text);
    let text = survey::Note::Remark { text: "x".into(), at: None, from: None, until: None };
    survey.note(&text, "").expect("not refused");
    survey.note(&text, "").expect("not refused");
    let check = survey.verify(&Quiet).expect("checked");
    assert!(check.ok, "{:?}", check.faults);
    assert_eq!(check.warnings.len(), 1, "once, where it was set back: {:?}", check.warnings);
    assert!(check.warnings[0].contains("journal entry 2"), "{:?}", check.warnings);
}

#[test]
fn an_emptied_database_beside_evidence_is_damage() {
    for sql in ["PRAGMA user_version = 0", "PRAGMA user_version = -1", ""] {
        let (_place, case) = survey_on_disk();
        let file = case.join("survey.sqlite");
        if sql.is_empty() {
            fs::write(&file, "").expect("emptied");
        } else {
            Connection::open(&file).and_then(|db| db.execute_batch(sql)).expect("tampered");
        }
        let error = survey::Survey::open_with(&case, Fake::new()).expect_err("no survey any more");
        assert!(error.is_damage() && error.exit_code() == 3, "{sql}: {error}");
        assert!(error.to_string().contains("evidence beside it"), "{sql}: {error}");
        assert!(!error.damage().contains("verify"), "{}", error.damage());
    }
}
