//! Pulses made by hand, each rule with the case that it must leave alone.

use super::super::tests::{look, rows};
use super::*;
use crate::Excerpt;
use crate::pulse::Pulse;

/// Dwells of a stepped receiver.
const DWELLS: u32 = 20;
const DWELL_S: f64 = 0.02;

fn looks(low_hz: f64, high_hz: f64) -> Vec<Look> {
    (0..DWELLS).map(|k| look(k, f64::from(k), f64::from(k) + DWELL_S, low_hz, high_hz)).collect()
}

/// On for all of dwell `k`.
fn pulse(hz: f64, width_hz: f64, level_dbfs: f64, k: u32) -> Pulse {
    let (start_s, stop_s) = (f64::from(k), f64::from(k) + DWELL_S);
    Pulse {
        segment: k,
        start_s,
        stop_s,
        u_time_s: 1e-4,
        low_hz: hz - 0.5 * width_hz,
        high_hz: hz + 0.5 * width_hz,
        centre_hz: hz,
        u_centre_hz: 0.01 * width_hz,
        bandwidth_hz: width_hz,
        u_bandwidth_hz: 0.05 * width_hz,
        bare: false,
        resolution_hz: 0.05 * width_hz,
        level_dbfs,
        u_level_db: 0.3,
        snr_db: level_dbfs + 120.0,
        cut_start: true,
        cut_stop: true,
        sweep_hz_per_s: None,
        excerpt: Excerpt { first_sample: u64::from(k) * 1000, samples: 100 },
    }
}

fn always(hz: f64, width_hz: f64, level_dbfs: f64) -> Vec<Pulse> {
    (0..DWELLS).map(|k| pulse(hz, width_hz, level_dbfs, k)).collect()
}

/// Frequencies of the rows, MHz.
fn centres(looks: &[Look], pulses: Vec<Pulse>) -> Vec<f64> {
    rows(looks, pulses).0.iter().map(|f| (f.centre_hz / 1e4).round() / 100.0).collect()
}

#[test]
fn sporadic_pieces_beside_a_broadcaster_are_its_own_and_a_bug_there_is_not() {
    let looks = looks(97e6, 99.4e6);
    let mut pulses = always(98.7e6, 120e3, -26.0);
    // Thrown now and then, of any level.
    pulses.extend([pulse(98.80e6, 40e3, -77.0, 3), pulse(98.59e6, 8e3, -90.0, 9)]);
    assert_eq!(centres(&looks, pulses.clone()), [98.7]);
    // Steady, or burst by burst of one level: emissions.
    pulses.extend(always(98.91e6, 9e3, -80.0));
    pulses.extend((0..8).map(|k| pulse(98.48e6, 9e3, -80.0, 2 * k)));
    assert_eq!(centres(&looks, pulses.clone()), [98.48, 98.7, 98.91]);
    // Beyond 250 % of the width, or not 40 dB under: nothing says whose it is.
    pulses.extend([pulse(97.5e6, 40e3, -90.0, 4), pulse(98.85e6, 30e3, -40.0, 6)]);
    assert_eq!(centres(&looks, pulses), [97.5, 98.48, 98.7, 98.85, 98.91]);
}

#[test]
fn what_lies_around_a_strong_band_far_under_it_is_its_skirts() {
    let looks = looks(97e6, 99.4e6);
    let rows_with = |hz: f64, width_hz: f64, under_db: f64| {
        let mut pulses = always(97.6e6, 91e3, -26.0);
        pulses.extend((0..8).map(|k| pulse(hz, width_hz, -26.0 - under_db, 2 * k)));
        centres(&looks, pulses).len()
    };
    assert_eq!(rows_with(97.591e6, 150e3, 35.0), 1);
    // Less than a per cent lies outside of the band (ITU-R SM.328); this is more.
    assert_eq!(rows_with(97.591e6, 250e3, 22.0), 1);
    assert_eq!(rows_with(97.591e6, 250e3, 17.0), 2);
    // Half of it beside the band, or beside it: nothing says so.
    assert_eq!(rows_with(97.66e6, 100e3, 35.0), 2);
    assert_eq!(rows_with(97.7e6, 91e3, 35.0), 2);
}

#[test]
fn harmonics_of_the_pilot_belong_to_the_broadcaster() {
    let looks = looks(97e6, 99.4e6);
    let side = |hz: f64| (0..12).map(move |k| pulse(hz, 4e3, -98.0, k));
    let mut pulses = always(97.6e6, 120e3, -25.0);
    // The fifth, 95 kHz under the carrier (ITU-R BS.450: 19 kHz).
    pulses.extend(side(97.505e6));
    assert_eq!(centres(&looks, pulses.clone()), [97.6]);
    // Half a spacing from it.
    pulses.extend(side(97.4955e6));
    assert_eq!(centres(&looks, pulses), [97.5, 97.6]);
}

#[test]
fn lines_at_the_line_rate_of_a_picture_are_one_emission_with_it() {
    let looks = looks(1231e6, 1251e6);
    let mut pulses = always(1240e6, 4.6e6, -40.0);
    // 625 lines at 25 pictures a second (ITU-R BT.470): 15.625 kHz.
    for n in 0..30 {
        pulses.extend(always(1245e6 + 15_625.0 * f64::from(n), 400.0, -100.0));
    }
    assert_eq!(centres(&looks, pulses.clone()), [1240.0]);
    // Off the raster by a third of the spacing.
    pulses.extend(always(1247.0e6 + 5_200.0, 400.0, -100.0));
    assert_eq!(centres(&looks, pulses), [1240.0, 1247.01]);
    // Three lines anywhere are no family.
    let mut few = always(1240e6, 4.6e6, -40.0);
    [1245.1e6, 1246.3e6, 1247.9e6].iter().for_each(|f| few.extend(always(*f, 400.0, -100.0)));
    assert_eq!(centres(&looks, few).len(), 4);
}

#[test]
fn a_family_of_which_lines_are_missing_is_one_all_the_same_and_scattered_lines_are_none() {
    let rows_with = |multiples: &[f64]| {
        let mut pulses = always(1240e6, 4.5e6, -37.0);
        for n in multiples {
            pulses.extend(always(1244.35e6 + 15_625.0 * n, 400.0, -96.0));
        }
        centres(&looks(1231e6, 1251e6), pulses).len()
    };
    assert_eq!(rows_with(&[0.0, 2.0, 3.0, 4.0, 6.0, 7.0, 8.0, 25.0, 26.0, 29.0, 30.0]), 1);
    // Gaps of 1.0, 1.37, 0.63, 2.44, 1.56, 1.71 and 2.29 spacings.
    assert_eq!(rows_with(&[0.0, 1.0, 2.37, 3.0, 5.44, 7.0, 8.71, 11.0]), 9);
}

#[test]
fn bursts_mirrored_about_the_middle_of_the_look_have_no_row() {
    let looks = looks(433e6, 435.4e6);
    let on = [2, 7, 12, 17];
    let bursts = |hz: f64, db: f64| on.map(|k| pulse(hz, 17e3, db, k));
    let mut pulses: Vec<Pulse> = bursts(433.87e6, -37.0).into();
    // The mirror image about 434.2 MHz, and a sensor near it with times of its own.
    pulses.extend(bursts(434.53e6, -75.0));
    let (found, of) = rows(&looks, pulses.clone());
    assert_eq!(found.len(), 1);
    assert_eq!(of, [Some(0), None]);
    pulses.truncate(on.len());
    pulses.extend([1, 5, 9, 14].map(|k| pulse(434.53e6, 17e3, -75.0, k)));
    assert_eq!(centres(&looks, pulses), [433.87, 434.53]);
    // At the mirrored place and the same times but as strong: another emitter.
    let mut two: Vec<Pulse> = bursts(433.87e6, -37.0).into();
    two.extend(bursts(434.53e6, -50.0));
    assert_eq!(centres(&looks, two), [433.87, 434.53]);
}

#[test]
fn what_comes_and_goes_far_under_a_strong_emission_is_its_product() {
    let looks = looks(867.2e6, 869.6e6);
    let rows_with = |hz: f64, under_db: f64, dwells: &[u32]| {
        let on = [1, 4, 9, 14];
        let mut pulses: Vec<Pulse> = on.map(|k| pulse(868.3e6, 32e3, -45.0, k)).into();
        pulses.extend(dwells.iter().map(|k| pulse(hz, 6e3, -45.0 - under_db, *k)));
        centres(&looks, pulses).len()
    };
    // One of its bursts, 70 kHz beside it: 0.2 × 2 × 0.07/2.4 is 1 % by chance.
    assert_eq!(rows_with(868.37e6, 40.0, &[4]), 1);
    // The same when it is off, or hardly weaker: an emitter.
    assert_eq!(rows_with(868.37e6, 40.0, &[5]), 2);
    assert_eq!(rows_with(868.37e6, 12.0, &[4]), 2);
    // Anywhere in the band 80 dB under it; 30 dB under, only near it.
    assert_eq!(rows_with(869.4e6, 80.0, &[4]), 1);
    assert_eq!(rows_with(869.4e6, 30.0, &[4]), 2);
}

#[test]
fn the_skirt_of_bursts_beyond_the_step_is_theirs() {
    let mut looks: Vec<Look> = Vec::new();
    for k in 0..DWELLS {
        let (low, high) = if k % 2 == 0 { (1887.1e6, 1889.5e6) } else { (1889.6e6, 1892e6) };
        looks.push(look(k, f64::from(k), f64::from(k) + DWELL_S, low, high));
    }
    let burst = |hz: f64, width: f64, db: f64, k: u32, length: f64| {
        let p = pulse(hz, width, db, k);
        Pulse { start_s: p.start_s + 5e-3, stop_s: p.start_s + 5e-3 + length, ..p }
    };
    let rows_with = |length: f64, db: f64| {
        let mut pulses: Vec<Pulse> =
            (0..10).map(|k| burst(1888.7e6, 1.2e6, -45.0, 2 * k, 0.37e-3)).collect();
        pulses.extend((0..6).map(|k| burst(1889.75e6, 290e3, db, 2 * k + 1, length)));
        centres(&looks, pulses).len()
    };
    assert_eq!(rows_with(0.36e-3, -90.0), 1);
    // Longer bursts, or as strong as an emitter there: another's.
    assert_eq!(rows_with(5e-3, -90.0), 2);
    assert_eq!(rows_with(0.36e-3, -60.0), 2);
}

#[test]
fn a_bare_line_at_the_mirrored_place_of_a_stronger_one_has_no_row() {
    let looks = looks(867.0e6, 869.0e6);
    let line = |hz: f64, db: f64| -> Vec<Pulse> {
        let bare = |p: Pulse| Pulse { bare: true, u_centre_hz: 10.0, centre_hz: hz, ..p };
        always(hz, 200.0, db).into_iter().map(bare).collect()
    };
    let rows_with = |hz: f64, db: f64| {
        let pulses = [line(868.34e6, -60.0), line(hz, db)].concat();
        centres(&looks, pulses).len()
    };
    // About 868 MHz, 9 dB weaker: by chance 2 × 2 × 42 Hz in 2 MHz.
    assert_eq!(rows_with(867.66e6, -69.0), 1);
    // As strong, or 300 Hz off: a line of its own.
    assert_eq!(rows_with(867.66e6, -61.0), 2);
    assert_eq!(rows_with(867.6603e6, -69.0), 2);
}
