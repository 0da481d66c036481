//! Ids and decisions over merges, splits, and captures that come and go.

use crate::contract::{LedgerRow, State};
use crate::input::Outcome;
use crate::made::*;

fn row<'a>(outcome: &'a Outcome, id: &str) -> &'a LedgerRow {
    outcome.ledger.emissions.iter().find(|row| row.id == id).expect("a row of that id")
}

fn codes(outcome: &Outcome) -> Vec<&str> {
    outcome.warnings.iter().map(|w| &*w.code).collect()
}

const A: f64 = 433.92e6;
const B: f64 = 446.1e6;

#[test]
fn a_decision_stands_and_news_is_told() {
    let mut input = input(vec![iq("C1", 0.0, "yard", &[A, B])]);
    let outcome = built(&mut input);
    assert_eq!(told(&outcome), ["433920 E1", "446100 E2"]);
    decide(&mut input, &outcome, "E1", State::Accounted);
    let outcome = built(&mut input);
    assert_eq!(row(&outcome, "E1").decision.state, State::Accounted);
    assert_eq!((outcome.ledger.balance.accounted, outcome.ledger.balance.open), (1, 1));
    assert_eq!(outcome.ledger.balance.changed, 0);
    // The same again tells nothing new; another place does, and so do 6 dB and other hours.
    input.captures.push(iq("C2", 120.0, "yard", &[A]));
    assert!(row(&built(&mut input), "E1").decision.changed_since.is_empty());
    let mut office = iq("C3", 240.0, "office", &[A]);
    office.rows[0].emission.level_dbfs = Some(units::Dbfs(-44.0));
    input.captures.push(office);
    let mut again = iq("C4", 2.0 * 3600.0, "yard", &[A]);
    again.rows[0].emission.level_dbfs = Some(units::Dbfs(-44.0));
    input.captures.push(again);
    let outcome = built(&mut input);
    let codes: Vec<_> =
        row(&outcome, "E1").decision.changed_since.iter().map(|r| &*r.code).collect();
    assert_eq!(codes, ["stronger", "new_position", "other_hours"]);
    assert_eq!(outcome.ledger.balance.changed, 1);
    decide(&mut input, &outcome, "E1", State::Accounted);
    assert_eq!(built(&mut input).ledger.balance.changed, 0, "confirmed");
}

#[test]
fn ids_are_kept_and_never_given_twice() {
    let mut input = input(vec![iq("C1", 0.0, "yard", &[A, B])]);
    assert_eq!(told(&built(&mut input)), ["433920 E1", "446100 E2"]);
    input.captures[0].set_aside = Some("wrong place".into());
    let outcome = built(&mut input);
    assert_eq!(told(&outcome), [""; 0]);
    assert_eq!(outcome.ledger.captures.len(), 1, "set aside ones are listed");
    input.captures.push(iq("C2", 120.0, "hall", &[410e6]));
    assert_eq!(told(&built(&mut input)), ["410000 E3"]);
    input.captures[0].set_aside = None;
    assert_eq!(told(&built(&mut input)), ["410000 E3", "433920 E1", "446100 E2"]);
}

#[test]
fn a_decision_waits_for_its_row_and_comes_back() {
    let mut input = input(vec![iq("C1", 0.0, "yard", &[A]), iq("C2", 120.0, "hall", &[B])]);
    let outcome = built(&mut input);
    decide(&mut input, &outcome, "E1", State::Suspect);
    input.captures[0].set_aside = Some("test".into());
    let outcome = built(&mut input);
    assert_eq!(codes(&outcome), ["decision_waits"]);
    assert_eq!((outcome.ledger.balance.open, outcome.ledger.balance.suspect), (1, 0));
    input.captures[0].set_aside = None;
    let outcome = built(&mut input);
    assert_eq!(row(&outcome, "E1").decision.state, State::Suspect);
    assert!(outcome.warnings.is_empty());
}

#[test]
fn rows_put_together_keep_the_oldest_id_and_equal_decisions() {
    let mut input = input(vec![iq("C1", 0.0, "yard", &[A, B]), iq("C2", 120.0, "hall", &[410e6])]);
    let outcome = built(&mut input);
    assert_eq!(
        told(&outcome),
        ["433920 E1", "446100 E2", "410000 E3"]
            .map(String::from)
            .iter()
            .cloned()
            .collect::<std::collections::BTreeSet<_>>()
            .into_iter()
            .collect::<Vec<_>>()
    );
    decide(&mut input, &outcome, "E2", State::Suspect);
    decide(&mut input, &outcome, "E3", State::Suspect);
    join(&mut input, &outcome, &["E3", "E2"]);
    let outcome = built(&mut input);
    let joined = row(&outcome, "E2");
    assert_eq!(joined.aliases, ["E3"]);
    assert_eq!(joined.decision.state, State::Suspect);
    assert_eq!(joined.receptions.iter().filter(|r| r.heard).count(), 2);
    assert!(outcome.warnings.is_empty());
    // Taken back, both are as they were.
    input.acts.pop();
    let outcome = built(&mut input);
    assert_eq!(row(&outcome, "E3").decision.state, State::Suspect);
    assert_eq!(row(&outcome, "E2").aliases, [""; 0]);
}

#[test]
fn unequal_decisions_reopen_and_say_so() {
    let mut input = input(vec![iq("C1", 0.0, "yard", &[A]), iq("C2", 120.0, "hall", &[B])]);
    let outcome = built(&mut input);
    decide(&mut input, &outcome, "E1", State::Suspect);
    decide(&mut input, &outcome, "E2", State::Unresolved);
    join(&mut input, &outcome, &["E1", "E2"]);
    let outcome = built(&mut input);
    assert_eq!(codes(&outcome), ["unequal_decisions"]);
    assert_eq!(row(&outcome, "E1").decision.state, State::Open);
    assert_eq!(row(&outcome, "E1").decision.changed_since[0].code, "unequal_decisions");
    // Decided as one: that is the word on both.
    decide(&mut input, &outcome, "E1", State::Suspect);
    let outcome = built(&mut input);
    assert_eq!(row(&outcome, "E1").decision.state, State::Suspect);
    assert!(outcome.warnings.is_empty());
}

#[test]
fn a_split_leaves_id_and_decision_with_what_was_decided_on() {
    let captures = (0..3).map(|k| iq(&format!("C{k}"), 120.0 * f64::from(k), "hall", &[A]));
    let mut input = input(captures.collect());
    let outcome = built(&mut input);
    assert_eq!(told(&outcome), ["433920 E1"]);
    decide(&mut input, &outcome, "E1", State::Accounted);
    split(&mut input, &outcome, "E1", &["C2"], "E2");
    for _ in 0..2 {
        let outcome = built(&mut input);
        assert_eq!(row(&outcome, "E1").decision.state, State::Accounted);
        assert_eq!(row(&outcome, "E1").receptions.iter().filter(|r| r.heard).count(), 2);
        assert_eq!(row(&outcome, "E2").decision.state, State::Open);
        assert_eq!(row(&outcome, "E2").was_part_of.as_deref(), Some("E1"));
    }
    // What is decided on goes, the other stays: the decision does not move to it.
    input.captures[0].set_aside = Some("x".into());
    input.captures[1].set_aside = Some("x".into());
    let outcome = built(&mut input);
    assert_eq!(told(&outcome), ["433920 E2"]);
    assert_eq!(row(&outcome, "E2").decision.state, State::Open);
    assert_eq!(codes(&outcome), ["decision_waits"]);
    // A later join takes the split back; a later split that join.
    input.captures.iter_mut().for_each(|c| c.set_aside = None);
    let outcome = built(&mut input);
    join(&mut input, &outcome, &["E1", "E2"]);
    let outcome = built(&mut input);
    assert_eq!(told(&outcome), ["433920 E1"]);
    assert_eq!(row(&outcome, "E1").aliases, ["E2"]);
    split(&mut input, &outcome, "E1", &["C0"], "E3");
    let outcome = built(&mut input);
    assert_eq!(row(&outcome, "E3").receptions.iter().filter(|r| r.heard).count(), 1);
    assert_eq!(row(&outcome, "E1").decision.state, State::Accounted);
}

#[test]
fn the_larger_part_that_leaves_takes_the_decision_and_it_is_told() {
    let captures = (0..3).map(|k| iq(&format!("C{k}"), 120.0 * f64::from(k), "hall", &[A]));
    let mut input = input(captures.collect());
    let outcome = built(&mut input);
    decide(&mut input, &outcome, "E1", State::Accounted);
    split(&mut input, &outcome, "E1", &["C1", "C2"], "E2");
    let outcome = built(&mut input);
    assert_eq!(row(&outcome, "E2").decision.state, State::Accounted);
    assert_eq!(row(&outcome, "E1").decision.state, State::Open);
    assert_eq!(codes(&outcome), ["decision_followed"]);
}
