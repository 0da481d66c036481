//! Whether an emission no wider than the resolution is a bare carrier.
//!
//! A bare carrier stays coherent with itself over any delay; whatever is modulated does not. The
//! emission is shifted to zero, averaged down to four times its bandwidth bound, and its
//! autocorrelation taken at a short delay (long enough that the noise has decorrelated, so noise
//! cancels) and at long ones (up to a quarter of the excerpt). Their ratio is the share of its
//! power that is a steady line; a frequency error only turns its phase. The spread over blocks
//! gives the uncertainty.

use crate::{Guess, Modulation};
use detect::{BandwidthIs, Found, Shape};
use dsp::normal_sf;
use num_complex::Complex64;
use std::f64::consts::TAU;
use units::Iq;

/// Samples about an emission.
#[derive(Debug, Clone, Copy)]
pub struct Excerpt<'a> {
    /// Samples a second.
    pub rate_hz: f64,
    /// Frequency, as in [`Found`], that lies at zero in `samples`.
    pub centre_hz: f64,
    /// The samples.
    pub samples: &'a [Iq],
}

/// What one excerpt showed of an emission. Small, so that excerpts need not be kept.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Look {
    /// How steady its line is; `None` where the excerpt cannot tell.
    pub(crate) steadiness: Option<Steadiness>,
}

/// Looks at one excerpt of an emission.
pub fn look(found: &Found, excerpt: &Excerpt<'_>) -> Look {
    let steadiness =
        found.bandwidth_hz.and_then(|width| steadiness(excerpt, found.centre_hz, width));
    Look { steadiness }
}

/// How much of an emission's power is one steady line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Steadiness {
    /// Share of the power that is the line, 0 to 1 (may exceed 1 by its uncertainty).
    pub line: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

/// Probability of `cw` for a continuous emission at the resolution's width that nobody looked at
/// closer. From memory, no source: most such lines are carriers, clocks and spurious products.
const PRIOR_CW: f64 = 0.8;

/// Smallest share of sidebands that a modulated emission shows; below it nobody could tell it from
/// a carrier, and it carries next to nothing (common practice, no source).
const LEAST_SIDEBANDS: f64 = 0.05;

/// `cw` where shape alone tells, with its probability; `None` for everything else: what was seen
/// at one moment, or in a band of no known width, shows nothing of its shape.
pub(crate) fn modulation(found: &Found, looks: &[Look]) -> Option<Modulation> {
    if found.bandwidth_hz.is_none() || found.last_s <= found.first_s {
        return None;
    }
    if found.shape != Shape::Continuous || found.bandwidth_is != BandwidthIs::UpperBound {
        return None;
    }
    let probability = probability_of_carrier(looks.iter().filter_map(|l| l.steadiness));
    (probability >= 0.5).then(|| Modulation {
        label: "cw".to_owned(),
        probability,
        others: vec![Guess { label: "unknown".to_owned(), probability: 1.0 - probability }],
    })
}

/// Two hypotheses: all line, or a share of sidebands between [`LEAST_SIDEBANDS`] and 1, equally
/// likely anywhere. Each look multiplies the odds by its likelihood ratio.
fn probability_of_carrier(looks: impl Iterator<Item = Steadiness>) -> f64 {
    let mut log_odds = (PRIOR_CW / (1.0 - PRIOR_CW)).ln();
    for look in looks {
        let z = |line: f64| (look.line - line) / look.u;
        let carrier = (-0.5 * z(1.0).powi(2)).exp() / (look.u * TAU.sqrt());
        let modulated =
            (normal_sf(z(1.0 - LEAST_SIDEBANDS)) - normal_sf(z(0.0))) / (1.0 - LEAST_SIDEBANDS);
        // One look never decides by more than a thousand to one: the model is not that good.
        log_odds += ((carrier + 1e-12) / (modulated + 1e-12)).ln().clamp(-6.9, 6.9);
    }
    1.0 / (1.0 + (-log_odds).exp())
}

/// The share of an emission's power that is one steady line, from one excerpt.
///
/// `centre_hz` and `width_hz` as in [`Found`]. `None` where the excerpt is shorter than 64 times
/// the inverse width (nothing finer than the resolution can be seen) or holds no signal.
fn steadiness(excerpt: &Excerpt<'_>, centre_hz: f64, width_hz: f64) -> Option<Steadiness> {
    let z = narrowed(excerpt, centre_hz, 4.0 * width_hz)?;
    // 64 inverse widths, at four points an inverse width; a little less for rounding.
    if z.len() < 250 {
        return None;
    }
    let looks = delays(z.len());
    let longest = looks[LONG];
    let span = (z.len() - longest) / BLOCKS;
    let block = |b: usize| looks.map(|delay| correlation(&z, longest + b * span, span, delay));
    let blocks: [[Complex64; LONG + 1]; BLOCKS] = std::array::from_fn(block);
    let total = blocks.iter().fold([Complex64::ZERO; LONG + 1], |sum, b| sub_or_add(&sum, b, 1.0));
    let line = line_of(&total);
    // A correlation within what noise alone gives (its sd is power over √n) holds no signal.
    let power: f64 = z.iter().map(|x| x.norm_sqr()).sum::<f64>() / z.len() as f64;
    let points = (span * BLOCKS) as f64;
    if !line.is_finite() || total[0].norm() < 5.0 * power * points.sqrt() {
        return None;
    }
    // Delete-one jackknife of the ratio (Quenouille 1956, Tukey 1958).
    let spread: f64 =
        blocks.iter().map(|b| (line_of(&sub_or_add(&total, b, -1.0)) - line).powi(2)).sum();
    let u = (spread * (BLOCKS as f64 - 1.0) / BLOCKS as f64).sqrt();
    // The floor keeps leakage, quantisation and rounding from deciding by themselves.
    Some(Steadiness { line, u: u.hypot(0.01) })
}

/// Blocks of the jackknife.
const BLOCKS: usize = 8;
/// Number of long delays.
const LONG: usize = 5;

/// One short delay (two points: the boxcar's noise has decorrelated) and five long ones up to a
/// quarter of the excerpt, at ratios without common measure, so that periodic modulation cannot
/// look steady at all of them.
fn delays(points: usize) -> [usize; LONG + 1] {
    let quarter = points as f64 / 4.0;
    let at = |part: f64| (quarter * part) as usize;
    [2, at(0.517), at(0.618), at(0.707), at(0.866), at(1.0)]
}

/// Mean magnitude at the long delays over the magnitude at the short one.
fn line_of(sums: &[Complex64; LONG + 1]) -> f64 {
    sums[1..].iter().map(|s| s.norm()).sum::<f64>() / LONG as f64 / sums[0].norm()
}

fn sub_or_add(
    a: &[Complex64; LONG + 1],
    b: &[Complex64; LONG + 1],
    sign: f64,
) -> [Complex64; LONG + 1] {
    std::array::from_fn(|i| a[i] + b[i] * sign)
}

/// Sum of z[n] z*[n − delay] over `span` points from `from` on.
fn correlation(z: &[Complex64], from: usize, span: usize, delay: usize) -> Complex64 {
    z[from..from + span].iter().zip(&z[from - delay..]).map(|(a, b)| a * b.conj()).sum()
}

/// Shifts `centre_hz` to zero and averages to about `rate_hz` samples a second, by a boxcar whose
/// first null is at the new rate. `None` for a rate that makes no sense.
fn narrowed(excerpt: &Excerpt<'_>, centre_hz: f64, rate_hz: f64) -> Option<Vec<Complex64>> {
    if !(rate_hz > 0.0 && excerpt.rate_hz > 0.0) {
        return None;
    }
    let keep = ((excerpt.rate_hz / rate_hz).floor() as usize).max(1);
    let step = Complex64::from_polar(1.0, -TAU * (centre_hz - excerpt.centre_hz) / excerpt.rate_hz);
    let mut turn = Complex64::new(1.0, 0.0);
    let mut out = Vec::with_capacity(excerpt.samples.len() / keep + 1);
    for block in excerpt.samples.chunks_exact(keep) {
        let mut sum = Complex64::new(0.0, 0.0);
        for x in block {
            sum += Complex64::new(f64::from(x.re), f64::from(x.im)) * turn;
            turn *= step;
        }
        turn /= turn.norm();
        out.push(sum / keep as f64);
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use detect::{BurstSummary, Uncertainty};

    /// Gaussian noise of mean power 1, from a fixed linear congruential sequence (Knuth's MMIX
    /// constants) through Box and Muller.
    struct Noise(u64);
    impl Noise {
        fn uniform(&mut self) -> f64 {
            self.0 = self
                .0
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            ((self.0 >> 11) as f64 + 0.5) / (1u64 << 53) as f64
        }
        fn next(&mut self) -> Complex64 {
            let r = (-self.uniform().ln()).sqrt();
            Complex64::from_polar(r, TAU * self.uniform())
        }
    }

    const RATE_HZ: f64 = 250e3;
    const WIDTH_HZ: f64 = 250.0;

    fn excerpt_of(signal: impl Fn(f64) -> Complex64, noise_power: f64, seed: u64) -> Vec<Iq> {
        let mut noise = Noise(seed);
        (0..(80.0 * RATE_HZ / WIDTH_HZ) as usize)
            .map(|n| {
                let x = signal(n as f64 / RATE_HZ) + noise.next() * noise_power.sqrt();
                Iq::new(x.re as f32, x.im as f32)
            })
            .collect()
    }

    fn steady(signal: impl Fn(f64) -> Complex64, noise_power: f64, seed: u64) -> Steadiness {
        let samples = excerpt_of(signal, noise_power, seed);
        let excerpt = Excerpt { rate_hz: RATE_HZ, centre_hz: 100e6, samples: &samples };
        steadiness(&excerpt, 100e6 + 10e3, WIDTH_HZ).expect("long enough")
    }

    fn carrier(offset_hz: f64) -> impl Fn(f64) -> Complex64 {
        move |t| Complex64::from_polar(1.0, TAU * (10e3 + offset_hz) * t)
    }

    #[test]
    fn a_carrier_is_all_line_whatever_the_noise() {
        // Noise of 20 dB over the carrier in the whole band is 10 dB under it in the averaged one.
        for (seed, noise) in [(1, 0.0), (2, 1.0), (3, 30.0)] {
            let s = steady(carrier(30.0), noise, seed);
            assert!((s.line - 1.0).abs() < 3.0 * s.u, "noise {noise}: {s:?}");
        }
    }

    #[test]
    fn am_leaves_the_share_that_its_index_says() {
        // Textbook: sidebands of AM with a random telegraph of ±m hold m² of the carrier's power;
        // at the short delay (2 ms of flips every 10 ms) four fifths of them still correlate.
        let mut noise = Noise(9);
        let flips: Vec<f64> =
            (0..200).map(|_| if noise.uniform() < 0.5 { -0.7 } else { 0.7 }).collect();
        let am = |t: f64| carrier(0.0)(t) * (1.0 + flips[(t * 100.0) as usize % flips.len()]);
        let samples: Vec<Iq> = (0..(1.9 * RATE_HZ) as usize)
            .map(|n| am(n as f64 / RATE_HZ) + noise.next() * 0.1)
            .map(|x| Iq::new(x.re as f32, x.im as f32))
            .collect();
        let excerpt = Excerpt { rate_hz: RATE_HZ, centre_hz: 100e6, samples: &samples };
        let s = steadiness(&excerpt, 100e6 + 10e3, WIDTH_HZ).expect("long enough");
        let expected = 1.0 / (1.0 + 0.49 * 0.8);
        assert!((s.line - expected).abs() < 3.0 * s.u && s.u < 0.1, "{s:?} against {expected}");
    }

    #[test]
    fn narrow_phase_keying_inside_one_cell_is_no_carrier() {
        // 31.25 baud, as amateurs use it, lies inside the 250 Hz cell.
        let mut noise = Noise(5);
        let bits: Vec<f64> =
            (0..64).map(|_| if noise.uniform() < 0.5 { -1.0 } else { 1.0 }).collect();
        let psk = |t: f64| carrier(0.0)(t) * bits[(t * 31.25) as usize % bits.len()];
        let s = steady(psk, 0.01, 6);
        assert!(s.line < 0.7, "{s:?}");
    }

    #[test]
    fn noise_alone_says_nothing() {
        for seed in 20..40 {
            let samples = excerpt_of(|_| Complex64::ZERO, 1.0, seed);
            let excerpt = Excerpt { rate_hz: RATE_HZ, centre_hz: 100e6, samples: &samples };
            assert_eq!(steadiness(&excerpt, 100e6 + 10e3, WIDTH_HZ), None, "seed {seed}");
        }
    }

    #[test]
    fn too_short_an_excerpt_says_nothing() {
        let samples = excerpt_of(carrier(0.0), 0.1, 3);
        let excerpt = Excerpt { rate_hz: RATE_HZ, centre_hz: 100e6, samples: &samples[..50_000] };
        assert_eq!(steadiness(&excerpt, 100e6 + 10e3, WIDTH_HZ), None);
    }

    fn found(shape: Shape, is: BandwidthIs) -> Found {
        Found {
            centre_hz: 100e6 + 10e3,
            low_hz: 100e6 + 10e3 - WIDTH_HZ / 2.0,
            high_hz: 100e6 + 10e3 + WIDTH_HZ / 2.0,
            bandwidth_hz: Some(WIDTH_HZ),
            bandwidth_is: is,
            first_s: 0.0,
            last_s: 0.3,
            shape,
            channels_hz: None,
            bursts: BurstSummary {
                count: 1,
                median_s: Some(0.3),
                period_s: None,
                on_fraction: 1.0,
            },
            level_dbfs: Some(units::Dbfs(0.0)),
            level_dbm: None,
            snr_db: Some(30.0),
            strength: None,
            u: Uncertainty::default(),
            excerpts: Vec::new(),
        }
    }

    #[test]
    fn label_cw_only_for_a_steady_line_at_the_resolution() {
        let samples = excerpt_of(carrier(20.0), 0.1, 8);
        let line = found(Shape::Continuous, BandwidthIs::UpperBound);
        let excerpt = Excerpt { rate_hz: RATE_HZ, centre_hz: 100e6, samples: &samples };
        let looks = [look(&line, &excerpt)];
        let cw = modulation(&line, &looks);
        let cw = cw.expect("a carrier");
        assert_eq!(cw.label, "cw");
        assert!(cw.probability > 0.95, "{cw:?}");
        assert!((cw.probability + cw.others[0].probability - 1.0).abs() < 1e-12);
        assert_eq!(modulation(&found(Shape::Bursts, BandwidthIs::UpperBound), &looks), None);
        assert_eq!(modulation(&found(Shape::Continuous, BandwidthIs::Measured), &looks), None);
        let once = Found { last_s: line.first_s, ..line.clone() };
        assert_eq!(modulation(&once, &[]), None, "a single look");
        let log = Found { bandwidth_hz: None, ..line.clone() };
        assert_eq!(modulation(&log, &[]), None, "no known width");
        let unseen = modulation(&line, &[]);
        assert!((unseen.expect("by shape").probability - PRIOR_CW).abs() < 1e-12);
    }

    #[test]
    fn keying_inside_the_cell_is_not_labelled() {
        let mut noise = Noise(5);
        let bits: Vec<f64> =
            (0..64).map(|_| if noise.uniform() < 0.5 { -1.0 } else { 1.0 }).collect();
        let psk = |t: f64| carrier(0.0)(t) * bits[(t * 31.25) as usize % bits.len()];
        let samples = excerpt_of(psk, 0.01, 11);
        let line = found(Shape::Continuous, BandwidthIs::UpperBound);
        let excerpt = Excerpt { rate_hz: RATE_HZ, centre_hz: 100e6, samples: &samples };
        assert_eq!(modulation(&line, &[look(&line, &excerpt)]), None);
    }
}
