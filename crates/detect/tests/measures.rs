//! What is measured of signals whose truth is known by construction or in closed form, and whether
//! the stated uncertainties cover the errors.

mod common;

use common::{add_carrier, db, filtered, found, mean_power, noise, random, shift};
use detect::{BandwidthIs, Found, Options};
use num_complex::Complex64;
use rand::RngExt;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

const RATE_HZ: f64 = 250e3;
const HALF_SECOND: usize = 125_000;

/// The one row of a recording.
fn only(iq: &[Complex64]) -> Found {
    let mut rows = found(iq, RATE_HZ, &Options::default()).0.found;
    assert_eq!(rows.len(), 1, "{rows:?}");
    rows.remove(0)
}

fn level_dbfs(f: &Found) -> f64 {
    f.level_dbfs.expect("samples have dBFS").0
}

/// Root of the mean square.
fn rms(x: &[f64]) -> f64 {
    (x.iter().map(|x| x * x).sum::<f64>() / x.len() as f64).sqrt()
}

#[test]
fn a_carrier_reads_its_level_and_place() {
    let (mut level, mut centre) = (Vec::new(), Vec::new());
    for seed in 0..24u64 {
        let mut rng = random(seed);
        let mut iq = noise(&mut rng, HALF_SECOND, 1e-5);
        let hz: f64 = rng.random_range(-110e3..110e3);
        // In the whole band; a bin of 183 Hz noise bandwidth sees 31.4 dB more.
        let snr_db = rng.random_range(-18.0..20.0);
        let power = 1e-5 * 10f64.powf(0.1 * snr_db);
        add_carrier(&mut iq, &mut rng, hz / RATE_HZ, power, 0..HALF_SECOND);
        let f = only(&iq);
        let error_db = level_dbfs(&f) - db(power);
        assert!(error_db.abs() < 0.2, "{error_db} dB at {snr_db} dB");
        level.push(error_db / f.u.level_db.expect("u"));
        centre.push((f.centre_hz - hz) / f.u.centre_hz.expect("u"));
    }
    assert!(rms(&level) < 1.2 && rms(&centre) < 1.2, "{level:?} {centre:?}");
}

#[test]
fn a_band_of_noise_reads_its_level_and_width() {
    for (seed, width_hz) in [(1u64, 12e3), (2, 40e3), (3, 40e3)] {
        let mut rng = random(300 + seed);
        let taps = dsp::lowpass(0.5 * width_hz / RATE_HZ, 0.52 * width_hz / RATE_HZ, 60.0);
        let mut iq = filtered(&noise(&mut rng, HALF_SECOND + taps.len() - 1, 1.0), &taps);
        shift(&mut iq, rng.random_range(-80e3..80e3) / RATE_HZ);
        let amplitude = 10f64.powf(-0.05 * rng.random_range(20.0..35.0));
        iq.iter_mut().for_each(|x| *x *= amplitude);
        let power = mean_power(&iq);
        iq.iter_mut().zip(noise(&mut rng, HALF_SECOND, 1e-6)).for_each(|(x, n)| *x += n);
        let f = only(&iq);
        let error_db = level_dbfs(&f) - db(power);
        assert!(error_db.abs() < 0.2, "{error_db} dB");
        assert_eq!(f.bandwidth_is, BandwidthIs::Measured);
        // White inside: 99 % of the power lie in 99 % of the band, edges 4 % wide in all.
        let ratio = f.bandwidth_hz.expect("samples have a width") / (0.99 * width_hz);
        assert!((0.97..1.05).contains(&ratio), "{ratio}");
    }
}

/// 99 % bandwidth over symbol rate of root-raised-cosine pulses: their power spectrum is the raised
/// cosine, 1 up to (1 − β)/2 and ½(1 − sin πu) at ½ + βu, |u| ≤ ½, so that the part beyond u on one
/// side is β/2 ((½ − u) − cos(πu)/π) of the whole (closed form, solved by bisection).
fn occupied(rolloff: f64) -> f64 {
    let beyond = |u: f64| 0.5 * rolloff * ((0.5 - u) - (PI * u).cos() / PI);
    let (mut low, mut high) = (-0.5, 0.5);
    for _ in 0..60 {
        let u = 0.5 * (low + high);
        if beyond(u) > 0.005 { low = u } else { high = u }
    }
    1.0 + 2.0 * rolloff * low
}

/// QPSK with root-raised-cosine pulses of power 1.
fn qpsk(seed: u64, samples_a_symbol: usize, rolloff: f64) -> Vec<Complex64> {
    let mut rng = random(seed);
    let taps = dsp::root_raised_cosine(samples_a_symbol, rolloff, 16);
    let mut symbols = vec![Complex64::default(); HALF_SECOND + taps.len() - 1];
    for x in symbols.iter_mut().step_by(samples_a_symbol) {
        let quarter = f64::from(rng.random_range(0..4u8));
        *x = Complex64::from_polar(1.0, FRAC_PI_4 + quarter * FRAC_PI_2);
    }
    let mut iq = filtered(&symbols, &taps);
    let scale = mean_power(&iq).sqrt();
    iq.iter_mut().for_each(|x| *x /= scale);
    iq
}

#[test]
fn qpsk_reads_its_occupied_bandwidth() {
    let mut width = Vec::new();
    for rolloff in [0.22, 0.35, 0.5] {
        for (samples_a_symbol, snr_db) in [(8usize, 20.0), (20, 20.0), (50, 20.0), (20, 40.0)] {
            let seed = samples_a_symbol as u64;
            let symbol_hz = RATE_HZ / samples_a_symbol as f64;
            let mut iq = qpsk(seed, samples_a_symbol, rolloff);
            shift(&mut iq, 0.125);
            iq.iter_mut().for_each(|x| *x *= 0.03);
            let power = 9e-4 / 10f64.powf(0.1 * snr_db) * RATE_HZ / symbol_hz;
            let quiet = noise(&mut random(7 + seed), HALF_SECOND, power);
            iq.iter_mut().zip(quiet).for_each(|(x, n)| *x += n);
            let f = only(&iq);
            let (got, want) = (f.bandwidth_hz.expect("width"), occupied(rolloff) * symbol_hz);
            assert!((got / want - 1.0).abs() < 0.02, "{rolloff} {symbol_hz}: {got}, {want}");
            let error_db = level_dbfs(&f) - db(9e-4);
            assert!(error_db.abs() < 0.2, "{error_db} dB");
            width.push((got - want) / f.u.bandwidth_hz.expect("u"));
        }
    }
    assert!(rms(&width) < 1.5, "{width:?}");
}

/// Errors of first and last time over their uncertainty, of bursts so many dB over the noise in
/// 1 kHz, 5 to 100 ms long.
fn edges(snr_db: f64, runs: u64) -> Vec<f64> {
    let mut errors = Vec::new();
    for seed in 0..runs {
        let mut rng = random(100 + seed);
        let mut iq = noise(&mut rng, HALF_SECOND, 1e-5);
        let hz: f64 = rng.random_range(-110e3..110e3);
        let power = 1e-5 * 1e3 / RATE_HZ * 10f64.powf(0.1 * snr_db);
        let first = rng.random_range(20_000..60_000usize);
        let length = (10f64.powf(rng.random_range(-2.3..-1.0)) * RATE_HZ) as usize;
        add_carrier(&mut iq, &mut rng, hz / RATE_HZ, power, first..first + length);
        let f = only(&iq);
        assert_eq!(f.bursts.count, 1, "{length} samples: {f:?}");
        let (start_s, stop_s) = (first as f64 / RATE_HZ, (first + length) as f64 / RATE_HZ);
        errors.push((f.first_s - start_s) / f.u.first_s.expect("u"));
        errors.push((f.last_s - stop_s) / f.u.last_s.expect("u"));
    }
    errors
}

#[test]
fn bursts_begin_and_end_where_they_do() {
    for snr_db in [20.0, 25.0, 30.0, 40.0] {
        let z = edges(snr_db, 24);
        let most = z.iter().fold(0.0f64, |m, z| m.max(z.abs()));
        println!("{snr_db} dB: rms {:.2}, most {most:.2}", rms(&z));
        assert!(rms(&z) < 1.5 && most < 4.0, "{snr_db} dB: rms {}, most {most}", rms(&z));
    }
}

/// A band of noise that never stops, 6 dB over the noise under it, and beside it frequency keying
/// 30 dB stronger that is on for a tenth of the time: short frames do not tell the two apart, and
/// each keeps its own times and level.
#[test]
fn the_times_of_a_steady_band_are_its_own_beside_stronger_bursts() {
    let (rate_hz, samples, width_hz) = (2.4e6, 2_400_000, 42e3);
    let half = 0.5 * width_hz / rate_hz;
    let taps = dsp::lowpass(half, 1.2 * half, 50.0);
    let mut rng = random(700);
    let mut iq = filtered(&noise(&mut rng, samples + taps.len() - 1, 1.0), &taps);
    let amplitude = (1.3e-5 / mean_power(&iq)).sqrt();
    iq.iter_mut().for_each(|x| *x *= amplitude);
    shift(&mut iq, 51e3 / rate_hz);
    let under = noise(&mut rng, samples, 1.3e-5 / 10f64.powf(0.6) * rate_hz / width_hz);
    let (mut turns, mut tone_hz) = (0.0f64, 0.0);
    for (k, (x, n)) in iq.iter_mut().zip(under).enumerate() {
        if k % 240 == 0 {
            tone_hz = if rng.random::<bool>() { -45e3 } else { -55e3 };
        }
        turns = (turns + tone_hz / rate_hz).fract();
        let keyed = Complex64::from_polar(1.3e-2f64.sqrt(), std::f64::consts::TAU * turns);
        *x += n + if k % 800_000 < 80_000 { keyed } else { Complex64::ZERO };
    }
    let rows = found(&iq, rate_hz, &Options::default()).0.found;
    let at = |hz: f64| rows.iter().find(|f| (f.centre_hz - hz).abs() < 5e3);
    let (Some(steady), Some(strong)) = (at(51e3), at(-50e3)) else { panic!("{rows:?}") };
    assert_eq!(rows.len(), 2, "{rows:?}");
    assert!(steady.bursts.on_fraction > 0.99, "{steady:?}");
    assert!((strong.bursts.on_fraction - 0.1).abs() < 0.01, "{strong:?}");
    let error_db = level_dbfs(steady) - db(1.3e-5);
    assert!(error_db.abs() < 0.5, "{error_db} dB");
}
