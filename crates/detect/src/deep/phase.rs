//! The one phase over a whole recording that explains most of a carrier mixed down along its track.

use dsp::Fft;
use num_complex::Complex64;
use std::f64::consts::{PI, TAU};
use units::Iq;

/// Bins that the track may lie beside the carrier.
const BESIDE_TRACK: f64 = 2.5;

/// Frequency, drift and sum of the one phase that explains most of samples mixed down along a
/// track: on a grid of drifts by transforms, then by halving steps. The track lies within
/// [`BESIDE_TRACK`] bins of 1/`block_s`, at any time.
pub(super) fn one_phase(
    samples: &[(f64, Complex64)],
    spacing_s: f64,
    block_s: f64,
) -> (f64, f64, Complex64) {
    let Some(((start, _), (stop, _))) = samples.first().zip(samples.last()) else {
        return (0.0, 0.0, Complex64::ZERO);
    };
    let span_s = stop - start + spacing_s;
    let cells = (2.0 * span_s / spacing_s) as usize + 2;
    let fft = Fft::forward(cells.next_power_of_two());
    let n = fft.len();
    let hz = 1.0 / (n as f64 * spacing_s);
    let most_hz = BESIDE_TRACK / block_s;
    // A quarter turn at the ends is lost little by.
    let step = 1.0 / (span_s * span_s);
    let steps = (2.0 * most_hz / span_s / step).ceil() as i64;
    let wide = ((most_hz / hz) as usize).min(n / 2 - 1);
    let mut scratch = fft.scratch();
    let mut line = vec![Iq::default(); n];
    let mut best = (0.0f32, 0.0, 0.0);
    for i in -steps..=steps {
        let a = i as f64 * step;
        line.fill(Iq::default());
        for (t, y) in samples {
            let y = y * Complex64::from_polar(1.0, -PI * a * t * t);
            let at = (((t - start) / spacing_s).round() as usize).min(n - 1);
            line[at] += Iq::new(y.re as f32, y.im as f32);
        }
        fft.in_place(&mut line, &mut scratch);
        for k in (0..=wide).chain(n - wide..n) {
            let power = line[k].norm_sqr();
            if power > best.0 {
                let f = if k < n / 2 { k as f64 } else { k as f64 - n as f64 };
                best = (power, f * hz, a);
            }
        }
    }
    let sum = |f: f64, a: f64| -> Complex64 {
        let mixed = |(t, y): &(f64, Complex64)| {
            y * Complex64::from_polar(1.0, -TAU * (f * t + 0.5 * a * t * t))
        };
        samples.iter().map(mixed).sum()
    };
    let (mut f, mut a) = (best.1, best.2);
    let (mut df, mut da) = (0.5 * hz, 0.5 * step);
    let mut now = sum(f, a);
    for _ in 0..24 {
        let near = [(df, 0.0), (-df, 0.0), (0.0, da), (0.0, -da)];
        let better = near
            .into_iter()
            .map(|(x, y)| (f + x, a + y, sum(f + x, a + y)))
            .max_by(|x, y| x.2.norm_sqr().total_cmp(&y.2.norm_sqr()));
        match better {
            Some((x, y, s)) if s.norm_sqr() > now.norm_sqr() => (f, a, now) = (x, y, s),
            _ => (df, da) = (0.5 * df, 0.5 * da),
        }
    }
    (f, a, now)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A chirp without noise is found to a small part of 1/span and 1/span².
    #[test]
    fn a_chirp_is_explained_whole() {
        let (spacing, block) = (0.25, 2.0);
        for (f, a) in [(0.0, 0.0), (0.31, -0.004), (-0.9, 0.007)] {
            let samples: Vec<(f64, Complex64)> = (0..400)
                .map(|i| (f64::from(i) - 199.5) * spacing)
                .map(|t| (t, Complex64::from_polar(2.0, 1.0 + TAU * (f * t + 0.5 * a * t * t))))
                .collect();
            let (found, slope, sum) = one_phase(&samples, spacing, block);
            assert!((found - f).abs() < 1e-4, "{f}: {found}");
            assert!((slope - a).abs() < 1e-5, "{a}: {slope}");
            assert!((sum.norm() / 800.0 - 1.0).abs() < 1e-3, "{}", sum.norm());
        }
    }
}
