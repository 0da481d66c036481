//! The deep search for bursts of an unknown period, each far under what one alone needs.

mod common;

use common::{Memory, db, noise, random};
use detect::{DeepFound, DeepOptions, Shape, deep};
use dsp::required_snr;
use num_complex::Complex64;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::f64::consts::TAU;

const RATE_HZ: f64 = 64e3;
const CENTRE_HZ: f64 = 433e6;

fn searched(memory: &Memory, options: &DeepOptions) -> Vec<DeepFound> {
    deep(memory, &[], options, &mut |_| true).expect("memory can be read").found
}

/// A train of bursts: steady lines of any phase.
#[derive(Debug, Clone, Copy)]
struct Bursts {
    hz: f64,
    period_s: f64,
    first_s: f64,
    length_s: f64,
    e_n0_db: f64,
}

/// Noise of power 1, and bursts of an energy that counts against its density, 1/rate.
fn scene(rng: &mut ChaCha8Rng, span_s: f64, trains: &[Bursts]) -> Vec<Complex64> {
    let mut iq = noise(rng, (span_s * RATE_HZ) as usize, 1.0);
    for t in trains {
        let power = 10f64.powf(0.1 * t.e_n0_db) / RATE_HZ / t.length_s;
        for j in 0.. {
            let start = t.first_s + f64::from(j) * t.period_s;
            let phase = rng.random_range(0.0..1.0);
            let first = (start * RATE_HZ).ceil() as usize;
            let last = ((start + t.length_s) * RATE_HZ).ceil() as usize;
            if last > iq.len() {
                break;
            }
            for (i, x) in iq[first..last].iter_mut().enumerate() {
                let turns = phase + t.hz * i as f64 / RATE_HZ;
                *x += Complex64::from_polar(power.sqrt(), TAU * turns.fract());
            }
        }
    }
    iq
}

#[test]
fn the_ideal_is_that_of_the_tables() {
    // FA-030: one burst at 1 false row an hour; FA-035…038: J of them folded, one trial of
    // 1e12 at 1e-3. Computed with scipy.
    let one = db(required_snr(1.0, 1.28600823045e-11, 0.9));
    assert!((one - 15.369315).abs() < 0.01, "FA-030: {one}");
    for (row, bursts, want) in [
        ("FA-035", 10.0, 8.0034751),
        ("FA-036", 100.0, 0.96410525),
        ("FA-037", 1000.0, -4.8951775),
        ("FA-038", 10000.0, -10.20194),
    ] {
        let got = db(required_snr(bursts, 1e-15, 0.9));
        assert!((got - want).abs() < 0.01, "{row}: {got}");
    }
}

/// How many of `runs` trains of a thousand bursts are found.
fn heard(seed: u64, runs: u64, e_n0_db: f64) -> usize {
    (0..runs)
        .filter(|run| {
            let mut rng = random(seed + run);
            let period_s = rng.random_range(0.04..0.07);
            let train = Bursts {
                hz: rng.random_range(-25e3..25e3),
                period_s,
                first_s: rng.random_range(0.0..period_s),
                length_s: 1.0e-3 * 2f64.powf(rng.random_range(-0.5..0.5)),
                e_n0_db,
            };
            let iq = scene(&mut rng, 1000.0 * period_s, &[train]);
            let rows = searched(&Memory::whole(&iq, RATE_HZ, CENTRE_HZ), &DeepOptions::default());
            for row in &rows {
                let f = &row.found;
                assert_eq!(f.shape, Shape::Bursts);
                let period = f.bursts.period_s.expect("told");
                let miss = (period - period_s) / f.u.period_s.expect("told");
                assert!(miss.abs() < 5.0, "{miss} of {period} in {train:?}");
                assert!((f.centre_hz - CENTRE_HZ - train.hz).abs() < 1500.0);
            }
            assert!(rows.len() <= 1, "{} rows", rows.len());
            !rows.is_empty()
        })
        .count()
}

#[test]
fn a_thousand_bursts_add_up() {
    let found = heard(100, 3, 0.0);
    println!("{found} of 3 at 0 dB");
    assert_eq!(found, 3);
}

#[test]
fn noise_alone_makes_no_train() {
    let options = DeepOptions { false_rows: 0.4, ..DeepOptions::default() };
    let rows: usize = (0..6)
        .map(|seed| {
            let iq = noise(&mut random(400 + seed), (20.0 * RATE_HZ) as usize, 1.0);
            searched(&Memory::whole(&iq, RATE_HZ, CENTRE_HZ), &options).len()
        })
        .sum();
    println!("{rows} rows of noise, 2.4 promised at most");
    // P(X > 8) = 8.6e-4 for a mean of 2.4 (Poisson, closed form).
    assert!(rows <= 8, "{rows}");
}

/// Strong enough for a short scene: 300 bursts at 4 dB, in two stretches 7.3 s apart.
#[test]
fn bursts_keep_step_over_a_gap_and_known_ones_are_left_out() {
    let mut rng = random(77);
    let train =
        Bursts { hz: -11.2e3, period_s: 0.06137, first_s: 0.02, length_s: 1.1e-3, e_n0_db: 4.0 };
    let mut iq = scene(&mut rng, 25.0, &[train]);
    let at = |s: f64| (s * RATE_HZ) as usize;
    iq.drain(at(9.0)..at(16.3));
    let lengths = [(0.0, at(9.0) as u64), (7.3, (iq.len() - at(9.0)) as u64)];
    let memory = Memory::new(&iq, RATE_HZ, CENTRE_HZ, &lengths);
    let rows = searched(&memory, &DeepOptions::default());
    assert_eq!(rows.len(), 1, "{rows:?}");
    let found = &rows[0].found;
    assert!((found.bursts.period_s.expect("told") - train.period_s).abs() < 2e-5, "{found:?}");
    assert!((found.bursts.count as f64 - 17.7 / train.period_s).abs() < 6.0, "{found:?}");
    let known = [found.clone()];
    let again = deep(&memory, &known, &DeepOptions::default(), &mut |_| true).expect("memory");
    assert_eq!(again.found, []);
}
