//! Chips in a symbol's wave: seen at the right rate and moment they are all as large.

use super::edges::Edges;
use super::refine::Symbol;
use dsp::Fft;
use units::Iq;

/// Chip rates over the width between the edges: a rectangular chip reads 0.75 to 0.8 of its rate
/// wide, a root-raised-cosine one 1 to 1.15 (measured); the edges' uncertainty comes on top.
const NEAR: (f64, f64) = (0.75, 1.5);
/// The wave is interpolated by this, and a chip looked at in so many moments.
const FINER: usize = 8;
const MOMENTS: usize = 12;
/// Fewer chips than these could all be as large by chance.
const FEWEST: usize = 7;
/// Largest spread of the chips' magnitudes over their mean, and over that at other rates. At the
/// right one it is 0.05 to 0.1 with little noise, at others 0.22 to 0.38, of noise one half.
const ALIKE: f64 = 0.36;
const THAN_OTHERS: f64 = 0.72;

/// Number of chips in a symbol, where it shows.
pub(super) fn chips(symbol: &Symbol, edges: &Edges) -> Option<u32> {
    let width = edges.high - edges.low;
    // Twice the chip rate would look much like it: the room ends before.
    let u = edges.u.min(0.1 * width);
    let low = NEAR.0 * (width - u) * symbol.samples;
    let high = NEAR.1 * (width + u).min(1.0) * symbol.samples;
    let fine = finer(&symbol.wave);
    let spreads: Vec<(f64, usize)> = ((low.ceil() as usize).max(FEWEST)..=high as usize)
        .map(|count| (spread(&fine, count), count))
        .collect();
    let best = spreads.iter().copied().min_by(|a, b| a.0.total_cmp(&b.0))?;
    // At twice the rate every other look is at a chip too.
    let other = |count: usize| count != best.1 && count.abs_diff(2 * best.1) > 1;
    let others = spreads.iter().filter(|s| other(s.1)).map(|s| s.0);
    let next = others.fold(f64::INFINITY, f64::min);
    (best.0 < ALIKE && best.0 < THAN_OTHERS * next).then_some(best.1 as u32)
}

/// The least spread of the magnitudes of `count` chips over all moments, over their mean.
fn spread(fine: &[f32], count: usize) -> f64 {
    let chip = fine.len() as f64 / count as f64;
    let of = |moment: usize| {
        let late = moment as f64 / MOMENTS as f64;
        // The first and the last are cut by the wave's ends.
        let seen = (1..count - 1).map(|i| ((i as f64 + late) * chip) as usize);
        let (n, sum, squares) = seen.fold((0.0, 0.0, 0.0), |(n, sum, squares), at| {
            let value = f64::from(fine[at]);
            (n + 1.0, sum + value, squares + value * value)
        });
        let mean = sum / n;
        (squares / n - mean * mean).max(0.0).sqrt() / mean
    };
    (0..MOMENTS).map(of).fold(f64::INFINITY, f64::min)
}

/// Magnitudes of the wave through a filter that matches its chips, interpolated.
fn finer(wave: &[Iq]) -> Vec<f32> {
    let n = wave.len();
    let (forward, back) = (Fft::forward(n), Fft::inverse(n * FINER));
    let mut spectrum = wave.to_vec();
    forward.in_place(&mut spectrum, &mut forward.scratch());
    // Matched to the chip's own spectrum, as far as a smooth one tells it: chips no longer run
    // into one another.
    let reach = (n / 16).max(2);
    let power: Vec<f32> = spectrum.iter().map(Iq::norm_sqr).collect();
    for (k, x) in spectrum.iter_mut().enumerate() {
        let near = (0..=2 * reach).map(|i| power[(k + n + i - reach) % n]);
        *x *= (near.sum::<f32>() / (2 * reach + 1) as f32).sqrt();
    }
    let mut fine = vec![Iq::default(); n * FINER];
    fine[..n.div_ceil(2)].copy_from_slice(&spectrum[..n.div_ceil(2)]);
    let above = n / 2;
    fine[n * FINER - above..].copy_from_slice(&spectrum[n - above..]);
    back.in_place(&mut fine, &mut back.scratch());
    fine.iter().map(|x| x.norm()).collect()
}
