//! Emissions side by side whose skirts touch are told apart at the valley between them.
//!
//! Cells over the threshold connect wherever a strong emission's skirt reaches a neighbour. Between
//! two emissions the mean spectrum falls far under both; within one it may too (tones of frequency
//! shift keying, lobes of keying, sidebands), so a valley cuts only where nothing says that both
//! sides are one: a modulus that is constant over both, tones that take turns, a lobe with its twin
//! on the other side. The valley as the sign of two sources is common in the deblending of images
//! (Bertin and Arnouts 1996, section 6); the signs against it are ours.

use crate::components::{Component, Components, Run};
use crate::join::Scene;
use crate::modulus::{Modulus, modulus};
use crate::turns::take_turns;
use crate::twin::{alike, mirrored};
use rayon::prelude::*;
use std::ops::Range;

/// A valley falls to this part of the lower of the peaks beside it (−13 dB): deeper than
/// selective fading commonly cuts into one emission.
const DEEP: f64 = 0.05;
/// Narrowest component looked at, bins: two lines of a Hann window and a gap.
const NARROW: usize = 8;
/// Rows times bins of smoothing that a value of the mean spectrum rests on at least: noise-like
/// emissions then dip so low by chance less than once in a million bins.
const RESTS_ON: usize = 16;
/// Cells read of one component at most.
const CELLS: usize = 1 << 20;
/// A lobe is weaker than what it belongs to by this ratio at least.
const LOBE: f64 = 0.3;

/// Components with those that hold several emissions cut into them.
pub(crate) fn split(found: &Components, scene: &Scene<'_>) -> Vec<Component> {
    let mut out = Vec::with_capacity(found.all.len());
    let walls: Vec<Vec<usize>> = found.all.par_iter().map(|c| walls(c, scene)).collect();
    for (i, (c, walls)) in found.all.iter().zip(walls).enumerate() {
        if walls.is_empty() {
            out.push(*c);
            continue;
        }
        let mut low = 0;
        for high in walls.iter().copied().chain([usize::MAX]) {
            within(found.runs_of(i), (low, high), scene.gap_rows, &mut out);
            low = high;
        }
    }
    out
}

/// What of `runs` lies between two walls, as one component for each stretch of time.
fn within(runs: &[Run], walls: (usize, usize), gap_rows: usize, out: &mut Vec<Component>) {
    let from = out.len();
    for run in runs {
        let (bin0, bin1) = (run.bin0.max(walls.0), run.bin1.min(walls.1));
        if bin0 >= bin1 {
            continue;
        }
        let cells = (run.cells * (bin1 - bin0)).div_ceil(run.bin1 - run.bin0);
        let next = Component { walls, ..Component::of(&Run { row: run.row, bin0, bin1, cells }) };
        match out[from..].last_mut() {
            Some(c) if run.row <= c.row1 + gap_rows => *c = c.with(&next),
            _ => out.push(next),
        }
    }
    out[from..].iter_mut().for_each(|c| c.core = (c.bin0, c.bin1));
}

/// Bins at which a component is to be cut, rising.
fn walls(c: &Component, scene: &Scene<'_>) -> Vec<usize> {
    if c.bins() < NARROW || c.rows() < 2 {
        return Vec::new();
    }
    let mean = Mean::of(c, scene);
    let mut walls = Vec::new();
    mean.cut(0..c.bins(), c, scene, &mut walls);
    walls.sort_unstable();
    walls.iter().map(|k| k + c.bin0).collect()
}

/// Mean excess over the floor of a component's bins.
struct Mean {
    excess: Vec<f64>,
    /// The same, smoothed as far as chance needs.
    smooth: Vec<f64>,
    /// Least that a peak must rise to.
    clear: Vec<f64>,
}

impl Mean {
    fn of(c: &Component, scene: &Scene<'_>) -> Mean {
        let step = (c.rows() * c.bins()).div_ceil(CELLS).max(1);
        let mut excess = vec![0.0; c.bins()];
        let mut rows = 0usize;
        for r in (c.row0..c.row1).step_by(step) {
            let gain = scene.cells.gain[r];
            let row = &scene.cells.row(r)[c.bin0..c.bin1];
            let floor = &scene.floor[c.bin0..c.bin1];
            for ((e, p), f) in excess.iter_mut().zip(row).zip(floor) {
                *e += f64::from(*p - *f * gain);
            }
            rows += 1;
        }
        excess.iter_mut().for_each(|e| *e /= rows as f64);
        // Rows that a bin was marked in, on average.
        let on = (c.cells / c.bins() / step).clamp(1, rows);
        let half = RESTS_ON.div_ceil(on).max(3).max(c.bins() / 48) / 2;
        let smooth = boxed(&excess, half);
        let sd = 1.0 / ((rows * (2 * half + 1)) as f64 / 1.5).sqrt();
        // A valley is a twentieth of a peak: it must be told from no excess at all.
        let clear = |f: &f32| 3.0 * sd * f64::from(*f) / DEEP;
        let clear = scene.floor[c.bin0..c.bin1].iter().map(clear).collect();
        Mean { excess, smooth, clear }
    }

    /// Cuts a stretch of bins at its deepest valley, then both sides.
    fn cut(&self, bins: Range<usize>, c: &Component, scene: &Scene<'_>, out: &mut Vec<usize>) {
        let Some(at) = self.valley(&bins) else { return };
        let (left, right) = (bins.start..at, at..bins.end);
        let (l, r) = (self.energy(&left), self.energy(&right));
        let (major, minor) = if l >= r { (&left, &right) } else { (&right, &left) };
        let ratio = l.min(r) / l.max(r);
        if ratio < LOBE && self.has_twin(minor, major) {
            // A lobe stays where it is; what is left is looked at without it.
            return self.cut(major.clone(), c, scene, out);
        }
        let rows = (c.row0, c.row1);
        let cores = (self.core(&left, c), self.core(&right, c));
        let judged = modulus(&cores.0, &cores.1, rows, scene);
        // Both sides hold something for a moment at a time: slices of one that sweeps over them.
        let slice = |core: &Range<usize>| modulus(core, core, rows, scene) == Modulus::Slice;
        if matches!(judged, Modulus::Constant | Modulus::Slice)
            || (slice(&cores.0) && slice(&cores.1))
            || take_turns(cores, rows, scene)
        {
            return;
        }
        out.push(at);
        self.cut(left, c, scene, out);
        self.cut(right, c, scene, out);
    }

    /// Bins of the resolution from the first to the last that holds a tenth of a band's peak.
    fn core(&self, bins: &Range<usize>, c: &Component) -> Range<usize> {
        let s = &self.smooth[bins.clone()];
        let least = 0.1 * s.iter().copied().fold(0.0, f64::max);
        let first = s.iter().position(|e| *e >= least).unwrap_or(0);
        let last = s.iter().rposition(|e| *e >= least).unwrap_or(s.len() - 1);
        c.bin0 + bins.start + first..c.bin0 + bins.start + last + 1
    }

    /// The bin of the deepest valley that is deep enough, measured by the lower of the two peaks
    /// beside it.
    fn valley(&self, bins: &Range<usize>) -> Option<usize> {
        if bins.len() < NARROW {
            return None;
        }
        let s = &self.smooth[bins.clone()];
        let mut right = vec![0.0; s.len() + 1];
        for k in (0..s.len()).rev() {
            right[k] = s[k].max(right[k + 1]);
        }
        let (mut left, mut best): (f64, Option<(f64, usize)>) = (0.0, None);
        for k in 0..s.len() {
            left = left.max(s[k]);
            let peak = left.min(right[k]);
            let depth = s[k].max(0.0) / peak.max(f64::MIN_POSITIVE);
            let clear = peak > self.clear[bins.start + k];
            if clear && depth < DEEP && best.is_none_or(|(d, _)| depth < d) {
                best = Some((depth, bins.start + k));
            }
        }
        best.map(|(_, k)| k)
    }

    fn energy(&self, bins: &Range<usize>) -> f64 {
        self.excess[bins.clone()].iter().sum::<f64>().max(f64::MIN_POSITIVE)
    }

    /// Whether there is as much as in `lobe` at its mirror image about the middle of the energy of
    /// `body`.
    fn has_twin(&self, lobe: &Range<usize>, body: &Range<usize>) -> bool {
        let of = (body.start, &self.excess[body.clone()]);
        let mirror = mirrored(lobe, of, self.excess.len());
        !mirror.is_empty() && alike(self.energy(&mirror), self.energy(lobe))
    }
}

/// Means over `half` values either side.
fn boxed(x: &[f64], half: usize) -> Vec<f64> {
    let mut sums = vec![0.0; x.len() + 1];
    for (k, v) in x.iter().enumerate() {
        sums[k + 1] = sums[k] + v;
    }
    (0..x.len())
        .map(|k| {
            let (a, z) = (k.saturating_sub(half), (k + half + 1).min(x.len()));
            (sums[z] - sums[a]) / (z - a) as f64
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cells::{Cells, Maker};
    use crate::components::components;
    use crate::config::Level;
    use crate::marks::{Marks, Thresholds};
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, StandardNormal};
    use units::Iq;

    const LEVEL: Level = Level { n: 1024, hop: 512, rate_hz: 1e6 };
    const SAMPLES: usize = 1 << 18;

    /// Frequency shift keying of unit power about a bin, with unfiltered steps: its skirts reach
    /// far. `bins` is the distance of its tones, `symbol` its length in samples.
    fn keyed(seed: u64, bin: f64, bins: f64, symbol: usize) -> Vec<Iq> {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let (mut phase, mut step) = (0.0f64, 0.0);
        (0..SAMPLES)
            .map(|k| {
                if k % symbol == 0 {
                    let up = if random.random::<bool>() { 0.5 } else { -0.5 };
                    step = (bin - 512.0 + up * bins) / 1024.0;
                }
                phase = (phase + step) % 1.0;
                let (sin, cos) = (std::f64::consts::TAU * phase).sin_cos();
                Iq::new(cos as f32, sin as f32)
            })
            .collect()
    }
    /// Bands, in bins, of the components over noise of −70 dB a sample.
    fn bands(signals: &[(f32, Vec<Iq>)]) -> Vec<(usize, usize)> {
        let mut random = ChaCha8Rng::seed_from_u64(99);
        let mut normal = || -> f32 { StandardNormal.sample(&mut random) };
        let noise = 0.5e-7f32.sqrt();
        let block: Vec<Iq> = (0..SAMPLES)
            .map(|k| {
                let sum: Iq = signals.iter().map(|(amplitude, s)| s[k] * amplitude).sum();
                sum + Iq::new(noise * normal(), noise * normal())
            })
            .collect();
        let cells: Cells = Maker::new(LEVEL).cells(&block, Vec::new());
        let floor = vec![1e-7 * 1.5 / LEVEL.n as f32; LEVEL.n];
        let thresholds = Thresholds::new(0.01, 1e6);
        let marks = Marks::of(&cells, &floor, &thresholds, 4, true);
        let finer = [(&cells, floor.as_slice())];
        let scene =
            Scene { cells: &cells, floor: &floor, block: &block, finer: &finer, gap_rows: 4 };
        let mut found = split(&components(&marks, 4, 1), &scene);
        found.retain(|c| c.cells > 2000);
        found.sort_by_key(|c| c.bin0);
        found.iter().map(|c| (c.bin0, c.bin1)).collect()
    }

    #[test]
    fn neighbours_whose_skirts_touch_are_two() {
        // 20 dB apart, 120 bins: the strong one's skirt connects them.
        let found = bands(&[(1.0, keyed(1, 400.0, 20.0, 100)), (0.1, keyed(2, 520.0, 10.0, 200))]);
        let of = |bin: usize| found.iter().filter(|c| (c.0..c.1).contains(&bin)).count();
        assert_eq!((of(400), of(520)), (1, 1), "{found:?}");
        assert!(!found.iter().any(|c| c.0 <= 400 && c.1 > 520), "{found:?}");
    }
    #[test]
    fn tones_of_one_are_one() {
        // Tones 40 bins apart, five times the symbol rate: deep valleys between them.
        let found = bands(&[(1.0, keyed(3, 500.0, 40.0, 128))]);
        assert!(found.iter().any(|c| c.0 <= 480 && c.1 > 520), "{found:?}");
    }
}
