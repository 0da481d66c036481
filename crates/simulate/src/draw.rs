//! Random draws that depend only on a seed and on what they are for, never on the order in which
//! they are asked: each purpose gets its own ChaCha8 stream, keyed by a path of numbers.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// The finaliser of SplitMix64 (Steele, Lea, Flood 2014): mixes 64 bits.
fn mix(x: u64) -> u64 {
    let x = x.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    x ^ (x >> 31)
}

/// One key out of a seed and a path; different paths give unrelated keys.
pub fn key(seed: u64, path: &[u64]) -> u64 {
    path.iter().fold(mix(seed), |k, p| mix(k ^ mix(*p)))
}

/// A generator for the purpose that `path` names.
pub fn rng(seed: u64, path: &[u64]) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(key(seed, path))
}

/// A key for a name (FNV-1a), so that draws follow the name and not its place in a list.
pub fn name(text: &str) -> u64 {
    text.bytes()
        .fold(0xcbf2_9ce4_8422_2325, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0000_0100_0000_01b3))
}

/// One standard normal draw.
pub fn normal(rng: &mut ChaCha8Rng) -> f64 {
    rng.sample(rand_distr::StandardNormal)
}

/// One draw between `low` and `high`.
pub fn between(rng: &mut ChaCha8Rng, low: f64, high: f64) -> f64 {
    low + (high - low) * rng.random::<f64>()
}

/// One draw between `low` and `high`, even on a logarithmic scale. Both over 0.
pub fn between_log(rng: &mut ChaCha8Rng, low: f64, high: f64) -> f64 {
    between(rng, low.ln(), high.ln()).exp()
}

/// An exponential draw of the given mean.
pub fn exponential(rng: &mut ChaCha8Rng, mean: f64) -> f64 {
    -mean * (1.0 - rng.random::<f64>()).ln()
}

/// One of `n` choices, 0 to n − 1; `n` over 0.
pub fn choice(rng: &mut ChaCha8Rng, n: usize) -> usize {
    rng.random_range(0..n)
}

/// A fair bit.
pub fn bit(rng: &mut ChaCha8Rng) -> bool {
    rng.random()
}
