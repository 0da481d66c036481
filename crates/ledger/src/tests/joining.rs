//! What is one emission and what is two.

use crate::contract::Role;
use crate::made::*;
use detect::Shape;

const A: f64 = 433.92e6;

fn rows(captures: Vec<crate::Capture>) -> usize {
    crate::build(&input(captures)).ledger.emissions.len()
}

#[test]
fn one_emission_at_three_places_is_one_row() {
    let captures = vec![
        iq("C1", 0.0, "yard", &[A]),
        iq("C2", 120.0, "hall", &[A + 300.0]),
        iq("C3", 240.0, "office", &[A - 200.0]),
    ];
    assert_eq!(rows(captures), 1);
}

#[test]
fn emissions_a_channel_apart_stay_two() {
    // 12.5 kHz: the raster of land mobile channels (ECC Recommendation (05)08; from memory).
    let next = 446.00625e6 + 12.5e3;
    let seen_together = vec![
        iq("C1", 0.0, "yard", &[446.00625e6, next]),
        iq("C2", 120.0, "hall", &[446.00625e6, next]),
    ];
    assert_eq!(rows(seen_together), 2);
    let seen_apart = vec![iq("C1", 0.0, "yard", &[446.00625e6]), iq("C2", 120.0, "hall", &[next])];
    assert_eq!(rows(seen_apart), 2);
}

#[test]
fn references_that_differ_by_5_ppm_show_one_emission() {
    let mut other = iq("C2", 120.0, "hall", &[A * (1.0 + 5e-6)]);
    other.chain.name = "other".into();
    let mut first = iq("C1", 0.0, "yard", &[A]);
    assert_eq!(rows(vec![first.clone(), other.clone()]), 1, "cheap ones, unstated");
    // Stated as 0.1 ppm each, 12 ppm (5 kHz here) cannot be the references.
    let mut far = iq("C2", 120.0, "hall", &[A * (1.0 + 12e-6)]);
    far.chain.name = "other".into();
    for capture in [&mut first, &mut far] {
        capture.chain.frequency_u_ppm = Some(0.1);
    }
    assert_eq!(rows(vec![first.clone(), far.clone()]), 2);
    first.chain.frequency_u_ppm = None;
    far.chain.frequency_u_ppm = None;
    assert_eq!(rows(vec![first, far]), 1);
}

#[test]
fn both_receivers_off_by_6_ppm_pair_their_channels_rightly() {
    let next = A + 12.5e3;
    let mut other = iq("C2", 120.0, "hall", &[A * (1.0 + 6e-6), next * (1.0 + 6e-6)]);
    other.chain.name = "other".into();
    let outcome = crate::build(&input(vec![iq("C1", 0.0, "yard", &[A, next]), other]));
    assert_eq!(outcome.ledger.emissions.len(), 2);
    for row in &outcome.ledger.emissions {
        assert_eq!(row.receptions.iter().filter(|r| r.heard).count(), 2);
    }
}

#[test]
fn rows_of_one_capture_stay_apart_unless_their_identity_is_one() {
    let mut capture = iq("C1", 0.0, "yard", &[A, A + 100.0]);
    assert_eq!(rows(vec![capture.clone()]), 2);
    capture.rows[0].identity = Some("00:00:5e:00:53:01".into());
    assert_eq!(rows(vec![capture.clone()]), 2);
    capture.rows[1].identity = Some("00:00:5e:00:53:01".into());
    assert_eq!(rows(vec![capture.clone()]), 1);
    // Unequal identities never join, however near.
    let mut other = iq("C2", 120.0, "yard", &[A]);
    other.rows[0].identity = Some("00:00:5e:00:53:02".into());
    assert_eq!(rows(vec![capture, other]), 2);
}

#[test]
fn shape_is_no_veto() {
    // A talk-switched transmitter: never stops in a minute, comes and goes over a night.
    let mut night = iq("C2", 3600.0, "hall", &[A]);
    let emission = &mut night.rows[0].emission;
    emission.shape = Shape::Bursts;
    emission.bursts.median_s = Some(300.0);
    emission.bursts.on_fraction = 0.2;
    night.listened[0].looked_s = 28_800.0;
    assert_eq!(rows(vec![iq("C1", 0.0, "hall", &[A]), night.clone()]), 1);
    // Even one whose bursts are far shorter than the look joins if its frequency is the same.
    night.rows[0].emission.bursts.median_s = Some(0.01);
    assert_eq!(rows(vec![iq("C1", 0.0, "hall", &[A]), night]), 1);
}

#[test]
fn a_hopper_is_known_by_its_channels() {
    let hopper = |id: &str, start_s: f64, channels_hz: &[f64]| {
        let mut capture = iq(id, start_s, "hall", &[440e6]);
        let emission = &mut capture.rows[0].emission;
        emission.shape = Shape::Hopping;
        emission.channels_hz = Some(channels_hz.to_vec());
        emission.low_hz = channels_hz[0] - 5e3;
        emission.high_hz = channels_hz[channels_hz.len() - 1] + 5e3;
        emission.centre_hz = 0.5 * (emission.low_hz + emission.high_hz);
        capture
    };
    let all: Vec<f64> = (0..50).map(|k| 430e6 + 200e3 * f64::from(k)).collect();
    let few: Vec<f64> = [3, 7, 20, 31, 44].iter().map(|&k| all[k]).collect();
    assert_eq!(rows(vec![hopper("C1", 0.0, &all), hopper("C2", 120.0, &few)]), 1);
    let others: Vec<f64> = few.iter().map(|hz| hz + 90e3).collect();
    assert_eq!(rows(vec![hopper("C1", 0.0, &all), hopper("C2", 120.0, &others)]), 2);
    // A short look that saw two hops: pieces of it. One that stays on a channel is another.
    let mut brief = iq("C3", 240.0, "hall", &[few[0], few[1]]);
    for row in &mut brief.rows {
        row.emission.shape = Shape::Bursts;
        row.emission.bursts.count = 1;
    }
    assert_eq!(rows(vec![hopper("C1", 0.0, &all), brief.clone()]), 1);
    brief.rows.truncate(1);
    brief.rows[0].emission.bursts.count = 40;
    assert_eq!(rows(vec![hopper("C1", 0.0, &all), brief]), 2);
}

#[test]
fn the_receivers_own_lines_stay_in_their_receiver() {
    let mut own = iq("C1", 0.0, "", &[A]);
    own.role = Role::NoAntenna;
    own.position = None;
    let room = iq("C2", 120.0, "hall", &[A]);
    let mut other = iq("C3", 240.0, "office", &[A]);
    other.chain.name = "other".into();
    assert_eq!(rows(vec![own.clone(), room.clone()]), 1);
    assert_eq!(rows(vec![own, other.clone()]), 2);
    assert_eq!(rows(vec![room, other]), 1);
}

#[test]
fn a_chain_of_near_neighbours_does_not_drift_into_one() {
    // Ten captures, each 2 kHz (4.6 ppm) above the last: the ends are 18 kHz apart.
    let captures = (0..10)
        .map(|k| iq(&format!("C{k}"), 120.0 * f64::from(k), "hall", &[A + 2e3 * f64::from(k)]))
        .collect();
    let rows = rows(captures);
    assert!((2..=6).contains(&rows), "{rows}");
}
