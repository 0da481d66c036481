use super::*;
use crate::config::ladder;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::f64::consts::TAU;

const RATE_HZ: f64 = 2.4e6;
const BLOCK: usize = 120_000;

fn maker() -> Maker {
    Maker::new(ladder(RATE_HZ, BLOCK as u64)[1])
}

/// A rail imbalance in closed form: for y = Re s + j g (Im s cos φ − Re s sin φ) is
/// y = α s + β s* with α = (1 + g e^{−jφ})/2, β = (1 − g e^{jφ})/2 (textbook).
fn rails(s: &mut [Iq], gain: f64, phase_deg: f64) -> Complex64 {
    let (sin, cos) = phase_deg.to_radians().sin_cos();
    for s in s {
        let (i, q) = (f64::from(s.re), f64::from(s.im));
        *s = Iq::new(s.re, (gain * (q * cos - i * sin)) as f32);
    }
    let alpha = 0.5 * (1.0 + gain * Complex64::new(cos, -sin));
    let beta = 0.5 * (1.0 - gain * Complex64::new(cos, sin));
    beta / alpha.conj()
}

/// Adds minimum-shift keying of 16 samples a symbol (its spectrum falls by 12 dB an octave) at an
/// offset.
fn add(x: &mut [Iq], offset_hz: f64, amplitude: f64, seed: u64) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let (mut turns, mut level) = (0.0, 1.0);
    for (n, z) in x.iter_mut().enumerate() {
        if n % 16 == 0 {
            level = if rng.random_range(0..2u32) == 0 { 1.0 } else { -1.0 };
        }
        // A quarter of a turn a symbol.
        turns += offset_hz / RATE_HZ + level / 64.0;
        let (s, c) = (TAU * turns).sin_cos();
        *z += Iq::new((amplitude * c) as f32, (amplitude * s) as f32);
    }
}

/// Noise of mean power 1e-6, by twelve uniform draws a rail.
fn noise(seed: u64) -> Vec<Iq> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut normal = || (0..12).map(|_| rng.random_range(-0.5f32..0.5)).sum::<f32>();
    (0..BLOCK).map(|_| Iq::new(normal(), normal()) * 0.5f32.sqrt() * 1e-3).collect()
}

#[test]
fn the_imbalance_is_measured_and_its_images_go() {
    let mut x = noise(1);
    add(&mut x, 0.6e6, 0.1, 2);
    let plain = x.clone();
    let truth = rails(&mut x, 1.01, 0.5);
    let found = of(&x, &maker()).expect("an image of 46 dB under 40 dB of signal over noise");
    // 7,500 symbols of image over noise: the standard uncertainty is under 2 % of κ.
    assert!((found.kappa - truth).norm() < 0.05 * truth.norm(), "{} {truth}", found.kappa);
    assert!((found.image_hz + 0.6e6).abs() < 40e3);
    let level = units::db_from_ratio(found.image_power / (0.01 * truth.norm_sqr()));
    assert!(level.abs() < 6.0, "{level} dB from the image's power");
    correct(&mut x, found.kappa);
    let rest: f64 = x.iter().zip(&plain).map(|(a, b)| f64::from((a - b).norm_sqr())).sum();
    // What is left of the change: a gain of |α| and no image.
    let kept: f64 = plain.iter().map(|z| f64::from(z.norm_sqr())).sum();
    assert!(rest < 1e-3 * kept);
    assert!(of(&x, &maker()).is_none(), "nothing is left to find");
}

#[test]
fn one_short_burst_tells_though_another_answers_from_the_mirrored_channel() {
    let mut x = noise(3);
    // A tenth of a block's bursts each, in turn, on channels that mirror each other.
    add(&mut x[20_000..21_000], 0.864e6, 0.1, 4);
    add(&mut x[27_000..28_000], -0.864e6, 0.05, 5);
    let truth = rails(&mut x, 1.02, 1.0);
    let found = of(&x, &maker()).expect("40 dB under 40 dB of signal over noise");
    assert!((found.kappa - truth).norm() < 0.2 * truth.norm(), "{} {truth}", found.kappa);
}

#[test]
fn what_is_no_image_makes_none() {
    for seed in 0..100 {
        assert!(of(&noise(100 + seed), &maker()).is_none(), "noise {seed}");
        // Another emission, weaker, on the mirrored channel.
        let mut x = noise(200 + seed);
        add(&mut x, 0.6e6, 0.1, 300 + seed);
        add(&mut x, -0.6e6, 0.01, 400 + seed);
        assert!(of(&x, &maker()).is_none(), "another {seed}");
    }
    // Amplitude modulation about the centre: both sides are alike, as in any real signal.
    let mut x = noise(500);
    for (n, z) in x.iter_mut().enumerate() {
        *z += Iq::new(0.1 + 0.05 * (TAU * 0.1 * n as f64).sin() as f32, 0.0);
    }
    assert!(of(&x, &maker()).is_none());
}
