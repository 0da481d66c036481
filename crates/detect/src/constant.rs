//! The constant that a receiver adds to its samples: the line at its tuned frequency, measured and
//! taken out, so that it does not join what lies about it.

use num_complex::Complex64;
use units::Iq;

/// Parts of a block whose means are compared.
const PARTS: usize = 8;
/// Coherence of their means, |Σm|² over n Σ|m|², from which on they are one constant. Of noise it
/// passes 0.9 with probability 0.1⁷ (of n means: (1 − c)ⁿ⁻¹, closed form).
const STEADY: f64 = 0.9;
/// Shortest block that shows it.
const SHORTEST: usize = 1024;

/// The constant of a block; `None` where there is none that holds over the block.
pub(crate) fn of(block: &[Iq]) -> Option<Iq> {
    if block.len() < SHORTEST {
        return None;
    }
    let length = block.len() / PARTS;
    let (mut sum, mut powers) = (Complex64::ZERO, 0.0);
    for part in block.chunks_exact(length).take(PARTS) {
        let mean: Complex64 = part
            .chunks(256)
            .map(|x| x.iter().sum::<Iq>())
            .map(|s| Complex64::new(f64::from(s.re), f64::from(s.im)))
            .sum::<Complex64>()
            / length as f64;
        sum += mean;
        powers += mean.norm_sqr();
    }
    let mean = sum / PARTS as f64;
    let steady = sum.norm_sqr() > STEADY * PARTS as f64 * powers;
    steady.then(|| Iq::new(mean.re as f32, mean.im as f32))
}

/// Takes it out.
pub(crate) fn take(block: &mut [Iq], constant: Iq) {
    block.iter_mut().for_each(|x| *x -= constant);
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, StandardNormal};

    fn noise(seed: u64, n: usize) -> Vec<Iq> {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let mut normal = || -> f32 { StandardNormal.sample(&mut random) };
        (0..n).map(|_| Iq::new(normal(), normal())).collect()
    }

    /// The mean of n samples of noise of power 2 scatters by √(2/n).
    #[test]
    fn a_constant_in_noise_is_found_and_noise_has_none() {
        let n = 1 << 14;
        assert!((0..200).all(|seed| of(&noise(seed, n)).is_none()));
        let mut block = noise(1000, n);
        block.iter_mut().for_each(|x| *x += Iq::new(0.3, -0.1));
        let found = of(&block).expect("a constant");
        assert!((found - Iq::new(0.3, -0.1)).norm() < 5.0 * (2.0 / n as f32).sqrt());
        take(&mut block, found);
        assert!(of(&block).is_none());
    }
    /// A line one turn a block off is no constant.
    #[test]
    fn a_line_beside_it_stays() {
        let n = 1 << 14;
        let turn = |k: usize| std::f32::consts::TAU * k as f32 / n as f32;
        let line: Vec<Iq> = (0..n).map(|k| Iq::new(turn(k).cos(), turn(k).sin())).collect();
        assert_eq!(of(&line), None);
    }
}
