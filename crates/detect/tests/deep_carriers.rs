//! The deep search for steady carriers, against the closed form of summed blocks.

mod common;

use common::{Memory, db, noise, random};
use detect::{DeepFound, DeepOptions, deep};
use dsp::required_snr;
use num_complex::Complex64;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::f64::consts::TAU;
use units::Value;

const RATE_HZ: f64 = 2000.0;
const CENTRE_HZ: f64 = 100e6;
const SPAN_S: f64 = 600.0;

fn searched(memory: &Memory, options: &DeepOptions) -> Vec<DeepFound> {
    deep(memory, &[], options, &mut |_| true).expect("memory can be read").found
}

fn value(found: &DeepFound, key: &str) -> f64 {
    match found.why.values.get(key) {
        Some(Value::Number(x)) => *x,
        other => panic!("{key}: {other:?}"),
    }
}

/// C/N0 in dBHz that the ideal needs: `blocks` powers summed, so many tracks tried.
fn ideal_dbhz(block_s: f64, blocks: f64, trials: f64, family: f64) -> f64 {
    db(required_snr(blocks, family / trials, 0.9) / block_s)
}

#[test]
fn the_ideal_is_that_of_the_tables() {
    // FA-040…043: computed with scipy.
    for (row, block_s, want) in
        [("FA-041", 10.0, -8.5509769), ("FA-042", 1.0, -4.7026733), ("FA-043", 0.1, -0.26060233)]
    {
        let got = ideal_dbhz(block_s, 600.0 / block_s, 2.4e6 * block_s, 1e-3);
        assert!((got - want).abs() < 0.01, "{row}: {got}");
    }
}

/// Noise of power 1 in all over `samples`.
fn silence(rng: &mut ChaCha8Rng, samples: usize) -> Vec<Complex64> {
    noise(rng, samples, 1.0)
}

/// Adds a carrier: hertz from the centre at the first sample, hertz a second.
fn add(iq: &mut [Complex64], cn0_dbhz: f64, hz: f64, drift: f64, phase: impl Fn(f64) -> f64) {
    let amplitude = (10f64.powf(0.1 * cn0_dbhz) / RATE_HZ).sqrt();
    for (i, x) in iq.iter_mut().enumerate() {
        let t = i as f64 / RATE_HZ;
        let turns = (hz * t + 0.5 * drift * t * t + phase(t)).fract();
        *x += Complex64::from_polar(amplitude, TAU * turns);
    }
}

#[test]
fn a_drifting_carrier_is_found_near_the_bound() {
    let options = DeepOptions { false_rows: 1e-3, ..DeepOptions::default() };
    let n = (SPAN_S * RATE_HZ) as usize;
    let (mut found, mut errors, mut levels, mut runs) = (0, Vec::new(), Vec::new(), 0);
    let mut limit = 0.0;
    for seed in 0..8 {
        let mut rng = random(7000 + seed);
        let mut iq = silence(&mut rng, n);
        let hz = rng.random_range(-800.0..800.0);
        let drift = rng.random_range(-0.05..0.05);
        // What this program's own blocks allow ideally, 1.5 dB more.
        let (block_s, tracks) = (6.144, 2.0 * 0.0556 * SPAN_S * 6.144);
        limit = ideal_dbhz(block_s, SPAN_S / block_s, RATE_HZ * block_s * tracks, 1e-3);
        let cn0 = limit + 1.5;
        add(&mut iq, cn0, hz, drift, |_| 0.0);
        let rows = searched(&Memory::whole(&iq, RATE_HZ, CENTRE_HZ), &options);
        // Of what was looked at.
        let middle_s = rows.first().map_or(0.0, |r| 0.5 * (r.found.first_s + r.found.last_s));
        let middle_hz = CENTRE_HZ + hz + drift * middle_s;
        runs += 1;
        let own: Vec<&DeepFound> =
            rows.iter().filter(|r| (r.found.centre_hz - middle_hz).abs() < 3.0).collect();
        assert!(rows.len() == own.len() && own.len() <= 1, "{rows:?}");
        for row in own {
            found += 1;
            assert!((value(row, "drift_hz_per_s") - drift).abs() < 0.01);
            levels.push(value(row, "c_n0_dbhz") - cn0);
            let u = row.found.u.centre_hz.expect("told");
            errors.push((row.found.centre_hz - middle_hz) / u);
        }
    }
    println!("ideal {limit:.2} dBHz, {found} of {runs}, level {levels:.2?}, errors {errors:.2?}");
    // P(fewer than 5 of 8 | 0.9) = 5e-3 (binomial law, closed form).
    assert!(found >= 5, "{found} of {runs}");
}

/// With 30 dB more than it needs a carrier's level is told to some hundredths; its own side lobes
/// lift the noise that is told beside it by less than half a decibel.
#[test]
fn a_level_is_that_of_the_carrier() {
    let n = (200.0 * RATE_HZ) as usize;
    for (seed, hz) in [(31, 100.02), (32, -333.3), (33, 512.77), (34, 701.414)] {
        let mut iq = silence(&mut random(seed), n);
        add(&mut iq, 25.0, hz, 0.01, |_| 0.0);
        let rows = searched(&Memory::whole(&iq, RATE_HZ, CENTRE_HZ), &DeepOptions::default());
        let row = rows.first().expect("found");
        assert!(rows.len() == 1 && value(row, "one_phase") == 1.0, "{rows:?}");
        let miss = value(row, "c_n0_dbhz") - 25.0;
        let level = row.found.level_dbfs.expect("told").0 - (25.0 - db(RATE_HZ));
        println!("{hz}: {miss:.3} dB, level {level:.3} dB");
        assert!(miss.abs() < 0.4 && level.abs() < 0.1, "{miss} {level}");
    }
}

#[test]
fn noise_alone_makes_no_carrier() {
    let options = DeepOptions { false_rows: 0.2, ..DeepOptions::default() };
    let n = (300.0 * RATE_HZ) as usize;
    let rows: usize = (0..20)
        .map(|seed| {
            let iq = silence(&mut random(8000 + seed), n);
            let rows = searched(&Memory::whole(&iq, RATE_HZ, CENTRE_HZ), &options);
            rows.len()
        })
        .sum();
    println!("{rows} rows, 4 promised at most");
    // P(X > 10) = 2.8e-3 for a mean of 4 (Poisson, closed form).
    assert!(rows <= 10, "{rows}");
}

/// A scene whose second half was recorded 20 s after the first: the carrier kept drifting.
#[test]
fn what_lies_in_a_gap_does_not_exist() {
    let n = (400.0 * RATE_HZ) as usize;
    let (hz, drift, gap_s) = (312.3, 0.031, 20.0);
    let mut rng = random(61);
    let mut iq = silence(&mut rng, n + (gap_s * RATE_HZ) as usize);
    add(&mut iq, -2.0, hz, drift, |_| 0.0);
    let half = (n / 2) as u64;
    iq.drain(n / 2..n / 2 + (gap_s * RATE_HZ) as usize);
    let memory = Memory::new(&iq, RATE_HZ, CENTRE_HZ, &[(0.0, half), (gap_s, n as u64 - half)]);
    let rows = searched(&memory, &DeepOptions::default());
    assert_eq!(rows.len(), 1, "{rows:?}");
    let f = &rows[0].found;
    let middle_hz = CENTRE_HZ + hz + drift * 0.5 * (f.first_s + f.last_s);
    assert!((f.centre_hz - middle_hz).abs() < 0.05, "{} {middle_hz}", f.centre_hz);
    assert!((value(&rows[0], "drift_hz_per_s") - drift).abs() < 1e-3);
    assert!((f.last_s - 420.0).abs() < 3.0);
}

#[test]
fn what_is_known_is_not_found_again() {
    let n = (200.0 * RATE_HZ) as usize;
    let mut iq = silence(&mut random(62), n);
    add(&mut iq, 3.0, 312.3, 0.0, |_| 0.0);
    let memory = Memory::whole(&iq, RATE_HZ, CENTRE_HZ);
    let rows = searched(&memory, &DeepOptions::default());
    assert_eq!(rows.len(), 1, "{rows:?}");
    let known = [rows[0].found.clone()];
    let again = deep(&memory, &known, &DeepOptions::default(), &mut |_| true).expect("memory");
    assert_eq!(again.found, []);
    // Nor its mirror image, where it is strong.
    let mut strong = known[0].clone();
    strong.centre_hz = CENTRE_HZ - 312.3;
    (strong.low_hz, strong.high_hz) = (strong.centre_hz - 1.0, strong.centre_hz + 1.0);
    strong.level_dbfs = strong.level_dbfs.map(|l| units::Dbfs(l.0 + 40.0));
    let image = deep(&memory, &[strong], &DeepOptions::default(), &mut |_| true).expect("memory");
    assert_eq!(image.found, []);
}

#[test]
fn a_caller_can_stop_it_and_nonsense_is_refused() {
    let iq = silence(&mut random(63), (20.0 * RATE_HZ) as usize);
    let memory = Memory::whole(&iq, RATE_HZ, CENTRE_HZ);
    let stopped = deep(&memory, &[], &DeepOptions::default(), &mut |_| false);
    assert!(matches!(stopped, Err(detect::DetectError::Stopped)), "{stopped:?}");
    for options in [
        DeepOptions { false_rows: 0.0, ..DeepOptions::default() },
        DeepOptions { drift_ppm_per_hour: f64::NAN, ..DeepOptions::default() },
        DeepOptions { memory_bytes: 7, ..DeepOptions::default() },
    ] {
        let refused = deep(&memory, &[], &options, &mut |_| true);
        assert!(matches!(refused, Err(detect::DetectError::Option { .. })), "{refused:?}");
    }
}
