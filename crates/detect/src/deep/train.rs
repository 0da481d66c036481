//! One bin's line of cells searched for bursts of a steady period: folded coarsely over all periods,
//! then finely about the best, told apart from multiples and parts of the period, and confirmed.

use super::folding::Room;
use dsp::{ExponentialSum, frame_eigenvalues};

/// Frames of one coarse cell: two lengths of the transform.
pub(super) const COARSE: usize = 4;
/// Variance of the sum of so many unit exponentials of half-overlapped Hann frames (neighbours
/// correlate by 1/36).
const VARIANCE: f64 = 4.0 + 6.0 / 36.0;
/// Scatter over that of noise, as a ratio of variances, from which on a line is no plain noise.
const ROUGH: f64 = 1.1;
/// Standardised sum from which on a period is looked at finely: noise passes it some times a line.
const WORTH: f32 = 4.6;
/// Periods of a line that are looked at finely.
const LOOKS: usize = 12;
/// Standard deviations at which a folded sum saturates.
const SATURATED: f64 = 24.0;
/// Steps of one standard deviation of a cell that are fine enough.
const FINEST: f64 = 64.0;
/// Sums of so many frames are tried for the length of a burst.
pub(super) const LENGTHS: [usize; 9] = [1, 2, 3, 4, 6, 8, 12, 16, 24];
/// Each half of the recording shows at least so much of the whole's standardised sum, where 0.71 is
/// expected; at 8 sd a train fails that by chance once in a hundred.
const HALF: f64 = 0.4;
/// Part of the strongest sum that another phase must show to be a burst of the same train.
const ALIKE: f64 = 0.5;

/// What is searched for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Range {
    /// First and last period, coarse cells.
    pub periods: (usize, usize),
    /// Natural logarithm of the number of periods, phases, lengths and lines tried.
    pub ln_trials: f64,
    /// Natural logarithm of the probability that noise may show one anywhere.
    pub ln_family: f64,
}

/// Bursts of a steady period in one line; all times in frames.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Train {
    pub period: f64,
    pub phase: f64,
    /// Frames that one burst's sum takes.
    pub length: usize,
    /// Bursts that there was time for.
    pub count: usize,
    /// Their summed excess over the floor, in units of one frame's noise.
    pub excess: f64,
    /// Standardised.
    pub z: f64,
    /// Probability that noise alone shows as much anywhere.
    pub ln_false_alarm: f64,
}

/// A line of cells, less its mean.
pub(super) struct Line<'a> {
    y: Vec<f32>,
    /// Spans that hold cells.
    spans: &'a [(usize, usize)],
    /// Root of how much more it scatters than noise.
    rough: f64,
    filled: f64,
}

impl<'a> Line<'a> {
    /// `None` where nothing varies. Cells of 0 are not there.
    pub fn new(cells: &[u8], spans: &'a [(usize, usize)]) -> Option<Self> {
        let count: usize = spans.iter().map(|(a, b)| b - a).sum();
        let total: u64 = spans
            .iter()
            .map(|(a, b)| cells[*a..*b].iter().map(|x| u64::from(*x)).sum::<u64>())
            .sum();
        if total == 0 {
            return None;
        }
        let scale = (count as f64 / total as f64) as f32;
        let mut y = vec![0.0f32; cells.len()];
        for (a, b) in spans {
            for (y, x) in y[*a..*b].iter_mut().zip(&cells[*a..*b]) {
                *y = f32::from(*x) * scale - 1.0;
            }
        }
        let coarse = coarse(&y);
        let power: f64 = coarse.iter().map(|x| f64::from(x * x)).sum();
        let filled = count as f64 / y.len() as f64;
        let ratio = power / (coarse.len() as f64 * filled * VARIANCE);
        let rough = if ratio > ROUGH { ratio.sqrt() } else { 1.0 };
        Some(Line { y, spans, rough, filled })
    }

    /// The train that noise alone does not make, if there is one.
    pub fn train(&self, range: &Range) -> Option<Train> {
        let mut best: Option<Train> = None;
        for period in self.periods(range.periods) {
            let Some(train) = self.finely(period, range) else { continue };
            if best.is_none_or(|b| train.ln_false_alarm < b.ln_false_alarm) {
                best = Some(train);
            }
        }
        let train = self.shortest(best?, range)?;
        (self.in_both_halves(&train)).then_some(train)
    }

    /// The periods, frames, at which the coarse folds stand out most.
    fn periods(&self, (first, last): (usize, usize)) -> Vec<f64> {
        let coarse = coarse(&self.y);
        let scatter = VARIANCE.sqrt() * self.rough;
        let mut room = Room::new(coarse.len(), first, last);
        // So fine that a sum's 16 bits reach [`SATURATED`] of its sd.
        let turns = (coarse.len() / first.max(1)).max(1) as f64;
        let unit = f64::from(i16::MAX) / (SATURATED * scatter * turns.sqrt());
        let unit = (unit.min(FINEST / scatter)) as f32;
        let line: Vec<i16> = coarse.iter().map(|y| (y * unit).round() as i16).collect();
        let mut tops: Vec<(f64, f64)> = Vec::new();
        for period in first..=last {
            let turns = line.len() / period;
            if turns < 2 {
                break;
            }
            let one = unit * (scatter * (turns as f64 * self.filled).sqrt()) as f32;
            let mut top = (WORTH * one, None);
            room.highest(&line[..turns * period], period, |s, high| {
                if high > top.0 {
                    top = (high, Some(s));
                }
            });
            if let (high, Some(s)) = top {
                let cells = period as f64 + s as f64 / (turns - 1) as f64;
                // Few turns have the longer tail: periods compare by probability.
                let shape = (COARSE * turns) as f64 * self.filled;
                let z = f64::from(high / one);
                let ln_p = dsp::gamma_ln_sf(shape, shape + z * shape.sqrt());
                tops.push((ln_p, COARSE as f64 * cells));
            }
        }
        tops.sort_by(|a, b| a.0.total_cmp(&b.0));
        tops.into_iter().take(LOOKS).map(|t| t.1).collect()
    }

    /// The best train with a period near one that was found coarsely.
    fn finely(&self, period: f64, range: &Range) -> Option<Train> {
        let turns = self.y.len() as f64 / period;
        let reach = 2 * COARSE as i32;
        // The law's own probability, the period, the phase, the length.
        let mut best: Option<(f64, f64, usize, usize)> = None;
        for i in -reach..=reach {
            let period = period + f64::from(i) / turns;
            let (sums, turns) = self.profile(period);
            for length in lengths(period) {
                let mut sum: f32 = sums[..length].iter().sum();
                let mut top = (sum, 0);
                for k in 1..period as usize {
                    sum += sums[k + length - 1] - sums[k - 1];
                    if sum > top.0 {
                        top = (sum, k);
                    }
                }
                let count = turns as f64 * self.filled;
                let ln_p = ln_p_near(length, count, f64::from(top.0) / self.rough);
                if best.is_none_or(|b| ln_p < b.0) {
                    best = Some((ln_p, period, top.1, length));
                }
            }
        }
        let (_, period, phase, length) = best?;
        self.measured(period, phase as f64, length, range)
    }

    /// Sums over all turns of each phase, going on past the end by the longest burst, and the turns.
    fn profile(&self, period: f64) -> (Vec<f32>, usize) {
        let wide = period as usize + 1 + LENGTHS[LENGTHS.len() - 1];
        let mut sums = vec![0.0f32; wide];
        let mut turns = 0;
        loop {
            let start = (turns as f64 * period).round() as usize;
            if start + period as usize > self.y.len() {
                return (sums, turns);
            }
            let stop = (start + wide).min(self.y.len());
            for (sum, y) in sums.iter_mut().zip(&self.y[start..stop]) {
                *sum += y;
            }
            turns += 1;
        }
    }

    /// Summed excess and number of the bursts of a train that begin from one frame up to another.
    fn sum(&self, period: f64, phase: f64, length: usize, within: (usize, usize)) -> (f64, usize) {
        let (mut sum, mut count) = (0.0, 0);
        let mut span = 0;
        for j in 0.. {
            let start = (phase + f64::from(j) * period).round() as usize;
            if start + length > self.y.len() || start >= within.1 {
                break;
            }
            while span < self.spans.len() && self.spans[span].1 < start + length {
                span += 1;
            }
            let inside = self.spans.get(span).is_some_and(|s| s.0 <= start);
            if inside && start >= within.0 {
                sum += self.y[start..start + length].iter().map(|y| f64::from(*y)).sum::<f64>();
                count += 1;
            }
        }
        (sum, count)
    }

    /// The train with its exact false-alarm probability, where that is small enough.
    fn measured(&self, period: f64, phase: f64, length: usize, range: &Range) -> Option<Train> {
        let (excess, count) = self.sum(period, phase, length, (0, self.y.len()));
        if count < 2 {
            return None;
        }
        let z = excess / (scatter(length, count as f64) * self.rough);
        let cells = (count * length) as f64;
        let x = cells + excess / self.rough;
        let near = ln_p_near(length, count as f64, excess / self.rough);
        if near + range.ln_trials > range.ln_family + 5.0 {
            return None;
        }
        let one = frame_eigenvalues(length);
        let lambda: Vec<f64> = (0..count).flat_map(|_| one.iter().copied()).collect();
        let ln_false_alarm = ExponentialSum::new(&lambda).ln_sf(x) + range.ln_trials;
        let train = Train { period, phase, length, count, excess, z, ln_false_alarm };
        (ln_false_alarm < range.ln_family).then_some(train)
    }

    /// The shortest period at which every burst is there, and the one at which only every second or
    /// third of what was taken for bursts is.
    fn shortest(&self, train: Train, range: &Range) -> Option<Train> {
        let Train { period, phase, length, .. } = train;
        let least = (range.periods.0 * COARSE) as f64;
        let at = |period: f64, phase: f64| {
            let (sum, count) =
                self.sum(period, phase.rem_euclid(period), length, (0, self.y.len()));
            sum / count.max(1) as f64
        };
        for parts in [5.0, 4.0, 3.0, 2.0] {
            let part = period / parts;
            let others = (1..parts as usize).map(|i| at(period, phase + i as f64 * part));
            let least_of = others.fold(f64::INFINITY, f64::min);
            if part >= 0.5 * least && least_of > ALIKE * at(period, phase) {
                let other = self.measured(part, phase.rem_euclid(part), length, range);
                return Some(other.unwrap_or(train));
            }
        }
        for times in [2usize, 3] {
            let long = times as f64 * period;
            let each: Vec<f64> = (0..times).map(|i| at(long, phase + i as f64 * period)).collect();
            let (top, sum) = each.iter().fold((f64::MIN, 0.0), |(t, s), x| (x.max(t), s + x));
            if sum - top < 0.3 * top {
                let i = each.iter().position(|x| *x == top).unwrap_or(0);
                let other = self.measured(long, phase + i as f64 * period, length, range);
                if other.is_some_and(|o| o.ln_false_alarm < train.ln_false_alarm) {
                    return other;
                }
            }
        }
        Some(train)
    }

    fn in_both_halves(&self, train: &Train) -> bool {
        let middle = self.y.len() / 2;
        [(0, middle), (middle, self.y.len())].into_iter().all(|half| {
            let (sum, count) = self.sum(train.period, train.phase, train.length, half);
            sum > HALF * train.z * scatter(train.length, count as f64) * self.rough
        })
    }
}

/// Lengths of bursts that are tried at a period: up to a quarter of it.
fn lengths(period: f64) -> impl Iterator<Item = usize> {
    LENGTHS.into_iter().filter(move |l| *l == 1 || 4.0 * *l as f64 <= period)
}

/// Standard deviation of the sum of `count` bursts of `length` half-overlapped Hann frames of noise.
fn scatter(length: usize, count: f64) -> f64 {
    let length = length as f64;
    (count * (length + (length - 1.0) / 18.0)).sqrt()
}

/// Natural logarithm of about the probability that noise alone shows such an excess in so many
/// bursts: by the gamma law of the same variance, near enough to compare by and to tell what is
/// hopeless.
fn ln_p_near(length: usize, count: f64, excess: f64) -> f64 {
    let cells = length as f64 * count;
    let shape = cells * cells / scatter(length, count).powi(2);
    dsp::gamma_ln_sf(shape, shape * (1.0 + excess / cells))
}

/// Sums of [`COARSE`] frames.
fn coarse(y: &[f32]) -> Vec<f32> {
    y.chunks_exact(COARSE).map(|c| c.iter().sum()).collect()
}
