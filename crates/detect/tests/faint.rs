//! Bursts that no cell shows by itself are found near to what the ideal energy detector needs, which
//! knows their length and width (Urkowitz 1967; closed form for signals like noise).

mod common;

use common::{filtered, found, mean_power, noise, random, shift};
use detect::Options;
use rand::RngExt;

const RATE_HZ: f64 = 1e6;
const SAMPLES: usize = 1 << 20;
const NOISE: f64 = 1e-4;
/// How much stronger than for the ideal detector: its price for not knowing length and width.
const OVER_DB: f64 = 2.5;
const SEEDS: u64 = 10;

/// Recordings of noise with one burst in each in which it is a row.
fn times_found(length_s: f64, width_hz: f64, faint: bool) -> usize {
    let options = Options { faint, ..Options::default() };
    let tw = length_s * width_hz;
    let pfa = options.false_rows * tw / SAMPLES as f64;
    let snr = dsp::required_snr_noise_like(tw, pfa, 0.9) * 10f64.powf(0.1 * OVER_DB);
    let is_found = |seed: &u64| {
        let mut rng = random(4000 + seed);
        let mut iq = noise(&mut rng, SAMPLES, NOISE);
        let taps = dsp::lowpass(0.5 * width_hz / RATE_HZ, 0.6 * width_hz / RATE_HZ, 50.0);
        let length = (length_s * RATE_HZ) as usize;
        let mut burst = filtered(&noise(&mut rng, length + taps.len() - 1, 1.0), &taps);
        let centre_hz = rng.random_range(100e3..350e3);
        shift(&mut burst, centre_hz / RATE_HZ);
        let amplitude = (snr * NOISE * width_hz / RATE_HZ / mean_power(&burst)).sqrt();
        let first = rng.random_range(0..SAMPLES / 2);
        iq[first..].iter_mut().zip(burst).for_each(|(x, b)| *x += b * amplitude);
        let start_s = first as f64 / RATE_HZ;
        found(&iq, RATE_HZ, &options).0.found.iter().any(|f| {
            (f.low_hz..f.high_hz).contains(&centre_hz)
                && f.first_s < start_s + length_s
                && f.last_s > start_s
        })
    };
    (0..SEEDS).filter(is_found).count()
}

#[test]
fn what_no_cell_shows_is_found_in_boxes_of_them() {
    for (length_s, width_hz) in [(2e-3, 100e3), (20e-3, 50e3), (20e-3, 200e3), (60e-3, 5e3)] {
        let times = times_found(length_s, width_hz, true);
        println!("{length_s} s of {width_hz} Hz: {times} of {SEEDS}");
        assert!(times >= 8, "{length_s} s of {width_hz} Hz: {times} of {SEEDS}");
    }
    let plainly = times_found(20e-3, 200e3, false);
    assert!(plainly <= 2, "{plainly} of {SEEDS} without");
}
