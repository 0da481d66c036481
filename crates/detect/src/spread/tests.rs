use super::fluctuation::{Delays, Fluctuation};
use dsp::gamma_isf;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use units::Iq;

/// White noise of power one and, `snr` times as loud, data spread by a random code of 62 chips, a
/// sample each: white too.
fn samples(rng: &mut ChaCha8Rng, count: usize, snr: f32) -> Vec<Iq> {
    let sign = |rng: &mut ChaCha8Rng| if rng.random_bool(0.5) { 1.0 } else { -1.0 };
    let code: Vec<f32> = (0..62).map(|_| sign(rng)).collect();
    let mut data = 1.0;
    (0..count)
        .map(|i| {
            if i % 62 == 0 {
                data = sign(rng);
            }
            let mut rail = || -> f32 { StandardNormal.sample(rng) };
            let noise = Iq::new(rail(), rail()) * 0.5f32.sqrt();
            noise + Iq::new(code[i % 62] * data * snr.sqrt(), 0.0)
        })
        .collect()
}

/// The whole band's delays after `windows` windows.
fn whole_band(windows: usize, snr: f32) -> Delays {
    let mut rng = ChaCha8Rng::seed_from_u64(9);
    let mut look = Fluctuation::new(4096);
    for _ in 0..windows {
        look.push(&samples(&mut rng, look.window(), snr), 1.0);
    }
    assert_eq!(look.windows(), (windows as u64, 0));
    look.delays().swap_remove(0)
}

#[test]
fn one_delay_of_noise_is_exponential() {
    // DS-006: gamma.isf(1e-6, 200)/200, computed with scipy: the threshold for one delay.
    assert!((gamma_isf(200.0, 1e-6) / 200.0 - 1.3727881).abs() < 1e-5);
    let windows = 201;
    let delays = whole_band(windows, 0.0);
    assert_eq!(delays.averages, 200.0);
    // Every other step is a sample; the first ones are the band's own width.
    let over: Vec<f64> = delays.over.iter().copied().skip(32).step_by(2).collect();
    let count = over.len() as f64;
    let mean = over.iter().sum::<f64>() / count;
    let variance = over.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / count;
    // Five standard errors; the level that each is divided by has its own part.
    assert!((mean - 1.0).abs() < 5.0 / (200.0 * count).sqrt() + 0.004, "{mean}");
    assert!((variance * 200.0 - 1.0).abs() < 5.0 * (2.0 / count).sqrt(), "{variance}");
    let above = over.iter().filter(|v| **v > gamma_isf(200.0, 1e-2) / 200.0).count() as f64;
    assert!((above - 0.01 * count).abs() < 4.0 * (0.01 * count).sqrt() + 2.0, "{above} of {count}");
}

#[test]
fn a_spread_signal_rises_at_its_symbols_by_as_much_as_said() {
    // DS-004: SNR² Ts fe/(1+SNR)² = 0.51239669 at −10 dB and 62 samples a symbol; times √M and
    // (1+SNR)² the deflection of DS-001. A window holds a symbol less with each multiple.
    let windows = 600;
    let delays = whole_band(windows, 0.1);
    let excess = (1..=16).map(|m| delays.over[2 * 62 * m] - 1.0).sum::<f64>() / 16.0;
    assert!((excess / 0.51239669 - 1.0).abs() < 0.1, "{excess}");
    let between = (1..=16).map(|m| delays.over[2 * 62 * m + 62] - 1.0).sum::<f64>() / 16.0;
    assert!(between.abs() < 0.06, "{between}");
    let steady = (1..=16).map(|m| delays.steady[2 * 62 * m]).sum::<f64>() / 16.0;
    assert!(steady < 0.02, "random signs have no mean: {steady}");
}
