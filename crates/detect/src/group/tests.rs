//! Pulses of invented emitters, whose rows are known.

use super::*;
use crate::{Excerpt, Shape};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Exp, Normal};

fn rng(seed: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(seed)
}

/// A pulse of `width_hz` about `hz`, on from `start_s` for `length_s`, jittered as measured ones.
fn pulse(r: &mut ChaCha8Rng, hz: f64, width_hz: f64, start_s: f64, length_s: f64) -> Pulse {
    let mut near = |sd: f64| Normal::new(0.0, sd).expect("positive").sample(r);
    let centre_hz = hz + near(0.01 * width_hz);
    let bandwidth_hz = width_hz * (1.0 + near(0.05));
    Pulse {
        segment: 0,
        start_s,
        stop_s: start_s + length_s,
        u_time_s: 1e-5,
        low_hz: centre_hz - 0.5 * bandwidth_hz,
        high_hz: centre_hz + 0.5 * bandwidth_hz,
        centre_hz,
        u_centre_hz: 0.01 * width_hz,
        bandwidth_hz,
        u_bandwidth_hz: 0.05 * width_hz,
        bare: false,
        resolution_hz: 0.05 * width_hz,
        level_dbfs: -40.0 + near(0.3),
        u_level_db: 0.3,
        snr_db: 20.0,
        cut_start: false,
        cut_stop: false,
        sweep_hz_per_s: None,
        excerpt: Excerpt { first_sample: (start_s * 1e6) as u64, samples: (length_s * 1e6) as u64 },
    }
}

pub(super) fn look(segment: u32, start_s: f64, stop_s: f64, low_hz: f64, high_hz: f64) -> Look {
    Look { segment, start_s, stop_s, low_hz, high_hz }
}

pub(super) fn rows(looks: &[Look], mut pulses: Vec<Pulse>) -> (Vec<Found>, Vec<Option<u32>>) {
    pulses.sort_by(|a, b| a.stop_s.total_cmp(&b.stop_s));
    let mut g = Grouper::new(looks);
    for p in &pulses {
        g.push(p);
    }
    let groups = g.finish();
    (groups.found, groups.row_of)
}

#[test]
fn bursts_of_two_sensors_are_two_rows_with_their_timing() {
    let mut r = rng(1);
    let mut pulses = Vec::new();
    for k in 0..20 {
        pulses.push(pulse(&mut r, 433.9e6, 40e3, 1.0 + 3.0 * f64::from(k), 0.05));
        pulses.push(pulse(&mut r, 434.1e6, 30e3, 0.7 + 4.5 * f64::from(k), 0.02));
    }
    let (found, of) = rows(&[look(0, 0.0, 100.0, 432.9e6, 434.9e6)], pulses);
    assert_eq!(found.len(), 2);
    assert!(of.iter().all(Option::is_some));
    let (a, b) = (&found[0], &found[1]);
    assert!((a.centre_hz - 433.9e6).abs() < 3.0 * a.u.centre_hz.expect("known"));
    assert_eq!((a.shape, a.bursts.count), (Shape::Bursts, 20));
    // Closed forms: 20 × 0.05 s of 100 s; starts every 3 s.
    assert!((a.bursts.on_fraction - 0.01).abs() < 1e-9);
    assert!((a.bursts.median_s.expect("known") - 0.05).abs() < 1e-9);
    assert!((a.bursts.period_s.expect("a clock") - 3.0).abs() < 1e-6);
    assert!((b.bursts.period_s.expect("a clock") - 4.5).abs() < 1e-6);
    assert!((a.level_dbfs.expect("known").0 + 40.0).abs() < 0.5);
    assert!((a.bandwidth_hz.expect("known") - 40e3).abs() < 2e3);
    assert_eq!(a.excerpts.len(), 8);
    assert!(a.excerpts.windows(2).all(|w| w[0].first_sample < w[1].first_sample));
}

#[test]
fn a_steady_carrier_seen_in_every_dwell_of_a_stepped_receiver_is_one_continuous_row() {
    let mut r = rng(2);
    let (mut looks, mut pulses) = (Vec::new(), Vec::new());
    for k in 0..12u32 {
        let (start, low) = (0.1 * f64::from(k), 100e6 + 2e6 * f64::from(k % 3));
        looks.push(look(k, start, start + 0.09, low, low + 2.2e6));
        // At 102.1 MHz: in the first band and in the second.
        if k % 3 < 2 {
            let p = pulse(&mut r, 102.1e6, 10e3, start, 0.09);
            pulses.push(Pulse { segment: k, cut_start: true, cut_stop: true, ..p });
        }
    }
    let (found, _) = rows(&looks, pulses);
    assert_eq!(found.len(), 1);
    assert_eq!((found[0].shape, found[0].bursts.count), (Shape::Continuous, 1));
    assert!((found[0].bursts.on_fraction - 1.0).abs() < 1e-9);
    assert_eq!(found[0].bursts.period_s, None);
}

#[test]
fn a_wide_and_a_narrow_view_of_the_same_bursts_are_one_row_and_the_wide_one() {
    let mut r = rng(3);
    let mut pulses = Vec::new();
    for k in 0..15 {
        let start = 0.3 * f64::from(k) + 0.01 * f64::from(k * k % 7);
        pulses.push(pulse(&mut r, 2450e6, 1.0e6, start, 0.1));
        let narrow = pulse(&mut r, 2450.1e6, 60e3, start + 0.005, 0.09);
        pulses.push(Pulse { level_dbfs: -46.0, ..narrow });
    }
    let (found, _) = rows(&[look(0, 0.0, 6.0, 2440e6, 2460e6)], pulses);
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].bursts.count, 15);
    assert!((found[0].bandwidth_hz.expect("known") - 1e6).abs() < 5e4);
}

#[test]
fn a_carrier_under_the_packets_of_another_emitter_stays_a_row() {
    let mut r = rng(4);
    let mut pulses = vec![pulse(&mut r, 2441.3e6, 2e3, 0.0, 10.0)];
    for k in 0..40 {
        // Its band holds the carrier's power as well.
        let packet = pulse(&mut r, 2440e6, 16e6, 0.01 + 0.25 * f64::from(k), 0.002);
        pulses.push(Pulse { level_dbfs: -35.0, ..packet });
    }
    let (found, _) = rows(&[look(0, 0.0, 10.0, 2430e6, 2450e6)], pulses);
    assert_eq!(found.len(), 2);
    assert_eq!(found.iter().filter(|f| f.shape == Shape::Continuous).count(), 1);
}

#[test]
fn a_hopper_over_a_raster_is_one_row_with_its_channels() {
    let mut r = rng(5);
    // Bluetooth-like: 1 MHz raster, 625 µs slots, one channel at a time.
    let pulses = (0..3000)
        .map(|k| {
            let channel = f64::from(r.random_range(0u32..19));
            pulse(&mut r, 2441e6 + 1e6 * channel, 0.9e6, 1.25e-3 * f64::from(k), 0.366e-3)
        })
        .collect();
    let (found, of) = rows(&[look(0, 0.0, 3.75, 2440e6, 2460e6)], pulses);
    assert_eq!(found.len(), 1);
    assert!(of.iter().all(|row| *row == Some(0)));
    let f = &found[0];
    assert_eq!(f.shape, Shape::Hopping);
    let channels = f.channels_hz.as_ref().expect("a hopper");
    assert_eq!(channels.len(), 19);
    assert!(channels.iter().enumerate().all(|(k, c)| (c - 2441e6 - 1e6 * k as f64).abs() < 5e3));
    assert!((f.bandwidth_hz.expect("known") - 0.9e6).abs() < 5e4);
    assert!((f.low_hz - 2440.55e6).abs() < 3e4 && (f.high_hz - 2459.45e6).abs() < 3e4);
    assert_eq!(f.bursts.count, 3000);
}

#[test]
fn senders_on_a_raster_that_do_not_heed_each_other_are_rows_of_their_own() {
    let mut r = rng(15);
    // Alike in all but their channel; each keys when it likes, so two are often on together.
    let gap = Exp::new(20.0).expect("positive");
    let mut pulses = Vec::new();
    for channel in 0..12 {
        let mut start_s = gap.sample(&mut r);
        while start_s < 20.0 {
            pulses.push(pulse(&mut r, 434e6 + 50e3 * f64::from(channel), 25e3, start_s, 2e-3));
            start_s += 4e-3 + gap.sample(&mut r);
        }
    }
    let (found, _) = rows(&[look(0, 0.0, 20.0, 433e6, 435e6)], pulses);
    assert_eq!(found.len(), 12);
    assert!(found.iter().all(|f| f.shape == Shape::Bursts), "{found:?}");
}

#[test]
fn advertising_on_its_three_channels_is_one_row() {
    let mut r = rng(6);
    let mut pulses = Vec::new();
    for (segment, hz) in [2402e6, 2426e6, 2480e6].into_iter().enumerate() {
        for k in 0..5 {
            let p = pulse(&mut r, hz, 1e6, segment as f64 + 0.12 * f64::from(k), 0.3e-3);
            pulses.push(Pulse { segment: segment as u32, ..p });
        }
    }
    let looks: Vec<Look> = [2402e6, 2426e6, 2480e6]
        .iter()
        .enumerate()
        .map(|(k, hz)| look(k as u32, k as f64, k as f64 + 1.0, hz - 2e6, hz + 2e6))
        .collect();
    let (found, _) = rows(&looks, pulses);
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].channels_hz.as_ref().map(Vec::len), Some(3));
}

#[test]
fn independent_emitters_of_one_make_do_not_hop() {
    let mut r = rng(7);
    let mut pulses = Vec::new();
    for channel in [1.0, 2.3, 4.1, 6.6, 7.2] {
        let gap = Exp::new(2.0).expect("positive");
        let mut t = 0.0;
        while t < 60.0 {
            t += 0.15 + gap.sample(&mut r);
            pulses.push(pulse(&mut r, 868e6 + 1e5 * channel, 20e3, t, 0.15));
        }
    }
    let (found, _) = rows(&[look(0, 0.0, 61.0, 867.5e6, 869.5e6)], pulses);
    assert_eq!(found.len(), 5);
    assert!(found.iter().all(|f| f.shape == Shape::Bursts && f.bursts.period_s.is_none()));
}

#[test]
fn two_tones_of_a_slow_keying_are_one_row() {
    let mut r = rng(8);
    let mut pulses = Vec::new();
    for word in 0..4 {
        let mut t = 2.0 * f64::from(word) + 0.3;
        let mut tone = false;
        while t < 2.0 * f64::from(word) + 1.3 {
            let run = 0.02 * f64::from(r.random_range(1u32..4));
            let hz = if tone { 433.93e6 } else { 433.90e6 };
            pulses.push(pulse(&mut r, hz, 2e3, t, run));
            (t, tone) = (t + run, !tone);
        }
    }
    let (found, _) = rows(&[look(0, 0.0, 8.0, 433.4e6, 434.4e6)], pulses);
    assert_eq!(found.len(), 1);
    assert!((found[0].centre_hz - 433.915e6).abs() < 1e3);
    assert!((found[0].bandwidth_hz.expect("known") - 32e3).abs() < 1e3);
}

#[test]
fn sidebands_belong_to_their_carrier() {
    let mut r = rng(9);
    let mut pulses = vec![pulse(&mut r, 100e6, 2e3, 0.0, 5.0)];
    for offset in [-19e3, 19e3] {
        let p = pulse(&mut r, 100e6 + offset, 1e3, 0.0, 5.0);
        pulses.push(Pulse { level_dbfs: -55.0, ..p });
    }
    // Not mirrored: another emitter.
    let p = pulse(&mut r, 100.045e6, 1e3, 0.0, 5.0);
    pulses.push(Pulse { level_dbfs: -55.0, ..p });
    let (found, _) = rows(&[look(0, 0.0, 5.0, 99.5e6, 100.5e6)], pulses);
    assert_eq!(found.len(), 2);
}

#[test]
fn a_thousand_bursts_a_second_for_ten_minutes_fit_in_bounded_memory() {
    let mut r = rng(10);
    let mut g = Grouper::new(&[look(0, 0.0, 60.0, 2400e6, 2420e6)]);
    // Half on forty channels, half anywhere: the worst for a grouper. A tenth of the time here.
    for k in 0..60_000u32 {
        let hz = match k % 2 {
            0 => 2400.25e6 + 0.5e6 * f64::from(r.random_range(0u32..40)),
            _ => r.random_range(2400e6..2420e6),
        };
        let width = if k % 2 == 0 { 0.2e6 } else { r.random_range(1e3..1e5) };
        g.push(&pulse(&mut r, hz, width, 1e-3 * f64::from(k), 0.3e-3));
    }
    assert!(g.lines.len() <= MOST_LINES);
    let kept: usize = g.lines.iter().map(|l| l.spans.spans.len() + l.best.len()).sum();
    assert!(kept < 300_000, "{kept}");
    let Groups { found, row_of: of, .. } = g.finish();
    assert!(of.iter().all(Option::is_some));
    assert!(found.windows(2).all(|w| w[0].centre_hz <= w[1].centre_hz));
}

#[test]
fn the_keying_of_a_strong_emitter_is_no_row_and_an_independent_weak_one_is() {
    let mut r = rng(11);
    let mut pulses = Vec::new();
    for k in 0..12 {
        let start = 0.5 * f64::from(k) + 0.003 * f64::from(k * k % 11);
        let p = pulse(&mut r, 433.9e6, 40e3, start, 0.1);
        pulses.push(Pulse { level_dbfs: -10.0, ..p });
        // At the start of each burst: over the whole band with nothing but its power, and beside
        // it 25 dB weaker.
        let wide = pulse(&mut r, 433.9e6, 800e3, start, 0.001);
        pulses.push(Pulse { level_dbfs: -10.1, ..wide });
        let beside = pulse(&mut r, 434.3e6, 30e3, start + 0.001, 0.002);
        pulses.push(Pulse { level_dbfs: -35.0, ..beside });
        // Its own clock: on with the strong one only at times.
        let other = pulse(&mut r, 433.5e6, 30e3, 0.37 * f64::from(k) + 0.1, 0.02);
        pulses.push(Pulse { level_dbfs: -35.0, ..other });
    }
    let (found, _) = rows(&[look(0, 0.0, 6.5, 433e6, 435e6)], pulses);
    let at: Vec<f64> = found.iter().map(|f| (f.centre_hz / 1e4).round() * 1e4).collect();
    assert_eq!(at, [433.5e6, 433.9e6]);
    assert!((found[1].bandwidth_hz.expect("known") - 40e3).abs() < 3e3);
}

#[test]
fn a_look_at_two_steady_emitters_together_is_neither_a_row_nor_theirs() {
    let mut r = rng(12);
    let mut pulses =
        vec![pulse(&mut r, 446.0e6, 20e3, 0.0, 5.0), pulse(&mut r, 446.3e6, 60e3, 0.0, 5.0)];
    let both = pulse(&mut r, 446.15e6, 400e3, 1.0, 1.0);
    pulses.push(Pulse { level_dbfs: -37.0, ..both });
    let (found, _) = rows(&[look(0, 0.0, 5.0, 445e6, 447e6)], pulses);
    assert_eq!(found.len(), 2);
    assert!(found.iter().all(|f| f.shape == Shape::Continuous));
    assert!(found.iter().all(|f| f.bandwidth_hz.expect("known") < 70e3));
}

#[test]
fn a_coarse_area_over_two_emitters_is_neither_however_long_it_is_on() {
    let mut r = rng(14);
    let (mut looks, mut pulses) = (Vec::new(), Vec::new());
    for k in 0..10u32 {
        let start = 1.2 * f64::from(k);
        looks.push(look(k, start, start + 0.2, 152.6e6, 154.8e6));
        let mut push = |hz: f64, width: f64, level_dbfs: f64| {
            let p = pulse(&mut r, hz, width, start, 0.2);
            let resolution_hz = if width > 1e6 { 40e3 } else { 250.0 };
            pulses.push(Pulse { segment: k, level_dbfs, resolution_hz, ..p });
        };
        push(153.2e6, 12e3, -20.0);
        push(154.4e6, 25e3, -32.0);
        push(153.8e6, 1.32e6, -19.8);
    }
    let (found, _) = rows(&looks, pulses);
    assert_eq!(found.len(), 2);
    assert!(found.iter().all(|f| f.bandwidth_hz.expect("known") < 30e3));
}

#[test]
fn bursts_whose_width_varies_with_their_load_are_one_row() {
    let mut r = rng(13);
    let mut pulses = Vec::new();
    for k in 0..40 {
        // One density, 2 to 8 MHz of a 9 MHz channel (resource blocks as the load needs).
        let width = 2e6 * f64::from(1 + k % 4);
        let p = pulse(&mut r, 1747.4e6, width, 0.1 * f64::from(k), 0.004);
        pulses.push(Pulse { level_dbfs: -40.0 + units::db_from_ratio(width / 9e6), ..p });
    }
    let (found, _) = rows(&[look(0, 0.0, 4.0, 1740e6, 1755e6)], pulses);
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].bursts.count, 40);
}

#[test]
fn a_voice_that_pauses_in_some_dwells_is_one_row() {
    let mut r = rng(15);
    let (mut looks, mut pulses) = (Vec::new(), Vec::new());
    for k in 0..12u32 {
        let start = 0.5 * f64::from(k);
        looks.push(look(k, start, start + 0.2, 155e6, 157e6));
        let silent = k % 3 == 0;
        let p = pulse(&mut r, 155.781e6, if silent { 300.0 } else { 70e3 }, start, 0.2);
        pulses.push(Pulse { segment: k, bare: silent, ..p });
    }
    let (found, _) = rows(&looks, pulses);
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].shape, Shape::Continuous);
    assert!((found[0].bandwidth_hz.expect("known") - 70e3).abs() < 5e3);
}

#[test]
fn a_voice_that_leaves_a_hum_in_its_pauses_is_one_row() {
    let rows_with = |level_db: f64, pauses: [u32; 3]| {
        let mut r = rng(23);
        let (mut looks, mut pulses) = (Vec::new(), Vec::new());
        for k in 0..12u32 {
            let start = 0.5 * f64::from(k);
            looks.push(look(k, start, start + 0.2, 152.6e6, 155e6));
            let p = pulse(&mut r, 153.562e6, 9.7e3, start, 0.2);
            let hum = pulse(&mut r, 153.5615e6, 1.2e3, start, 0.2);
            let silent = Pulse { level_dbfs: p.level_dbfs + level_db, ..hum };
            let on = |p: Pulse| Pulse { segment: k, ..p };
            match pauses.contains(&k) {
                true => pulses.push(on(silent)),
                false if k < 9 => pulses.push(on(p)),
                false => {}
            }
        }
        rows(&looks, pulses).0.len()
    };
    // Carson's rule: the width follows the sound; the level of frequency modulation does not.
    assert_eq!(rows_with(0.0, [9, 10, 11]), 1);
    // Another level, or both off in dwells of their own: two.
    assert_eq!(rows_with(-10.0, [9, 10, 11]), 2);
    assert_eq!(rows_with(0.0, [9, 9, 9]), 2);
}

#[test]
fn one_hump_close_to_a_burst_is_its_own_and_one_far_off_is_an_emitter() {
    let rows_with = |hz: f64| {
        let mut r = rng(16);
        let mut pulses: Vec<Pulse> =
            [3.0, 11.0].map(|s| pulse(&mut r, 867.9e6, 125e3, s, 0.4)).to_vec();
        // Once, 24 dB weaker, inside of the second burst.
        let p = pulse(&mut r, hz, 40e3, 11.1, 0.006);
        pulses.push(Pulse { level_dbfs: pulses[0].level_dbfs - 24.0, ..p });
        rows(&[look(0, 0.0, 20.0, 867.3e6, 869.7e6)], pulses).0.len()
    };
    // On for 4 % of the time: 0.04 × 2 × 0.13/2.4 is 0.5 % by chance, 0.04 × 2 × 1.0/2.4 is 3 %.
    assert_eq!(rows_with(868.01e6), 1);
    assert_eq!(rows_with(868.9e6), 2);
}

#[test]
fn what_is_seen_too_coarsely_to_show_the_keying_is_still_its_product() {
    let rows_with = |u_time_s: f64, resolution_hz: f64| {
        let mut r = rng(24);
        let mut pulses = Vec::new();
        for start in [0.2, 1.1, 2.7] {
            // A telegram of twenty elements, 2 ms on and 3 ms off.
            for k in 0..20 {
                let at = start + 5e-3 * f64::from(k);
                pulses.push(pulse(&mut r, 442.15e6, 25e3, at, 2e-3));
            }
            let p = pulse(&mut r, 442.116e6, 900.0, start, 0.097);
            pulses.push(Pulse { level_dbfs: -75.0, u_time_s, resolution_hz, ..p });
        }
        rows(&[look(0, 0.0, 4.0, 437e6, 447e6)], pulses).0.len()
    };
    // Timed to 1 ms, a pause of 3 ms does not show, nor in frames of 3.3 ms whose ends are known
    // better; in frames of 0.5 ms timed to 0.1 ms it would.
    assert_eq!(rows_with(1e-3, 2e3), 1);
    assert_eq!(rows_with(1e-4, 300.0), 1);
    assert_eq!(rows_with(1e-4, 2e3), 2);
}

#[test]
fn what_holds_under_a_hundredth_of_the_power_does_not_widen_the_band() {
    let width_with = |under_db: f64| {
        let mut r = rng(17);
        let mut pulses = Vec::new();
        for k in 0..6 {
            let start = 1.0 * f64::from(k);
            let p = pulse(&mut r, 446.06e6, 60e3, start, 0.5);
            let beside = pulse(&mut r, 445.95e6, 60e3, start, 0.5);
            pulses.push(Pulse { level_dbfs: p.level_dbfs - under_db, ..beside });
            pulses.push(p);
        }
        let (found, _) = rows(&[look(0, 0.0, 6.5, 445.1e6, 447.5e6)], pulses);
        assert_eq!(found.len(), 1);
        found[0].bandwidth_hz.expect("known")
    };
    // 99 % of the power are the band (ITU-R SM.328).
    assert!(width_with(10.0) > 150e3);
    assert!(width_with(30.0) < 70e3);
}

#[test]
fn channels_side_by_side_do_not_join_one_after_the_other() {
    let mut r = rng(21);
    let channels: Vec<f64> = (0..8).map(|k| 433.0e6 + 54e3 * f64::from(k)).collect();
    let mut pulses = Vec::new();
    for _ in 0..200 {
        for hz in &channels {
            let (start, wide) = (r.random_range(0.0..4.0), r.random_range(0.0..1.0));
            pulses.push(pulse(&mut r, *hz, 23e3, start, 0.001));
            // Now and then with a neighbour, measured as one that lies anywhere between.
            if wide < 0.5 {
                pulses.push(pulse(&mut r, hz + 54e3 * 2.0 * wide, 25e3, start + 0.002, 0.001));
            }
        }
    }
    let (found, _) = rows(&[look(0, 0.0, 4.0, 432.8e6, 433.6e6)], pulses);
    for hz in channels {
        let own = |f: &&Found| (f.centre_hz - hz).abs() < 5e3;
        assert_eq!(found.iter().filter(own).count(), 1, "{hz}");
    }
}

#[test]
fn sidebands_about_an_axis_that_the_band_misses_are_its_and_lines_on_one_side_are_not() {
    let rows_with = |off_hz: [f64; 8]| {
        let mut r = rng(22);
        // Measured 1.5 kHz to the left of its middle.
        let mut pulses = vec![pulse(&mut r, 446.3459e6, 20e3, 0.0, 5.0)];
        for off in off_hz {
            let p = pulse(&mut r, 446.3474e6 + off, 400.0, 0.0, 5.0);
            pulses.push(Pulse { level_dbfs: -58.0, ..p });
        }
        rows(&[look(0, 0.0, 5.0, 446.0e6, 447.0e6)], pulses).0
    };
    let paired = rows_with([-15.7e3, -19.6e3, -27.5e3, -31.4e3, 15.7e3, 19.6e3, 27.5e3, 31.4e3]);
    assert_eq!(paired.len(), 1);
    // Each holds 1.6 % of its power: the outermost are within the 99 %.
    assert!((paired[0].bandwidth_hz.expect("known") - 63.2e3).abs() < 1e3);
    let one_side = rows_with([15.7e3, 21.1e3, 28.3e3, 34.2e3, 41.9e3, 47.7e3, 56.6e3, 66.8e3]);
    assert_eq!(one_side.len(), 9);
}
