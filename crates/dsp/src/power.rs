//! The hot loops over samples: |x|², its accumulation, and the windowed copy. Plain loops,
//! compiled once per instruction set and picked at run time.

use multiversion::multiversion;
use units::Iq;

/// Writes |x|² of each sample, times `scale`.
///
/// # Panics
/// If the lengths differ.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx512f", "aarch64+neon"))]
pub fn power(x: &[Iq], scale: f32, out: &mut [f32]) {
    assert_eq!(x.len(), out.len(), "power: lengths differ");
    for (o, x) in out.iter_mut().zip(x) {
        *o = (x.re * x.re + x.im * x.im) * scale;
    }
}

/// Adds |x|² of each sample to `sum`. Sum at most a few hundred in f32, then add up in f64.
///
/// # Panics
/// If the lengths differ.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx512f", "aarch64+neon"))]
pub fn add_power(x: &[Iq], sum: &mut [f32]) {
    assert_eq!(x.len(), sum.len(), "add_power: lengths differ");
    for (s, x) in sum.iter_mut().zip(x) {
        *s += x.re * x.re + x.im * x.im;
    }
}

/// Writes w·x.
///
/// # Panics
/// If the lengths differ.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx512f", "aarch64+neon"))]
pub fn windowed(x: &[Iq], w: &[f32], out: &mut [Iq]) {
    assert!(x.len() == w.len() && x.len() == out.len(), "windowed: lengths differ");
    for ((o, x), w) in out.iter_mut().zip(x).zip(w) {
        o.re = x.re * w;
        o.im = x.im * w;
    }
}

/// Samples summed in single precision before they go to double.
const SUMMED: usize = 256;
/// Sums and extremes kept side by side, so that they fill vector registers.
const LANES: usize = 16;

/// Mean |x|², summed in blocks so that a long slice loses no digits. 0 for none.
pub fn mean_power(x: &[Iq]) -> f64 {
    if x.is_empty() { 0.0 } else { total_power(x) / x.len() as f64 }
}

#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx512f", "aarch64+neon"))]
fn total_power(x: &[Iq]) -> f64 {
    let mut total = 0.0;
    for block in x.chunks(SUMMED) {
        let mut lanes = [0.0f32; LANES];
        for part in block.chunks(LANES) {
            for (sum, x) in lanes.iter_mut().zip(part) {
                *sum += x.re * x.re + x.im * x.im;
            }
        }
        total += f64::from(lanes.iter().sum::<f32>());
    }
    total
}

/// Least and largest rail (I and Q alike) of finite samples; (∞, −∞) for none.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx512f", "aarch64+neon"))]
pub fn extremes(x: &[Iq]) -> (f32, f32) {
    // Plain compares: `f32::min` minds NaN, which costs twice as much.
    let less = |a: f32, b: f32| if a < b { a } else { b };
    let more = |a: f32, b: f32| if a > b { a } else { b };
    let (mut low, mut high) = ([f32::INFINITY; LANES], [f32::NEG_INFINITY; LANES]);
    for part in x.chunks(LANES) {
        for ((low, high), x) in low.iter_mut().zip(&mut high).zip(part) {
            *low = less(*low, less(x.re, x.im));
            *high = more(*high, more(x.re, x.im));
        }
    }
    (low.into_iter().fold(f32::INFINITY, less), high.into_iter().fold(f32::NEG_INFINITY, more))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_loops_do_what_they_say() {
        let x: Vec<Iq> = (0..37).map(|i| Iq::new(i as f32, -0.5 * i as f32)).collect();
        let w: Vec<f32> = (0..37).map(|i| 1.0 / (1.0 + i as f32)).collect();
        let (mut p, mut y) = (vec![1.0f32; 37], vec![Iq::default(); 37]);
        add_power(&x, &mut p);
        windowed(&x, &w, &mut y);
        for i in 0..37 {
            assert!((p[i] - (1.0 + 1.25 * (i * i) as f32)).abs() < 1e-3);
            assert!((y[i] - x[i] * w[i]).norm() < 1e-6);
        }
        assert_eq!(extremes(&x), (-18.0, 36.0));
        assert_eq!(extremes(&x[5..7]), (-3.0, 6.0));
        assert_eq!(extremes(&[]), (f32::INFINITY, f32::NEG_INFINITY));
        // Σ 1.25 i² = 1.25 · 36 · 37 · 73 / 6 (closed form).
        assert!((mean_power(&x) - 1.25 * 36.0 * 73.0 / 6.0).abs() < 1e-3);
        power(&x, 2.0, &mut p);
        assert_eq!(p[4], 40.0);
        // SCL-002: a full-scale real tone in one rail is −3.0103 dBFS (mean of cos²).
        let real: Vec<Iq> = (0..1000)
            .map(|i| Iq::new((0.02 * std::f32::consts::PI * i as f32).cos(), 0.0))
            .collect();
        assert!((10.0 * mean_power(&real).log10() + 3.010_299_956_64).abs() < 1e-5);
    }
}
