//! Event logs and readings beside rows whose frequency is known.

use crate::contract::{CaptureKind, LedgerRow};
use crate::input::{Capture, Input, Outcome};
use crate::made::*;
use units::Band;

const BAND: Band = Band { low_hz: 430e6, high_hz: 440e6 };

fn heard_by(row: &LedgerRow, capture: &str) -> bool {
    row.receptions.iter().any(|r| r.heard && r.capture == capture)
}

/// A log of an hour in the office with an event a minute, which begins with the captures.
fn office_log() -> Capture {
    let mut log = log("C9", 0.0, &[("office", 0.0, 3600.0)]);
    let seconds: Vec<f64> = (0..60).map(|k| 60.0 * f64::from(k)).collect();
    log_row(&mut log, BAND, &seconds, 59.0, 9.0);
    log
}

fn rows_of<'a>(outcome: &'a Outcome, capture: &str) -> Vec<&'a LedgerRow> {
    outcome.ledger.emissions.iter().filter(|row| heard_by(row, capture)).collect()
}

#[test]
fn a_log_joins_the_only_row_in_its_band_that_was_on_there_and_then() {
    let outcome = crate::build(&input(vec![iq("C1", 120.0, "office", &[433.92e6]), office_log()]));
    assert_eq!(outcome.ledger.emissions.len(), 1);
    assert!(heard_by(&outcome.ledger.emissions[0], "C1"));
    assert!(heard_by(&outcome.ledger.emissions[0], "C9"));
}

#[test]
fn a_second_row_in_the_band_keeps_the_log_by_itself() {
    let captures = vec![iq("C1", 120.0, "office", &[433.92e6, 437.1e6]), office_log()];
    let outcome = crate::build(&input(captures));
    assert_eq!(outcome.ledger.emissions.len(), 3);
    let own = rows_of(&outcome, "C9");
    assert_eq!(own.len(), 1);
    assert!(!heard_by(own[0], "C1"));
    let others: Vec<&str> = own[0].may_be.iter().map(|other| &*other.id).collect();
    let fine: Vec<&str> = rows_of(&outcome, "C1").iter().map(|row| &*row.id).collect();
    assert_eq!(others.len(), 2);
    assert!(fine.iter().all(|id| others.contains(id)), "{others:?} {fine:?}");
    let sum: f64 = own[0].may_be.iter().map(|other| other.probability).sum();
    assert!(sum <= 1.0 && own[0].may_be.iter().all(|other| other.probability > 0.2), "{sum}");
}

#[test]
fn time_and_place_must_agree() {
    // The row was on at another place.
    let outcome = crate::build(&input(vec![iq("C1", 120.0, "den", &[433.92e6]), office_log()]));
    assert_eq!(outcome.ledger.emissions.len(), 2);
    // At this place, two hours later, when nobody logged: nothing says that it is the same.
    let later = iq("C1", 7200.0, "office", &[433.92e6]);
    let outcome = crate::build(&input(vec![later, office_log()]));
    assert_eq!(outcome.ledger.emissions.len(), 2);
    assert_eq!(rows_of(&outcome, "C9")[0].may_be.len(), 1);
    // It was on while the log, which listened, shows nothing.
    let mut silent = log("C9", 0.0, &[("office", 0.0, 3600.0)]);
    log_row(&mut silent, BAND, &[1200.0, 1800.0, 3000.0], 4.0, 9.0);
    let outcome = crate::build(&input(vec![iq("C1", 120.0, "office", &[433.92e6]), silent]));
    assert_eq!(outcome.ledger.emissions.len(), 2);
    assert!(rows_of(&outcome, "C9")[0].may_be[0].probability < 0.6);
}

#[test]
fn strengths_in_the_opposite_order_are_another_emission() {
    let mut log = log("C9", 0.0, &[("office", 0.0, 1800.0), ("den", 1800.0, 3600.0)]);
    let seconds: Vec<f64> = (0..60).map(|k| 60.0 * f64::from(k)).collect();
    log_row(&mut log, BAND, &seconds, 59.0, 9.0);
    for event in &mut log.events[30..] {
        event.event.strength = Some(units::Strength { value: 3.0, of: 12.0 });
    }
    let at = |office: f64, den: f64| {
        let mut captures =
            vec![iq("C1", 120.0, "office", &[433.92e6]), iq("C2", 2400.0, "den", &[433.92e6])];
        captures[0].rows[0].emission.level_dbfs = Some(units::Dbfs(office));
        captures[1].rows[0].emission.level_dbfs = Some(units::Dbfs(den));
        captures.push(log.clone());
        crate::build(&input(captures)).ledger.emissions.len()
    };
    assert_eq!(at(-40.0, -60.0), 1);
    assert_eq!(at(-60.0, -40.0), 2);
}

#[test]
fn a_receivers_own_line_is_not_what_a_hand_held_heard() {
    let mut own = iq("C1", 120.0, "office", &[433.92e6]);
    own.role = crate::Role::NoAntenna;
    let outcome = crate::build(&input(vec![own, office_log()]));
    assert_eq!(outcome.ledger.emissions.len(), 2);
    assert!(rows_of(&outcome, "C9")[0].may_be.is_empty());
}

#[test]
fn two_rows_of_a_log_do_not_both_become_one_fine_row() {
    let mut log = office_log();
    log_row(&mut log, BAND, &[150.0, 500.0, 1000.0], 40.0, 5.0);
    let outcome = crate::build(&input(vec![iq("C1", 120.0, "office", &[433.92e6]), log]));
    assert_eq!(outcome.ledger.emissions.len(), 3);
}

#[test]
fn logs_of_one_band_join_by_their_timing() {
    let reporter = |id: &str, start_s: f64, place: &str, period_s: f64| {
        let mut capture = log(id, start_s, &[(place, start_s, start_s + 3600.0)]);
        let seconds: Vec<f64> =
            (0..).map(|k| period_s * f64::from(k)).take_while(|s| *s < 3600.0).collect();
        let row = log_row(&mut capture, BAND, &seconds, 2.0, 6.0);
        let emission = &mut capture.rows[row].emission;
        emission.bursts.period_s = Some(period_s);
        emission.u.period_s = Some(0.4);
        capture
    };
    let rows = |captures| crate::build(&input(captures)).ledger.emissions.len();
    let first = reporter("C1", 0.0, "office", 180.0);
    assert_eq!(rows(vec![first.clone(), reporter("C2", 7200.0, "den", 180.3)]), 1);
    assert_eq!(rows(vec![first.clone(), reporter("C2", 7200.0, "den", 240.0)]), 2);
    // What never stops is not the reporter; of two rows of the other log the reporter is chosen.
    let mut both = reporter("C2", 7200.0, "den", 180.3);
    let seconds: Vec<f64> = (0..60).map(|k| 60.0 * f64::from(k)).collect();
    let row = log_row(&mut both, BAND, &seconds, 59.0, 9.0);
    both.rows[row].emission.shape = detect::Shape::Continuous;
    let outcome = crate::build(&input(vec![first, both]));
    assert_eq!(outcome.ledger.emissions.len(), 2);
    let period_s = rows_of(&outcome, "C1")[0].emission.bursts.period_s;
    assert!(period_s.is_some_and(|t| (180.0..=180.3).contains(&t)), "{period_s:?}");
    assert!(heard_by(rows_of(&outcome, "C1")[0], "C2"));
}

#[test]
fn an_event_in_the_minute_of_a_move_counts_at_the_place_that_has_others() {
    // Moved at 20:30; an event stamped 20:30 may be of either place; 20:31 is the den's.
    let mut log = log("C9", 0.0, &[("office", 0.0, 1800.0), ("den", 1800.0, 3600.0)]);
    log_row(&mut log, BAND, &[1800.0, 1860.0, 1920.0], 4.0, 6.0);
    let atoms = crate::atom::atoms(&crate::atom::canonical(&input(vec![log.clone()])));
    assert_eq!(atoms.len(), 1);
    assert_eq!(atoms[0].position.as_deref(), Some("den"));
    let sure: Vec<bool> = atoms[0].events.iter().map(|e| e.p_here == 1.0).collect();
    assert_eq!(sure, [false, true, true]);
    // Both minutes alike: one half, against a twentieth of that where nothing else was heard.
    let p_here = atoms[0].events[0].p_here;
    assert!((p_here - 1.0 / 1.05).abs() < 0.01, "{p_here}");
    // With events on both sides it goes to the place that heard it as strong; each counts once.
    let row = log_row(&mut log, BAND, &[600.0, 1800.0, 2400.0], 4.0, 6.0);
    let counts = |log: &Capture| -> Vec<(Option<String>, usize)> {
        let atoms = crate::atom::atoms(&crate::atom::canonical(&input(vec![log.clone()])));
        let own = atoms.iter().filter(|atom| atom.key.line.is_some_and(|line| line >= 5));
        own.map(|atom| (atom.position.clone(), atom.events.len())).collect()
    };
    assert_eq!(row, 1);
    assert_eq!(counts(&log), [(Some("office".into()), 2), (Some("den".into()), 1)]);
    log.events[3].event.strength = Some(units::Strength { value: 2.0, of: 12.0 });
    assert_eq!(counts(&log), [(Some("office".into()), 1), (Some("den".into()), 2)]);
}

#[test]
fn a_table_of_readings_has_at_each_place_the_strength_noted_there() {
    let mut table = log("C9", 0.0, &[("office", 0.0, 1800.0), ("den", 1800.0, 3600.0)]);
    log_row(&mut table, BAND, &[600.0, 2400.0], 4.0, 3.0);
    table.events[1].event.strength = Some(units::Strength { value: 11.0, of: 12.0 });
    for kind in [CaptureKind::EventLog, CaptureKind::Readings] {
        table.kind = kind;
        let outcome = crate::build(&input(vec![table.clone()]));
        let heard = outcome.ledger.emissions[0].receptions.iter().filter(|r| r.heard);
        let strengths: Vec<_> =
            heard.map(|r| (r.position.as_deref(), r.strength.map(|s| s.value))).collect();
        assert_eq!(strengths, [(Some("office"), Some(3.0)), (Some("den"), Some(11.0))], "{kind:?}");
    }
}

fn with_readings(captures: Vec<Capture>, readings: &[(f64, &str, f64, f64)]) -> Input {
    let mut input = input(captures);
    for (i, &(at_s, place, hz, value)) in readings.iter().enumerate() {
        input.readings.push(reading(&format!("N{}", i + 1), at_s, place, hz, value));
    }
    input
}

#[test]
fn readings_join_the_row_at_their_frequency() {
    let near = [(150.0, "office", 433.92e6, 7.0), (160.0, "office", 433.925e6, 8.0)];
    let outcome = crate::build(&with_readings(vec![iq("C1", 120.0, "office", &[433.92e6])], &near));
    assert_eq!(outcome.ledger.emissions.len(), 1);
    assert!(heard_by(&outcome.ledger.emissions[0], "N1"));
    assert!(heard_by(&outcome.ledger.emissions[0], "N2"));
    let listed = outcome.ledger.captures.iter().filter(|c| c.kind == CaptureKind::Readings);
    assert_eq!(listed.count(), 2);
    // Two rows within what a display shows: it may be either.
    let rows = vec![iq("C1", 120.0, "office", &[433.92e6, 433.9325e6])];
    let outcome = crate::build(&with_readings(rows, &near[..1]));
    assert_eq!(outcome.ledger.emissions.len(), 3);
    assert_eq!(rows_of(&outcome, "N1")[0].may_be.len(), 2);
}

#[test]
fn readings_alone_make_a_row() {
    let walked = [
        (0.0, "hall", 433.92e6, 3.0),
        (60.0, "office", 433.92e6, 9.0),
        (120.0, "den", 446.1e6, 4.0),
    ];
    let outcome = crate::build(&with_readings(vec![], &walked));
    assert_eq!(outcome.ledger.emissions.len(), 2);
}

#[test]
fn a_reading_of_a_named_row_goes_there() {
    let captures = vec![iq("C1", 120.0, "office", &[433.92e6, 433.9325e6])];
    let mut input = with_readings(captures, &[(900.0, "den", 433.92e6, 7.0)]);
    let outcome = built(&mut input);
    let second = outcome.ledger.emissions.iter().find(|r| r.emission.centre_hz > 433.93e6);
    let id = second.expect("a row").id.clone();
    input.readings[0].emission = Some(id.clone());
    for band in [input.readings[0].band, None] {
        input.readings[0].band = band;
        let outcome = built(&mut input);
        let row = outcome.ledger.emissions.iter().find(|row| row.id == id).expect("still there");
        assert!(heard_by(row, "N1") && heard_by(row, "C1"));
        assert!(outcome.warnings.is_empty());
    }
    input.readings[0].emission = Some("E99".into());
    assert_eq!(built(&mut input).warnings[0].code, "reading_unplaced");
}

/// A log's row that is one steady piece of so many seconds, in an hour.
fn one_piece(seconds: f64) -> Outcome {
    let mut log = log("C1", 0.0, &[("office", 0.0, 3600.0)]);
    log_row(&mut log, Band { low_hz: 880e6, high_hz: 915e6 }, &[10.0], seconds, 9.0);
    log.rows[0].emission.shape = detect::Shape::Continuous;
    crate::build(&input(vec![log]))
}

#[test]
fn a_long_call_is_no_dedicated_transmitter() {
    let dedicated = |outcome: Outcome| {
        outcome.ledger.emissions[0].attention.reasons.iter().any(|r| r.code == "dedicated")
    };
    assert!(dedicated(one_piece(3590.0)));
    assert!(!dedicated(one_piece(200.0)));
}
