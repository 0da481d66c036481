//! What the receiver itself makes is said in `warnings` and is no row; what stands beside much
//! stronger emissions and is not theirs is a row.

mod common;

use common::{add_carrier, filtered, found, mean_power, noise, random, shift};
use detect::{Detection, Options};
use num_complex::Complex64;
use units::Reason;

const RATE_HZ: f64 = 1e6;
const HALF_SECOND: usize = 500_000;

fn detected(iq: &[Complex64]) -> Detection {
    found(iq, RATE_HZ, &Options::default()).0
}

fn warning<'a>(d: &'a Detection, code: &str) -> Option<&'a Reason> {
    d.warnings.iter().find(|w| w.code == code)
}

/// Centres of the rows, kilohertz.
fn centres_khz(d: &Detection) -> Vec<i64> {
    d.found.iter().map(|f| (f.centre_hz / 1e3).round() as i64).collect()
}

#[test]
fn a_constant_is_the_receivers_own() {
    let mut rng = random(1);
    let mut iq = noise(&mut rng, HALF_SECOND, 1e-5);
    add_carrier(&mut iq, &mut rng, 0.1, 1e-4, 0..HALF_SECOND);
    assert!(warning(&detected(&iq), "dc_spike").is_none());
    iq.iter_mut().for_each(|x| *x += Complex64::new(0.02, -0.01));
    let d = detected(&iq);
    assert_eq!(centres_khz(&d), [100]);
    let said = warning(&d, "dc_spike").expect("a constant of -33 dBFS");
    // 0.02² + 0.01² is -33.0 dB.
    assert!(said.text.contains("-33.0 dBFS"), "{}", said.text);
}

#[test]
fn a_mirror_image_is_the_receivers_own() {
    let mut rng = random(2);
    let mut iq = noise(&mut rng, HALF_SECOND, 1e-6);
    add_carrier(&mut iq, &mut rng, 0.2, 1e-2, 0..HALF_SECOND);
    // y = x + k·conj(x): an image 30 dB under, at -200 kHz.
    let image = 10f64.powf(-1.5);
    iq.iter_mut().for_each(|x| *x += x.conj() * image);
    let d = detected(&iq);
    assert_eq!(centres_khz(&d), [200]);
    let said = warning(&d, "iq_image").expect("an image 30 dB under");
    // Told to a bin of the resolution that it is measured at, 7.8 kHz.
    assert!(said.text.contains("near -0.195 MHz with -50.0 dBFS"), "{}", said.text);
}

/// Noise of a band `width` of the whole about `offset`, of unit power, on for four bursts.
fn keyed(seed: u64, width: f64, offset: f64) -> Vec<Complex64> {
    let taps = dsp::lowpass(0.5 * width, 0.52 * width, 60.0);
    let mut band = filtered(&noise(&mut random(seed), HALF_SECOND + taps.len() - 1, 1.0), &taps);
    shift(&mut band, offset);
    let amplitude = mean_power(&band).sqrt().recip();
    let on = |k: usize| k % 125_000 < 60_000;
    band.iter_mut().enumerate().for_each(|(k, x)| *x *= if on(k) { amplitude } else { 0.0 });
    band
}

/// A burst that begins with a keyed emission over much of the band and ends after it, 24 dB weaker:
/// the noise about it is constant, so nothing speaks against it.
#[test]
fn a_burst_beside_an_emission_over_much_of_the_band_is_found() {
    for width in [0.1, 0.3, 0.5] {
        let mut rng = random(7);
        let mut iq = noise(&mut rng, HALF_SECOND, 1e-6);
        let strong = keyed(3, width, -0.15);
        iq.iter_mut().zip(&strong).for_each(|(x, s)| *x += s * 0.1);
        add_carrier(&mut iq, &mut rng, 0.4, 1e-2 / 251.0, 150_000..220_000);
        let d = detected(&iq);
        assert!(centres_khz(&d).contains(&400), "{width}: {:?} {:?}", centres_khz(&d), d.warnings);
    }
}

/// A line on only while a keyed emission 40 dB stronger is: its splatter for all that can be told.
#[test]
fn what_is_left_out_as_splatter_is_said() {
    let mut rng = random(8);
    let mut iq = noise(&mut rng, HALF_SECOND, 1e-7);
    let strong = keyed(4, 0.05, -0.1);
    iq.iter_mut().zip(&strong).for_each(|(x, s)| *x += s * 0.3);
    for burst in 0..4 {
        let from = burst * 125_000;
        add_carrier(&mut iq, &mut rng, 0.3, 0.09e-4, from..from + 60_000);
    }
    let d = detected(&iq);
    let is_row = centres_khz(&d).contains(&300);
    let said = ["splatter", "gain_moves"].iter().any(|code| warning(&d, code).is_some());
    assert!(is_row || said, "{:?} {:?}", d.found, d.warnings);
}
