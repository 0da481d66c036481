//! The floor against noise whose density is known in closed form (methods.md 2, 'Test').
//! Seeds are fixed; limits are those of the specification, not of what was measured.

mod common;

use common::{db, noise, rng, tone};
use num_complex::Complex64;
use spectrum::{Floor, FloorEstimator, Resolution, Rows, Stft};
use std::f64::consts::TAU;
use units::Iq;

const SAMPLES: usize = 1 << 20;

fn floor_of(iq: &[Iq], resolution: Resolution) -> Floor {
    let frames = resolution.frames(iq.len() as u64) as usize;
    let mut power = vec![0.0; frames * resolution.bins()];
    Stft::new(resolution).rows(iq, &mut power);
    let mut estimator = FloorEstimator::new(resolution);
    estimator.push(&Rows { first_frame: 0, bins: resolution.bins(), power: &power });
    estimator.estimate()
}

/// Error per bin in dB against a density over frequency (turns per sample, −0.5 … 0.5) whose value
/// is the total power that white noise of that density would have.
fn errors(floor: &Floor, truth: &dyn Fn(f64) -> f64) -> Vec<f64> {
    let r = floor.resolution;
    let at =
        |(bin, p): (usize, &f32)| db(f64::from(*p) / r.noise_per_bin(truth(r.offset_hz(bin, 1.0))));
    floor.power.iter().enumerate().map(at).collect()
}

fn mean(x: &[f64]) -> f64 {
    x.iter().sum::<f64>() / x.len() as f64
}

fn worst(x: &[f64]) -> f64 {
    x.iter().fold(0.0, |a: f64, b| a.max(b.abs()))
}

/// Noise of a density in a band: a signal with many carriers that never stops.
fn many_carriers(half: f64, centre: f64, density: f64, seed: u64) -> Vec<Iq> {
    let taps: Vec<f64> = dsp::lowpass(half - 0.005, half + 0.005, 60.0);
    let mut iq = noise(SAMPLES, density, &mut rng(seed));
    dsp::Fir::new(&taps).process(&mut iq);
    iq.iter().zip(tone(SAMPLES, 1.0, centre)).map(|(a, b)| a * b).collect()
}

fn add(a: &mut [Iq], b: &[Iq]) {
    a.iter_mut().zip(b).for_each(|(a, b)| *a += b);
}

/// |H|² of real taps at a frequency in turns per sample.
fn gain(taps: &[f64], f: f64) -> f64 {
    let term = |(i, t): (usize, &f64)| Complex64::from_polar(*t, -TAU * f * i as f64);
    taps.iter().enumerate().map(term).sum::<Complex64>().norm_sqr()
}

#[test]
fn white_noise_without_bias_and_as_uncertain_as_it_says() {
    for bins in [16, 64, 1024, 8192] {
        let mut bias = Vec::new();
        let mut ratio = Vec::new();
        for seed in 0..8 {
            let power = 10f64.powi(seed as i32 - 6);
            let iq = noise(SAMPLES / 2, power, &mut rng(100 + seed));
            let f = floor_of(&iq, Resolution::hann(bins));
            let e = errors(&f, &|_| power);
            assert!(f.trusted.iter().all(|t| *t));
            assert!(worst(&e) < 0.35, "{bins} bins: {}", worst(&e));
            bias.push(mean(&e));
            ratio.extend(e.iter().zip(&f.u_db).map(|(e, u)| e / f64::from(*u)));
        }
        assert!(mean(&bias).abs() < 0.03, "{bins} bins: bias {} dB", mean(&bias));
        let rms = ratio.iter().map(|r| r * r).sum::<f64>() / ratio.len() as f64;
        assert!(rms.sqrt() < 1.2, "{bins} bins: error is {} of its uncertainty", rms.sqrt());
    }
}

#[test]
fn coloured_floors_are_followed() {
    let r = Resolution::hann(1024);
    // One more tap, turned a quarter: |H|² = 1 + a² + 2a sin(2πf), 5.4 and 9.5 dB from end to end.
    for a in [0.3, 0.5] {
        let x = noise(SAMPLES, 1.0, &mut rng(3));
        let y: Vec<Iq> = x.windows(2).map(|w| w[1] + w[0] * Iq::new(0.0, a as f32)).collect();
        let e = errors(&floor_of(&y, r), &|f| 1.0 + a * a + 2.0 * a * (TAU * f).sin());
        assert!(mean(&e).abs() < 0.1 && worst(&e) < 0.5, "{a}: {} {}", mean(&e), worst(&e));
    }
    // A receiver's filter from 0.40 to 0.48 of the rate, 50 dB down to the converter's own noise.
    let taps = dsp::lowpass(0.40, 0.48, 60.0);
    for signal in [None, Some(0.1)] {
        let mut x = noise(SAMPLES, 1.0, &mut rng(6));
        if let Some(centre) = signal {
            add(&mut x, &many_carriers(0.25, centre, 100.0, 5));
        }
        dsp::Fir::new(&taps).process(&mut x);
        add(&mut x, &noise(SAMPLES, 1e-5, &mut rng(7)));
        let f = floor_of(&x, r);
        let e = errors(&f, &|f| gain(&taps, f) + 1e-5);
        let pass = &e[1024 * 11 / 100..1024 * 89 / 100];
        assert!(mean(pass).abs() < 0.1 && worst(pass) < 0.5, "{signal:?}: {}", worst(pass));
        // On the steep edge a sub-band of 1/128 of the rate is all that can be resolved.
        assert!(worst(&e) < 6.0, "{signal:?}: {}", worst(&e));
    }
}

#[test]
fn signals_that_never_stop_do_not_lift_it() {
    let r = Resolution::hann(1024);
    for (half, centre, snr_db) in [
        (0.25, 0.0, 20.0),
        (0.25, 0.0, 5.0),
        (0.25, 0.2, 20.0),
        (0.15, -0.2, 3.0),
        (0.3, 0.0, 20.0),
    ] {
        let mut x = noise(SAMPLES, 1.0, &mut rng(4));
        add(&mut x, &many_carriers(half, centre, 10f64.powf(snr_db / 10.0), 5));
        let f = floor_of(&x, r);
        let e = errors(&f, &|_| 1.0);
        assert!(worst(&e) < 0.5, "{half} at {centre}, {snr_db} dB: {}", worst(&e));
        assert!(f.trusted.iter().all(|t| *t), "{half} at {centre}, {snr_db} dB");
    }
    // Forty carriers, 60 dB apart in level.
    let mut x = noise(SAMPLES, 1e-4, &mut rng(30));
    for k in 0..40 {
        let amplitude = 10f64.powf(-f64::from(k % 13) / 4.0);
        add(&mut x, &tone(SAMPLES, amplitude, -0.49 + 0.0247 * f64::from(k)));
    }
    let wide = Resolution::new(1024, 512, dsp::Window::BlackmanHarris4);
    let e = errors(&floor_of(&x, wide), &|_| 1e-4);
    assert!(mean(&e).abs() < 0.1 && worst(&e) < 0.5, "carriers: {} {}", mean(&e), worst(&e));
}

#[test]
fn signals_over_the_whole_band_that_come_and_go_do_not_lift_it() {
    for (occupied, limit) in [(0.2, 0.1), (0.5, 0.1), (0.8, 0.3)] {
        for snr_db in [5.0, 10.0, 20.0] {
            let mut x = noise(SAMPLES, 1.0, &mut rng(8));
            let s = noise(SAMPLES, 10f64.powf(snr_db / 10.0), &mut rng(10));
            let period = 40_000;
            for (i, (x, s)) in x.iter_mut().zip(&s).enumerate() {
                if ((i % period) as f64) < occupied * period as f64 {
                    *x += s;
                }
            }
            let e = errors(&floor_of(&x, Resolution::hann(1024)), &|_| 1.0);
            assert!(mean(&e).abs() < limit, "{occupied}, {snr_db} dB: {}", mean(&e));
        }
    }
    // 95 % occupied: gaps of 2,000 samples are seen by frames short against them.
    let mut x = noise(SAMPLES, 1.0, &mut rng(8));
    let s = noise(SAMPLES, 100.0, &mut rng(10));
    for (i, (x, s)) in x.iter_mut().zip(&s).enumerate() {
        if i % 40_000 < 38_000 {
            *x += s;
        }
    }
    let e = errors(&floor_of(&x, Resolution::hann(128)), &|_| 1.0);
    assert!(mean(&e).abs() < 0.3, "0.95: {}", mean(&e));
}

#[test]
fn a_floor_that_cannot_be_seen_is_not_trusted() {
    let r = Resolution::hann(1024);
    // A signal over four fifths of the band, with cliffs: signal or filter, nobody can tell.
    let mut x = noise(SAMPLES, 1.0, &mut rng(4));
    add(&mut x, &many_carriers(0.4, 0.0, 100.0, 5));
    let f = floor_of(&x, r);
    assert!(f.trusted_fraction() == 0.0 && f.u_db.iter().all(|u| *u >= 2.0));
    // Digital silence, and a constant, whose other bins hold only the transform's rounding.
    for level in [0.0, 0.3] {
        let f = floor_of(&vec![Iq::new(level, -level); SAMPLES], r);
        assert!(f.trusted_fraction() == 0.0 && f.power.iter().all(|p| *p == 0.0), "{level}");
        assert!(f.u_db.iter().all(|u| *u >= 2.0));
    }
    // Nothing at all.
    let f = FloorEstimator::new(r).estimate();
    assert!(f.trusted_fraction() == 0.0 && f.cells == 0 && f.power.len() == 1024);
    // A strong signal of constant envelope that sweeps over everything all the time.
    let mut turns = 0.0f64;
    let sweep = |i: usize| {
        turns += ((i % 997) as f64 / 997.0 - 0.5) * 0.98;
        Iq::from_polar(1.0, (TAU * turns.fract()) as f32)
    };
    let x: Vec<Iq> = (0..SAMPLES).map(sweep).collect();
    assert!(floor_of(&x, r).trusted_fraction() == 0.0);
}

#[test]
fn coarse_quantisation_reads_its_own_noise() {
    // Closed form: noise of σ one step per rail is quantised to σ² + 1/12 steps² per rail
    // (SCL-006 ff.: quantisation noise of a step Δ is Δ²/12), white.
    let step = 1.0 / 128.0;
    let quantise = |x: f32| (x * 128.0).round() / 128.0;
    let x = noise(SAMPLES, 2.0 * step * step, &mut rng(40));
    let x: Vec<Iq> = x.iter().map(|x| Iq::new(quantise(x.re), quantise(x.im))).collect();
    let want = 2.0 * step * step * (1.0 + 1.0 / 12.0);
    let e = errors(&floor_of(&x, Resolution::hann(1024)), &|_| want);
    assert!(mean(&e).abs() < 0.1, "{}", mean(&e));
}

#[test]
fn one_resolutions_floor_serves_another() {
    let taps = dsp::lowpass(0.40, 0.48, 60.0);
    let mut x = noise(SAMPLES, 1.0, &mut rng(6));
    dsp::Fir::new(&taps).process(&mut x);
    let f = floor_of(&x, Resolution::hann(1024));
    for other in [Resolution::hann(128), Resolution::new(16384, 4096, dsp::Window::BlackmanHarris4)]
    {
        let g = f.at(other);
        assert_eq!((g.resolution, g.power.len()), (other, other.bins()));
        let e = errors(&g, &|f| gain(&taps, f));
        let n = other.bins();
        assert!(worst(&e[n * 12 / 100..n * 88 / 100]) < 0.3, "{other:?}");
    }
    let same = f.at(Resolution::hann(1024));
    assert!(f.power.iter().zip(&same.power).all(|(a, b)| (a / b - 1.0).abs() < 1e-5));
}

#[test]
fn clearing_forgets_and_pushing_in_parts_changes_nothing() {
    let r = Resolution::hann(256);
    let iq = noise(SAMPLES / 4, 1.0, &mut rng(50));
    let frames = r.frames(iq.len() as u64) as usize;
    let mut power = vec![0.0; frames * 256];
    Stft::new(r).rows(&iq, &mut power);
    let mut parts = FloorEstimator::new(r);
    parts.push(&Rows { first_frame: 0, bins: 256, power: &vec![9.0; 256 * 37] });
    parts.clear();
    for (i, part) in power.chunks(256 * 13).enumerate() {
        parts.push(&Rows { first_frame: 13 * i as u64, bins: 256, power: part });
    }
    assert_eq!(parts.estimate(), floor_of(&iq, r));
}
