//! Whether all that is in a band has one constant modulus, as an emission modulated in frequency or
//! phase alone has, and two emissions side by side do not.
//!
//! With m = E|s|⁴/(E|s|²)² a constant modulus has m = 1; the sum of two with powers 1 and ρ beats
//! and has m = 1 + 2ρ/(1+ρ)² (closed form). Noise of power N beside a signal of power S adds
//! 4SN + 2N² to the fourth moment.

use crate::cells::ENBW_BINS;
use crate::join::{Scene, excess, sum};
use dsp::DownConverter;
use std::ops::Range;

/// Samples looked at, at most: the windows of an emission of 10 kHz in a band of 20 MHz.
const SAMPLES: usize = 1 << 22;
/// Samples (after decimation) over which a keyed emission may be taken to stay on: many times
/// the longest beat of two emissions in the band, and the time in which a part of it varies.
const WINDOW: usize = 128;
/// Windows needed, or nothing can be said.
const WINDOWS: usize = 8;
/// Weakest second emission, as a part of the first, that the moment tells from none.
const LEAST: f64 = 0.05;
/// Least that either must stand over the floor in its band (3 dB): less may be the floor's error.
const STANDS: f64 = 2.0;
/// Part of the power between their outer edges that the two must hold.
const MOST: f64 = 0.8;
/// The same of what passes the filter, whose slopes reach beyond those edges.
const PASSED: f64 = 0.5;
/// Weakest signal over the noise that is judged (9 dB): the noise is known to a tenth or so.
const CLEAR: f64 = 8.0;
/// A band with a moment over this is a slice of an emission: emissions that stay on, noise-like ones
/// among them, have at most 2 together.
const SLICE: f64 = 2.2;
/// A slice has this many bins at least: narrow emissions may be keyed as fast.
const WIDE: usize = 256;
/// Part of the beat's excess that a constant modulus may show: filters and multipath add some.
const SOME: f64 = 0.4;

/// What the fourth moment tells of a band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Modulus {
    /// One modulus: one emission.
    Constant,
    /// Two emissions, or one whose modulus varies.
    Varies,
    /// There for a small part of the time only, far shorter than keying: a slice of an emission
    /// that sweeps over more than this band, as frequency-modulated pictures do.
    Slice,
    /// Too little or too weak to be told.
    Unknown,
}

/// The modulus of the bands `a` and `b` of the scene's cells and what lies between, over the rows
/// of `rows` in which they are loudest.
pub(crate) fn modulus(
    a: &Range<usize>,
    b: &Range<usize>,
    rows: (usize, usize),
    scene: &Scene<'_>,
) -> Modulus {
    let level = scene.cells.level;
    let bins = a.start.min(b.start)..a.end.max(b.end);
    let width = (bins.len() as f64 + 2.0) / level.n as f64;
    let decimation = DownConverter::decimation_for(width);
    let samples = (4 * WINDOWS * WINDOW * decimation).min(SAMPLES);
    if width > 0.8 || rows.1 <= rows.0 {
        return Modulus::Unknown;
    }
    let rows = loudest(a, b, rows, (samples / level.hop).max(1), scene);
    let sum = |band: &Range<usize>| excess(band.clone(), rows, scene).iter().sum::<f64>();
    let (x, y) = (sum(a), sum(b));
    let floor = |band: &Range<usize>| -> f64 {
        scene.floor[band.clone()].iter().map(|f| f64::from(*f)).sum()
    };
    if x < STANDS * floor(a) || y < STANDS * floor(b) {
        return Modulus::Unknown;
    }
    let ratio = x.min(y) / x.max(y);
    // What else is between them speaks for itself.
    if ratio < LEAST || x + y < MOST * sum(&bins) {
        return Modulus::Unknown;
    }
    let from = rows.0 * level.hop;
    let to = ((rows.1 - 1) * level.hop + level.n).min(scene.block.len());
    let middle = 0.5 * (bins.start + bins.end - 1) as f64;
    let offset = (middle - (level.n / 2) as f64) / level.n as f64;
    let mut down = DownConverter::new(offset, width, decimation);
    let density = floor(&bins) / ENBW_BINS / bins.len() as f64 * level.n as f64;
    let noise = density * down.noise_bandwidth();
    let beat = 2.0 * ratio / (1.0 + ratio).powi(2);
    let limit = 1.0 + SOME * beat;
    let (mut fourth, mut square, mut windows) = (0.0, 0.0, 0);
    let (mut all, mut count) = (0.0, 0u32);
    let mut samples = Vec::new();
    for part in scene.block[from..to].chunks(WINDOWS * WINDOW * decimation) {
        down.push(part, &mut samples);
        let whole = samples.len() / WINDOW * WINDOW;
        for window in samples[..whole].chunks_exact(WINDOW) {
            let powers = window.iter().map(|x| f64::from(x.norm_sqr()));
            let (two, four) = powers.fold((0.0, 0.0), |(a, b), p| (a + p, b + p * p));
            let (two, four) = (two / WINDOW as f64, four / WINDOW as f64);
            let signal = two - noise;
            (all, count) = (all + signal, count + 1);
            if signal > CLEAR * noise {
                fourth += four - 4.0 * signal * noise - 2.0 * noise * noise;
                square += signal * signal;
                windows += 1;
            }
        }
        samples.drain(..whole);
        if windows >= WINDOWS && fourth > (limit + beat) * square {
            break;
        }
    }
    // What the filter lets in from beside them speaks for itself too.
    let held = (x + y) / ENBW_BINS / (all / f64::from(count));
    match fourth / square {
        _ if windows < WINDOWS || held < PASSED => Modulus::Unknown,
        moment if moment < limit => Modulus::Constant,
        moment if moment > SLICE && bins.len() >= WIDE => Modulus::Slice,
        _ => Modulus::Varies,
    }
}

/// The `count` rows of `rows`, at half-overlapped places, in which two bands hold the most.
fn loudest(
    a: &Range<usize>,
    b: &Range<usize>,
    rows: (usize, usize),
    count: usize,
    scene: &Scene<'_>,
) -> (usize, usize) {
    let sum = |row: &[f32], bins: &Range<usize>| sum(&row[bins.clone()]);
    let power = |from: usize| {
        let until = (from + count).min(rows.1);
        let step = (until - from).div_ceil(16);
        let picked = (from..until).step_by(step);
        picked.map(|r| sum(scene.cells.row(r), a) + sum(scene.cells.row(r), b)).sum::<f64>()
    };
    let last = rows.1.saturating_sub(count).max(rows.0);
    let places = (rows.0..=last).step_by((count / 2).max(1));
    let best = places.map(|from| (power(from), from)).max_by(|x, y| x.0.total_cmp(&y.0));
    let from = best.map_or(rows.0, |(_, from)| from);
    (from, (from + count).min(rows.1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cells::{Cells, Maker};
    use crate::config::Level;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, StandardNormal};
    use units::Iq;

    const LEVEL: Level = Level { n: 1024, hop: 512, rate_hz: 1e6 };
    const SAMPLES: usize = 1 << 18;

    /// Noise of 1e-4 a sample, and what `signal` gives.
    fn block(seed: u64, signal: impl Fn(usize) -> Iq) -> Vec<Iq> {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let mut normal = || -> f32 { StandardNormal.sample(&mut random) };
        let noise = 0.5e-4f32.sqrt();
        (0..SAMPLES).map(|k| signal(k) + Iq::new(noise * normal(), noise * normal())).collect()
    }
    fn judged(block: &[Iq], a: Range<usize>, b: Range<usize>) -> Modulus {
        let cells: Cells = Maker::new(LEVEL).cells(block, Vec::new());
        let floor = vec![1e-4 * ENBW_BINS as f32 / LEVEL.n as f32; LEVEL.n];
        let finer = [(&cells, floor.as_slice())];
        let scene = Scene { cells: &cells, floor: &floor, block, finer: &finer, gap_rows: 4 };
        modulus(&a, &b, (0, cells.rows), &scene)
    }
    /// A tone at a bin of the level.
    fn tone(amplitude: f64, bin: f64, k: usize) -> Iq {
        let turn = (bin - 512.0) / 1024.0 * k as f64 % 1.0;
        Iq::from(num_complex::Complex32::from_polar(
            amplitude as f32,
            (std::f64::consts::TAU * turn) as f32,
        ))
    }

    /// Two tones of powers 1 and ρ at once have 1 + 2ρ/(1+ρ)²; in turn, 1.
    #[test]
    fn tones_at_once_and_in_turn() {
        for (seed, ratio) in [(1, 1.0f64), (2, 0.5), (3, 0.1)] {
            let both = block(seed, |k| tone(1.0, 600.0, k) + tone(ratio.sqrt(), 620.0, k));
            let judged = judged(&both, 598..603, 618..623);
            assert_eq!(judged, Modulus::Varies, "two tones of ratio {ratio}");
        }
        // Shift keying with a tone for 200 samples: 4 times the distance of the tones in symbols.
        let keyed = block(4, |k| tone(1.0, if (k / 200) % 2 == 0 { 600.0 } else { 620.0 }, k));
        assert_eq!(judged(&keyed, 598..603, 618..623), Modulus::Constant, "one tone at a time");
    }
    /// A tone that sweeps over 1000 bins every 100 samples, seen in 260 of them: it is there for a
    /// quarter of the time and a little more, so the moment is nearly 4.
    #[test]
    fn a_slice_of_a_sweep() {
        let sweep = block(6, |k| {
            let (rise, n) = (1000.0 / 1024.0 / 100.0, (k % 100) as f64);
            let turn = (-500.0 / 1024.0 * n + 0.5 * rise * n * n) % 1.0;
            let (sin, cos) = (std::f64::consts::TAU * turn).sin_cos();
            Iq::new(cos as f32, sin as f32)
        });
        assert_eq!(judged(&sweep, 400..520, 540..660), Modulus::Slice);
    }
    /// Shift keying of 4 kHz in a band of 20 MHz: slow for its band, yet of one modulus.
    #[test]
    fn a_narrow_keying_in_a_wide_band_has_one_modulus() {
        let level = Level { n: 1 << 15, hop: 1 << 14, rate_hz: 20e6 };
        let middle = level.n as f64 / 2.0;
        let tone = |bin: f64, k: usize| {
            let turn = (bin - middle) / level.n as f64 * k as f64 % 1.0;
            Iq::from(num_complex::Complex32::from_polar(1.0, (std::f64::consts::TAU * turn) as f32))
        };
        // A tone for six times its distance to the other.
        let keyed = |k: usize| {
            tone(middle + if ((k >> 15) / 6).is_multiple_of(2) { 40.0 } else { 46.0 }, k)
        };
        let block: Vec<Iq> = (0..1usize << 22).map(keyed).collect();
        let cells: Cells = Maker::new(level).cells(&block, Vec::new());
        let floor = vec![1e-6f32; level.n];
        let finer = [(&cells, floor.as_slice())];
        let scene =
            Scene { cells: &cells, floor: &floor, block: &block, finer: &finer, gap_rows: 4 };
        let bin = middle as usize;
        let judged = modulus(&(bin + 39..bin + 42), &(bin + 45..bin + 48), (0, cells.rows), &scene);
        assert_eq!(judged, Modulus::Constant);
    }
    #[test]
    fn what_lies_between_is_not_theirs() {
        let strong = |k| tone(1.0, 610.0, k) + tone(0.2, 600.0, k) + tone(0.15, 620.0, k);
        assert_eq!(judged(&block(5, strong), 598..603, 618..623), Modulus::Unknown);
    }
    /// A strong emission three bins past the second: the filter's slope lets it in.
    #[test]
    fn what_lies_beside_is_not_theirs() {
        let strong = |k| tone(1.0, 625.0, k) + tone(0.03, 600.0, k) + tone(0.03, 620.0, k);
        assert_eq!(judged(&block(7, strong), 598..603, 619..622), Modulus::Unknown);
    }
}
