//! Upper tail of the standard normal distribution and its inverse, down to any probability.

use statrs::function::erf::erfc;
use std::f64::consts::{PI, SQRT_2};

/// P(Z > z).
pub fn normal_sf(z: f64) -> f64 {
    0.5 * erfc(z / SQRT_2)
}

/// ln P(Z > z); where erfc underflows, by the continued fraction of Laplace.
pub fn normal_ln_sf(z: f64) -> f64 {
    if z < 20.0 {
        return normal_sf(z).ln();
    }
    // Q(z) = φ(z) / (z + 1/(z + 2/(z + 3/(z + …))))
    let mut tail = z;
    for k in (1..=30).rev() {
        tail = z + f64::from(k) / tail;
    }
    -0.5 * z * z - 0.5 * (2.0 * PI).ln() - tail.ln()
}

/// z with P(Z > z) = p, 0 < p < 1.
pub fn normal_isf(p: f64) -> f64 {
    if p > 0.5 { -normal_isf_ln((1.0 - p).ln()) } else { normal_isf_ln(p.ln()) }
}

/// z with ln P(Z > z) = `ln_p`, for `ln_p` ≤ ln 0.5. Newton on the logarithm of the tail.
pub fn normal_isf_ln(ln_p: f64) -> f64 {
    let t = (-2.0 * ln_p).sqrt();
    // Abramowitz and Stegun 26.2.23 as the start (error below 4.5e-4).
    let mut z = t
        - (2.515517 + 0.802853 * t + 0.010328 * t * t)
            / (1.0 + 1.432788 * t + 0.189269 * t * t + 0.001308 * t * t * t);
    for _ in 0..8 {
        let ln_sf = normal_ln_sf(z);
        let ln_density = -0.5 * z * z - 0.5 * (2.0 * PI).ln();
        let step = (ln_sf - ln_p) / (ln_density - ln_sf).exp();
        z += step;
        if step.abs() < 1e-13 * (1.0 + z.abs()) {
            break;
        }
    }
    z
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_quantiles() {
        // 1.6449, 3.0902 and 4.7534 are in every table; 1e-15 computed with scipy (norm.isf).
        for (p, z) in
            [(0.05, 1.644853627), (1e-3, 3.090232306), (1e-6, 4.753424309), (1e-15, 7.941345326)]
        {
            assert!((normal_isf(p) - z).abs() < 1e-8, "{p}: {}", normal_isf(p));
        }
        assert!((normal_isf(0.9) + 1.281551566).abs() < 1e-8);
        // Both branches of the tail meet.
        let step = normal_ln_sf(20.0 - 1e-9) - normal_ln_sf(20.0);
        assert!(step.abs() < 1e-6, "{step}");
        assert!((normal_ln_sf(normal_isf_ln(-1e4)) + 1e4).abs() < 1e-6);
    }
}
