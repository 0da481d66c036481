//! The symbol's exact length, and one symbol's wave, out of a stretch of white samples.
//!
//! The power of a spread signal repeats with its symbol, so that its spectrum has lines at the
//! symbol rate's multiples (Gardner 1986): their sum over a stretch of a second tells the rate to
//! some 1e-7; so do windows far apart (`far`). At that length symbols are cut out and laid over one another: all are the same wave
//! but for the data's phase, so that their strongest common component is that wave (Burel and
//! Bouder 2000), found by power iteration.

use super::edges::Edges;
use super::far;
use super::period::Period;
use dsp::{DownConverter, Fft, Resampler};
use rayon::prelude::*;
use units::Iq;

/// The wave is looked at in a band so much wider than the flat signal that fits.
const WIDER: f64 = 1.5;
/// Samples in a symbol that are still laid over one another, and the fewest symbols.
const LONGEST: usize = 8192;
const FEWEST: usize = 32;

/// One symbol of a spread signal.
#[derive(Debug)]
pub(super) struct Symbol {
    /// Its length and standard uncertainty, samples of the stream.
    pub samples: f64,
    pub u_samples: f64,
    /// Its wave, evenly sampled over its length.
    pub wave: Vec<Iq>,
    /// Power along the wave over that along the strongest other one.
    pub alone: f64,
}

/// The symbol of which white samples are full, as far as they show it.
pub(super) fn symbol(white: &[Iq], period: &Period, edges: &Edges) -> Option<Symbol> {
    let width = (WIDER * (edges.high - edges.low)).min(1.0);
    let centre = (0.5 * (edges.low + edges.high)).clamp(0.5 * width, 1.0 - 0.5 * width) - 0.5;
    let decimation = DownConverter::decimation_for(width);
    let mut down = DownConverter::new(centre, width, decimation);
    let mut narrow = Vec::with_capacity(white.len() / decimation + 1);
    down.push(white, &mut narrow);
    // Two ways to the exact length; at the wrong one there is no common wave.
    let d = decimation as f64;
    let far = far::length(&narrow, period.samples / d, period.u_samples / d);
    let far = far.map(|(samples, u)| (samples * d, u * d));
    let lines = exact(&narrow, period, width * d, decimation);
    let symbols = [far, lines].into_iter().flatten().filter_map(|(samples, u_samples)| {
        // A quarter more than the width: what the resampler keeps flat.
        let a_symbol = (1.25 * width * samples).ceil() as usize;
        if a_symbol > LONGEST || (white.len() as f64 / samples) < FEWEST as f64 {
            return None;
        }
        let mut cut = Vec::new();
        Resampler::new(a_symbol as f64 * d / samples).push(&narrow, &mut cut);
        let (wave, alone) = wave(&cut, a_symbol);
        Some(Symbol { samples, u_samples, wave, alone })
    });
    symbols.max_by(|a, b| a.alone.total_cmp(&b.alone))
}

/// Length of a symbol in samples of the stream, and its standard uncertainty; `width` of the band
/// in turns a sample of `narrow`.
fn exact(narrow: &[Iq], period: &Period, width: f64, decimation: usize) -> Option<(f64, f64)> {
    // A length of small factors, for the transform's sake.
    let n = narrow.len() / 4096 * 4096;
    if n == 0 {
        return None;
    }
    let mean = narrow[..n].iter().map(Iq::norm_sqr).sum::<f32>() / n as f32;
    let mut power: Vec<Iq> =
        narrow[..n].iter().map(|x| Iq::new(x.norm_sqr() - mean, 0.0)).collect();
    let fft = Fft::forward(n);
    fft.in_place(&mut power, &mut fft.scratch());
    // In bins: the symbol rate, how far off it may be, and the last multiple with something in it.
    let of_samples = |samples: f64| n as f64 * decimation as f64 / samples;
    let rate = of_samples(period.samples);
    let last = ((0.8 * width * n as f64) / rate) as usize;
    if last == 0 {
        return None;
    }
    let room = 5.0 * rate * period.u_samples / period.samples + 2.0 / last as f64;
    let step = 0.25 / last as f64;
    let sum = |rate: f64| -> f64 {
        let at = |k: usize| power.get((k as f64 * rate).round() as usize);
        (1..=last).filter_map(at).map(|x| f64::from(x.norm_sqr())).sum()
    };
    let steps = (room / step) as i64;
    let best = (-steps..=steps)
        .map(|i| rate + i as f64 * step)
        .map(|rate| (sum(rate), rate))
        .max_by(|a, b| a.0.total_cmp(&b.0))?
        .1;
    // Sums are flat within half a bin of the last multiples; the middle of the top is its place.
    let samples = period.samples * rate / best;
    Some((samples, samples * 0.5 / last as f64 / best))
}

/// The strongest component that stretches of `length` samples have in common, at the offset where
/// it is strongest: there a stretch is one symbol and not the ends of two. And its power over that
/// of the strongest of the rest.
fn wave(samples: &[Iq], length: usize) -> (Vec<Iq>, f64) {
    let start = samples[..length].to_vec();
    let eighths = (0..8).into_par_iter().map(|i| {
        let at = i * length / 8;
        let (loud, wave) = common(samples, at, start.clone(), 8, &[]);
        (loud, at, wave)
    });
    let all: Vec<_> = eighths.collect();
    let best = all.into_iter().max_by(|a, b| a.0.total_cmp(&b.0));
    let (mut loud, mut at, mut wave) = best.unwrap_or((0.0, 0, start));
    for part in [16, 32, 64] {
        let step = length / part;
        for move_by in [step, length - step] {
            let mut moved = wave.clone();
            moved.rotate_left(move_by);
            let (louder, found) = common(samples, (at + move_by) % length, moved, 4, &[]);
            if louder > loud {
                (loud, at, wave) = (louder, (at + move_by) % length, found);
            }
        }
    }
    let (loud, mut wave) = common(samples, at, wave, 6, &[]);
    normalise(&mut wave);
    let (next, _) = common(samples, at, samples[..length].to_vec(), 10, &wave);
    (wave, loud / next)
}

fn normalise(wave: &mut [Iq]) {
    let norm = wave.iter().map(|x| f64::from(x.norm_sqr())).sum::<f64>().sqrt() as f32;
    wave.iter_mut().for_each(|x| *x /= norm.max(f32::MIN_POSITIVE));
}

/// Power iteration on Σ x xᴴ over stretches from `offset` on, apart from what lies along `without`
/// (a unit vector, or nothing); the eigenvalue and the vector.
fn common(
    samples: &[Iq],
    offset: usize,
    start: Vec<Iq>,
    rounds: usize,
    without: &[Iq],
) -> (f64, Vec<Iq>) {
    let length = start.len();
    let mut wave = start;
    let mut loud = 0.0;
    for _ in 0..rounds {
        let along: Iq = without.iter().zip(&wave).map(|(u, w)| u.conj() * w).sum();
        wave.iter_mut().zip(without).for_each(|(w, u)| *w -= u * along);
        normalise(&mut wave);
        let mut sum = vec![Iq::default(); length];
        loud = 0.0;
        for stretch in samples[offset..].chunks_exact(length) {
            let phase: Iq = stretch.iter().zip(&wave).map(|(x, w)| x * w.conj()).sum();
            loud += f64::from(phase.norm_sqr());
            sum.iter_mut().zip(stretch).for_each(|(s, x)| *s += x * phase.conj());
        }
        wave = sum;
    }
    let stretches = ((samples.len() - offset) / length) as f64;
    (loud / stretches, wave)
}
