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

/// Mean |x|², summed in blocks so that a long slice loses no digits. 0 for none.
pub fn mean_power(x: &[Iq]) -> f64 {
    let block = |x: &[Iq]| f64::from(x.iter().map(Iq::norm_sqr).sum::<f32>());
    let total: f64 = x.chunks(256).map(block).sum();
    if x.is_empty() { 0.0 } else { total / x.len() as f64 }
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
        power(&x, 2.0, &mut p);
        assert_eq!(p[4], 40.0);
        // SCL-002: a full-scale real tone in one rail is −3.0103 dBFS (mean of cos²).
        let real: Vec<Iq> = (0..1000)
            .map(|i| Iq::new((0.02 * std::f32::consts::PI * i as f32).cos(), 0.0))
            .collect();
        assert!((10.0 * mean_power(&real).log10() + 3.010_299_956_64).abs() < 1e-5);
    }
}
