//! Spread signals under the noise, and what must not be taken for one.

mod common;

use common::dsss::{self, Pulse, add, code};
use common::{noise, random, shift};
use detect::{Spread, SpreadFound};
use num_complex::Complex64;
use units::{Band, Iq};

const RATE_HZ: f64 = 2e6;

fn searched(iq: &[Complex64], leave_out: &[Band]) -> Option<SpreadFound> {
    let mut spread = Spread::new(RATE_HZ, leave_out, 1e-3);
    for block in iq.chunks(1 << 18) {
        push(&mut spread, block);
    }
    spread.finish()
}

fn push(spread: &mut Spread, block: &[Complex64]) {
    let block: Vec<Iq> = block.iter().map(|x| Iq::new(x.re as f32, x.im as f32)).collect();
    spread.push(&block);
}

/// A code of so many stages at `snr_db` in a band as wide as the chip rate, where noise has a
/// power of one in the whole band.
fn spread(
    seed: u64,
    (stages, tap): (usize, usize),
    chips_hz: f64,
    pulse: Pulse,
    snr_db: f64,
    samples: usize,
) -> Vec<Complex64> {
    let chips_a_sample = chips_hz / RATE_HZ;
    let made = dsss::Spread { code: code(stages, tap), chips_a_sample, pulse, four: seed % 2 == 1 };
    let power = 10f64.powf(snr_db / 10.0) * chips_a_sample;
    made.make(&mut random(seed), samples).into_iter().map(|x| x * power.sqrt()).collect()
}

/// What may stand beside: a slope in the noise, a strong frequency-modulated carrier at −0.4 MHz
/// and a multicarrier signal from 0.47 to 0.86 MHz, which the caller knows of.
fn crowded(seed: u64, samples: usize) -> (Vec<Complex64>, Band) {
    let mut rng = random(seed);
    let mut iq = dsss::coloured(&mut rng, samples, 6.0);
    add(&mut iq, &dsss::frequency_modulated(&mut rng, samples, -0.2, 0.01, 0.0007), 30.0);
    add(&mut iq, &dsss::multicarrier(&mut rng, samples, 60, 50, 256, 32), 1.0);
    (iq, Band::new(0.44e6, 0.89e6))
}

fn check(found: SpreadFound, chips: u32, chips_hz: f64, what: &str) {
    let symbol_s = f64::from(chips) / chips_hz;
    assert!((found.symbol_s - symbol_s).abs() < 4.0 * found.u_symbol_s, "{what}: {found:?}");
    assert_eq!(found.chips, Some(chips), "{what}: {found:?}");
    let (rate, u) = (found.chip_rate_hz.unwrap_or(0.0), found.u_chip_rate_hz.unwrap_or(0.0));
    assert!((rate - chips_hz).abs() < 4.0 * u && u < 1e-4 * chips_hz, "{what}: {found:?}");
    assert!(found.p < 1e-3 && found.left_out == 0.0, "{what}: {found:?}");
}

#[test]
fn ten_db_under_the_noise_a_code_is_found_with_its_chip_rate() {
    let samples = 2_000_000;
    for (what, taps, chips_hz, pulse, centre) in [
        ("31 cosine", (5, 3), 500e3, Pulse::Cosine(0.25), 0.0),
        ("127 cosine", (7, 4), 470e3, Pulse::Cosine(0.25), 0.05),
        ("31 rectangular", (5, 3), 930e3, Pulse::Rectangular, -0.03),
        ("127 rectangular", (7, 4), 500e3, Pulse::Rectangular, 0.02),
    ] {
        let mut made = spread(21, taps, chips_hz, pulse, -10.0, samples);
        shift(&mut made, centre);
        let mut iq = noise(&mut random(22), samples, 1.0);
        add(&mut iq, &made, 1.0);
        let found = searched(&iq, &[]).unwrap_or_else(|| panic!("{what} was not found"));
        check(found, (1 << taps.0) - 1, chips_hz, what);
        assert!((found.centre_hz - centre * RATE_HZ).abs() < 0.15 * chips_hz, "{what}: {found:?}");
        let width = found.high_hz - found.low_hz;
        assert!((0.6..1.4).contains(&(width / chips_hz)), "{what}: {found:?}");
        assert!((found.snr_db + 10.0).abs() < 2.0, "{what}: {found:?}");
    }
}

#[test]
fn beside_stronger_signals_it_is_found_all_the_same() {
    let samples = 2_000_000;
    let (mut iq, known) = crowded(31, samples);
    assert_eq!(searched(&iq, &[known]), None);
    add(&mut iq, &spread(32, (5, 3), 500e3, Pulse::Rectangular, -9.0, samples), 1.0);
    check(searched(&iq, &[known]).expect("a code at -9 dB"), 31, 500e3, "known");
    // Whether or not the caller knows of the multicarrier signal.
    check(searched(&iq, &[]).expect("a code at -9 dB"), 31, 500e3, "unknown");
}

#[test]
fn over_a_gap_it_goes_on() {
    let samples = 1_200_000;
    let mut iq = noise(&mut random(41), 2 * samples, 1.0);
    let made = spread(42, (7, 4), 500e3, Pulse::Cosine(0.25), -9.0, 2 * samples);
    add(&mut iq, &made, 1.0);
    let mut spread = Spread::new(RATE_HZ, &[], 1e-3);
    push(&mut spread, &iq[..samples]);
    spread.gap();
    // An odd number of samples is missing.
    push(&mut spread, &iq[samples + 77..]);
    let found = spread.finish().expect("a code at -9 dB");
    check(found, 127, 500e3, "over a gap");
    assert!(found.looked_s > 1.1, "{found:?}");
}

#[test]
fn what_is_no_spread_signal_is_not_taken_for_one() {
    let samples = 500_000;
    let mut rng = random(51);
    let mut refused = |what: &str, signal: &[Complex64], scale: f64| {
        let mut iq = noise(&mut rng, samples, 1.0);
        add(&mut iq, signal, scale);
        assert_eq!(searched(&iq, &[]), None, "{what}");
    };
    let mut rng = random(52);
    refused("nothing", &[], 0.0);
    for scale in [0.3, 1.0] {
        let ofdm = dsss::multicarrier(&mut rng, samples, -30, 60, 256, 32);
        refused("multicarrier", &ofdm, scale);
        let framed = dsss::framed(&mut rng, samples, 1000, 200);
        refused("frames with a fixed part", &framed, scale);
    }
    // Carriers 10 kHz apart over the whole band, each 3 dB over the noise of a bin, or far over.
    for scale in [0.02, 0.3] {
        let mut comb = vec![Complex64::default(); samples];
        for k in -99..=99 {
            common::add_carrier(&mut comb, &mut rng, f64::from(k) * 0.005, 1.0, 0..samples);
        }
        refused("comb of carriers", &comb, scale);
    }
    for scale in [0.3, 30.0] {
        let fm = dsss::frequency_modulated(&mut rng, samples, 0.1, 0.01, 0.0007);
        refused("frequency modulation", &fm, scale);
    }
}

#[test]
fn noise_is_found_no_more_often_than_said() {
    for seed in 0..40 {
        let iq = noise(&mut random(100 + seed), 150_000, 1.0);
        let mut spread = Spread::new(RATE_HZ, &[], 1e-3);
        push(&mut spread, &iq);
        assert_eq!(spread.finish(), None, "seed {seed}");
    }
    // Nothing, too little and silence find nothing either.
    assert_eq!(searched(&[], &[]), None);
    assert_eq!(searched(&noise(&mut random(1), 5000, 1.0), &[]), None);
    assert_eq!(searched(&vec![Complex64::default(); 300_000], &[]), None);
}
