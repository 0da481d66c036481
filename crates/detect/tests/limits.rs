//! What was listened to: a steady line as strong as the stated limit is found nine times out of ten,
//! beside keying to within 2 dB.

mod common;

use common::{add_carrier, db, found, noise, random};
use detect::{Detection, Options};
use num_complex::Complex64;
use rand::RngExt;

const RATE_HZ: f64 = 250e3;
const SAMPLES: usize = 125_000;
const RUNS: u64 = 20;

/// Noise, and a carrier at −60 kHz keyed 20 ms on and 20 ms off where `keyed_dbfs` says.
fn scene(seed: u64, keyed_dbfs: Option<f64>) -> Vec<Complex64> {
    let mut rng = random(seed);
    let mut iq = noise(&mut rng, SAMPLES, 1e-6);
    let Some(level) = keyed_dbfs else { return iq };
    let half = (0.02 * RATE_HZ) as usize;
    let first = rng.random_range(half..2 * half);
    let power = 10f64.powf(0.1 * level);
    for start in (first..SAMPLES - 2 * half).step_by(2 * half) {
        add_carrier(&mut iq, &mut rng, -60e3 / RATE_HZ, power, start..start + half);
    }
    iq
}

fn limit_dbfs(d: &Detection) -> f64 {
    d.listened[0].limit_dbfs.expect("samples have dBFS").0
}

/// The stated limit of such a scene, and how many of [`RUNS`] steady lines at so many dB over the
/// limit are found, each anywhere between two bins.
fn heard(keyed_dbfs: Option<f64>, over_db: f64) -> (f64, usize) {
    let options = Options::default();
    let limit = limit_dbfs(&found(&scene(0, keyed_dbfs), RATE_HZ, &options).0);
    let one = |seed: &u64| {
        let mut iq = scene(*seed, keyed_dbfs);
        let mut rng = random(1000 + seed);
        let hz = 40e3 + rng.random_range(0.0..30e3);
        let power = 10f64.powf(0.1 * (limit + over_db));
        add_carrier(&mut iq, &mut rng, hz / RATE_HZ, power, 0..SAMPLES);
        let (d, _) = found(&iq, RATE_HZ, &options);
        d.found.iter().any(|f| (f.centre_hz - hz).abs() < 300.0)
    };
    (limit, (1..=RUNS).filter(one).count())
}

#[test]
fn the_limit_holds_in_quiet_and_beside_keying() {
    // P(fewer than 14 of 20 | 0.9) = 2.4e-3 (binomial law, closed form).
    let (quiet, count) = heard(None, 0.5);
    println!("quiet: {quiet:.1} dBFS, {count}");
    assert!(count >= 14, "{count} of {RUNS} at the limit");
    let (_, count) = heard(None, -6.0);
    println!("6 dB under: {count}");
    assert!(count <= 6, "{count} of {RUNS} far under the limit");
    let keyed = quiet + 45.0;
    let (limit, count) = heard(Some(keyed), 2.0);
    println!("beside keying: {limit:.1} dBFS, {count}");
    assert!(limit > quiet + db(1.2), "beside keying {limit}, in quiet {quiet}");
    assert!(count >= 14, "{count} of {RUNS} 2 dB over the limit beside keying");
}
