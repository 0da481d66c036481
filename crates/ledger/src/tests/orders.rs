//! Any order of captures gives the same ledger.

use crate::input::{Capture, Input};
use crate::made::*;
use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use units::Band;

/// A night: an IQ receiver and another at four places, a hand-held's two logs, readings.
fn night(seed: u64) -> Input {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let emitters: Vec<f64> = (0..25).map(|_| random.random_range(401e6..499e6)).collect();
    let places = ["yard", "hall", "office", "den"];
    let mut captures: Vec<Capture> = Vec::new();
    for k in 0..16 {
        let mut centres: Vec<f64> =
            emitters.iter().copied().filter(|_| random.random_bool(0.6)).collect();
        // One pair a channel apart, and references of their own.
        centres.push(emitters[0] + 12.5e3);
        let chain = k % 2;
        let off = [2e-6, -4e-6][chain];
        centres
            .iter_mut()
            .for_each(|hz| *hz *= 1.0 + off + 0.2e-6 * random.random_range(-1.0..1.0));
        centres.sort_by(f64::total_cmp);
        let mut capture = iq(&format!("C{k}"), 120.0 * (k / 2) as f64, places[k / 2 % 4], &centres);
        for row in &mut capture.rows {
            row.emission.level_dbfs = Some(units::Dbfs(random.random_range(-80.0..-40.0)));
        }
        capture.chain.name = ["receiver", "other"][chain].into();
        captures.push(capture);
    }
    for k in 0..2 {
        let start_s = 3600.0 * f64::from(k);
        let halves =
            [("office", start_s, start_s + 1800.0), ("den", start_s + 1800.0, start_s + 3600.0)];
        let mut capture = log(&format!("C{}", 20 + k), start_s, &halves);
        for low_mhz in [410.0, 430.0, 470.0] {
            let band = Band { low_hz: low_mhz * 1e6, high_hz: (low_mhz + 6.0) * 1e6 };
            let mut seconds: Vec<f64> = (0..9).map(|_| random.random_range(0.0..3500.0)).collect();
            seconds.sort_by(f64::total_cmp);
            log_row(&mut capture, band, &seconds, 5.0, 4.0);
        }
        captures.push(capture);
    }
    let mut input = input(captures);
    for (i, &hz) in emitters.iter().take(6).enumerate() {
        input.readings.push(reading(&format!("N{i}"), 50.0 * i as f64, "den", hz, 5.0));
    }
    input
}

#[test]
fn twenty_orders_give_the_same_ledger_to_the_bit() {
    for seed in 0..3 {
        let mut first = night(seed);
        let outcome = built(&mut first);
        decide(&mut first, &outcome, "E2", crate::State::Accounted);
        join(&mut first, &outcome, &["E3", "E5"]);
        let outcome = crate::build(&first);
        let expected = serde_json::to_string(&outcome.ledger).expect("serialises");
        assert!(outcome.ledger.emissions.len() > 20);
        let mut random = ChaCha8Rng::seed_from_u64(100 + seed);
        for _ in 0..20 {
            let mut shuffled = first.clone();
            shuffled.captures.shuffle(&mut random);
            shuffled.readings.shuffle(&mut random);
            shuffled.anchors.shuffle(&mut random);
            let again = crate::build(&shuffled);
            assert_eq!(serde_json::to_string(&again.ledger).expect("serialises"), expected);
            assert_eq!(
                (again.anchors, again.seen),
                (outcome.anchors.clone(), outcome.seen.clone())
            );
        }
    }
}

#[test]
fn numbering_captures_in_another_order_changes_no_row_level_or_rank() {
    let first = night(7);
    // Ids tell in which order captures came in; rows must not.
    let strip = |input: &Input| {
        let mut ledger = crate::build(input).ledger;
        ledger.captures.clear();
        for row in &mut ledger.emissions {
            row.receptions.iter_mut().for_each(|r| r.capture.clear());
            row.receiver_line = None;
        }
        serde_json::to_string(&ledger).expect("serialises")
    };
    let expected = strip(&first);
    let mut random = ChaCha8Rng::seed_from_u64(9);
    for _ in 0..20 {
        let mut renamed = first.clone();
        renamed.captures.shuffle(&mut random);
        for (i, capture) in renamed.captures.iter_mut().enumerate() {
            capture.id = format!("C{i}");
        }
        assert_eq!(strip(&renamed), expected);
    }
}

#[test]
fn adding_one_by_one_gives_the_rows_of_adding_all() {
    let whole = night(11);
    let shape = |outcome: &crate::Outcome| {
        // Rows by what they are made of; ids differ with history.
        let mut rows: Vec<String> = outcome
            .seen
            .iter()
            .map(|(_, seen)| serde_json::to_string(&seen.receptions).expect("serialises"))
            .collect();
        rows.sort();
        rows
    };
    let expected = shape(&crate::build(&whole));
    let mut random = ChaCha8Rng::seed_from_u64(12);
    for _ in 0..5 {
        let mut order = whole.captures.clone();
        order.shuffle(&mut random);
        let mut growing = Input { captures: Vec::new(), ..whole.clone() };
        let mut last = None;
        for capture in order {
            growing.captures.push(capture);
            last = Some(built(&mut growing));
        }
        let last = last.expect("some");
        assert_eq!(shape(&last), expected);
        let mut ids: Vec<&String> = last.ledger.emissions.iter().map(|row| &row.id).collect();
        ids.sort();
        ids.dedup();
        assert_eq!(ids.len(), last.ledger.emissions.len());
    }
}
