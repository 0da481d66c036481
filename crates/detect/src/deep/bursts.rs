//! Bursts of an unknown steady period, each far under what one burst alone would need: cells of
//! every bin folded over trial periods.
//!
//! Frames of [`SHORTEST_S`] to [`LONGEST_S`], four times longer from one to the next; a burst should
//! fill a cell of one of them, or a few in a row. At each length periods from 20 ms up to
//! [`MOST_CELLS`] coarse cells (768 frame lengths) and a tenth of the recording are tried, so a burst may be
//! as rare as one part in some hundred of the time, and the work is proportional to the number of
//! samples: about 4000 additions a sample and length. Each burst may lie a cell beside its time
//! (jitter up to half a frame costs little), and over the whole recording the clock that times them
//! may run off by less than a frame; what does not hold to that is found only as far as it does.

use super::cells::Cells;
use super::known::Known;
use super::train::{COARSE, LENGTHS, Line, Range, Train};
use super::tuned::Tuned;
use super::{DeepFound, DeepOptions, said};
use crate::{BandwidthIs, BurstSummary, DetectError, Found, Shape, Uncertainty};
use dsp::Window;
use rayon::prelude::*;
use units::{Dbfs, Dbm, Reason, db_from_ratio};

/// Shortest and longest frame, seconds.
const SHORTEST_S: f64 = 40e-6;
const LONGEST_S: f64 = 80e-3;
/// Fewest samples of a frame: fewer bins tell nothing of the floor beside them.
const FEWEST: usize = 32;
/// Shortest period, seconds.
const LEAST_S: f64 = 0.02;
/// Fewest and most coarse cells of a period.
const LEAST_CELLS: usize = 16;
const MOST_CELLS: usize = 384;
/// Fewest periods in the recording.
const TURNS: usize = 10;
/// Places with one period from which on they are one row: one clock.
const PLACES: usize = 3;
/// Excess that a burst of energy E shows summed over its frames, in units of E/N0: half-overlapped
/// Hann frames of its length, by where it lies among them (closed form, 1.0 to 1.1).
const SHOWN: f64 = 1.05;

/// A train and where it was found.
#[derive(Debug, Clone, Copy)]
struct Placed {
    train: Train,
    /// Samples of the frame.
    n: usize,
    bin: usize,
    /// Noise power of a sample there.
    noise: f64,
}

impl Placed {
    fn period_s(&self, rate_hz: f64) -> f64 {
        self.train.period * 0.5 * self.n as f64 / rate_hz
    }
    /// What of a period is a frame's slip over the whole recording.
    fn slip_s(&self, rate_hz: f64) -> f64 {
        self.n as f64 / rate_hz / self.train.count as f64
    }
    fn band_hz(&self, rate_hz: f64) -> (f64, f64) {
        let bin_hz = rate_hz / self.n as f64;
        let offset = (self.bin as f64 - (self.n / 2) as f64) * bin_hz;
        let half = 0.5 * Window::Hann.enbw_bins() * bin_hz;
        (offset - half, offset + half)
    }
}

/// The trains of bursts that only the folds show. `family` is the number of rows that noise may
/// make.
pub(super) fn search(
    tuned: &Tuned<'_>,
    known: &Known,
    family: f64,
    options: &DeepOptions,
    on_progress: &mut dyn FnMut(f64) -> bool,
) -> Result<Vec<DeepFound>, DetectError> {
    let scales: Vec<(Cells<'_>, (usize, usize))> = lengths(tuned.rate_hz)
        .into_iter()
        .filter_map(|n| Cells::new(tuned, n))
        .filter_map(|cells| periods(&cells).map(|p| (cells, p)))
        .collect();
    let mut placed = Vec::new();
    let share = 1.0 / scales.len().max(1) as f64;
    for (i, (cells, periods)) in scales.iter().enumerate() {
        let mut progress = |part: f64| on_progress((i as f64 + part) * share);
        let scale = Scale { cells, known, periods: *periods, rate_hz: tuned.rate_hz };
        scale.search(family * share, options.memory_bytes, &mut placed, &mut progress)?;
    }
    let groups = together(placed, tuned.rate_hz);
    let rows = groups.iter().map(|g| row(g, tuned, options)).filter(|d| {
        let level = d.found.level_dbfs.map_or(0.0, |l| l.0);
        let offset = d.found.centre_hz - known.centre_hz();
        let period = d.found.bursts.period_s.zip(d.found.u.period_s);
        !known.is_image(offset, level, d.found.high_hz - d.found.low_hz)
            && !period.is_some_and(|(p, u)| known.keeps_step(p, u, level))
    });
    Ok(rows.collect())
}

/// Lengths of the frames, samples.
fn lengths(rate_hz: f64) -> Vec<usize> {
    let shortest = ((SHORTEST_S * rate_hz) as usize).max(FEWEST).next_power_of_two();
    let longest = (LONGEST_S * rate_hz) as usize;
    std::iter::successors(Some(shortest), |n| Some(4 * n)).take_while(|n| *n <= longest).collect()
}

/// First and last period, coarse cells.
fn periods(cells: &Cells<'_>) -> Option<(usize, usize)> {
    let cell_s = COARSE as f64 * cells.hop_s();
    let first = ((LEAST_S / cell_s) as usize).max(LEAST_CELLS);
    let last = MOST_CELLS.min(cells.rows / COARSE / TURNS);
    (first < last).then_some((first, last))
}

/// The search at one length of frames.
struct Scale<'a> {
    cells: &'a Cells<'a>,
    known: &'a Known,
    periods: (usize, usize),
    rate_hz: f64,
}

impl Scale<'_> {
    fn search(
        &self,
        family: f64,
        memory: usize,
        placed: &mut Vec<Placed>,
        on_progress: &mut dyn FnMut(f64) -> bool,
    ) -> Result<(), DetectError> {
        let n = self.cells.n;
        let bin_hz = self.rate_hz / n as f64;
        let bin = |hz: f64| (hz / bin_hz + (n / 2) as f64).clamp(0.0, n as f64 - 1.0);
        let (low, high) = self.known.usable();
        let (first, last) = (bin(low).ceil() as usize, bin(high) as usize + 1);
        let taken = self.known.taken(bin_hz);
        let free = |k: &usize| {
            let hz = (*k as f64 - (n / 2) as f64) * bin_hz;
            taken.iter().all(|(low, high)| hz < *low || hz > *high)
        };
        let lines = (first..last).filter(free).count().max(1);
        let (least, most) = (COARSE * self.periods.0, COARSE * (self.periods.1 + 1));
        // Independent periods and phases, in frames, by lengths of bursts, by lines.
        let trials = self.cells.rows as f64 * (most - least) as f64 * LENGTHS.len() as f64;
        let range = Range {
            periods: self.periods,
            ln_trials: (trials * lines as f64).ln(),
            ln_family: family.ln(),
        };
        let spans = self.cells.spans();
        let width = (memory / self.cells.rows).clamp(1, last - first);
        let passes = (last - first).div_ceil(width);
        let batch = 2 * rayon::current_num_threads().max(1);
        for pass in 0..passes {
            let from = first + pass * width;
            let wide = width.min(last - from);
            let mut step = |part: f64| match on_progress((pass as f64 + part) / passes as f64) {
                true => Ok(()),
                false => Err(DetectError::Stopped),
            };
            let (cells, noise) = self.cells.fill(from, wide, |part| step(0.1 * part))?;
            let bins: Vec<usize> = (from..from + wide).filter(free).collect();
            for (i, some) in bins.chunks(batch).enumerate() {
                let trains = some.par_iter().map(|bin| {
                    let at = (bin - from) * self.cells.rows;
                    let train =
                        Line::new(&cells[at..at + self.cells.rows], &spans)?.train(&range)?;
                    Some(Placed { train, n, bin: *bin, noise: noise[bin - from] })
                });
                let trains: Vec<Option<Placed>> = trains.collect();
                placed.extend(trains.into_iter().flatten());
                step(0.1 + 0.9 * (i * batch) as f64 / bins.len() as f64)?;
            }
        }
        Ok(())
    }
}

/// Trains of one period at touching bins are one; so are those of one period at many places. The
/// surest of each leads.
fn together(mut placed: Vec<Placed>, rate_hz: f64) -> Vec<Vec<Placed>> {
    placed.sort_by(|a, b| a.train.ln_false_alarm.total_cmp(&b.train.ln_false_alarm));
    let mut groups: Vec<Vec<Placed>> = Vec::new();
    for one in placed {
        let touches = |group: &Vec<Placed>| {
            group.iter().any(|other| {
                let (a, b) = (one.band_hz(rate_hz), other.band_hz(rate_hz));
                let slack = (a.1 - a.0).max(b.1 - b.0);
                in_step(&one, &group[0], rate_hz) && a.0 < b.1 + slack && b.0 < a.1 + slack
            })
        };
        match groups.iter_mut().find(|g| touches(g)) {
            Some(group) => group.push(one),
            None => groups.push(vec![one]),
        }
    }
    let mut clocks: Vec<Vec<Vec<Placed>>> = Vec::new();
    for group in groups {
        match clocks.iter_mut().find(|c| in_step(&group[0], &c[0][0], rate_hz)) {
            Some(clock) => clock.push(group),
            None => clocks.push(vec![group]),
        }
    }
    clocks
        .into_iter()
        .flat_map(|clock| if clock.len() > PLACES { vec![clock.concat()] } else { clock })
        .collect()
}

/// Whether two trains keep one period, or one a multiple of the other's.
fn in_step(a: &Placed, b: &Placed, rate_hz: f64) -> bool {
    let (p, q) = (a.period_s(rate_hz), b.period_s(rate_hz));
    let slip = 2.0 * (a.slip_s(rate_hz) + b.slip_s(rate_hz));
    (1..=5).any(|k| {
        let k = f64::from(k);
        (p - k * q).abs() < k * slip || (q - k * p).abs() < k * slip
    })
}

/// The row of a group.
fn row(group: &[Placed], tuned: &Tuned<'_>, options: &DeepOptions) -> DeepFound {
    let rate_hz = tuned.rate_hz;
    let Placed { train, n, noise, .. } = group[0];
    // Where it lies, from the bins of the leading one's frames.
    let own: Vec<&Placed> = group.iter().filter(|p| p.n == n).collect();
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    let (mut weight, mut centre, mut energy) = (0.0, 0.0, 0.0f64);
    for one in &own {
        let band = one.band_hz(rate_hz);
        (low, high) = (low.min(band.0), high.max(band.1));
        let w = one.train.excess.max(0.0);
        weight += w;
        centre += w * 0.5 * (band.0 + band.1);
        energy = energy.max(one.train.excess / one.train.count as f64 / SHOWN);
    }
    let bin_hz = rate_hz / n as f64;
    let centre_hz = tuned.centre_hz + centre / weight.max(f64::MIN_POSITIVE);
    let hop_s = 0.5 * n as f64 / rate_hz;
    let period_s = train.period * hop_s;
    let length_s = train.length as f64 * hop_s;
    let (first, last) = tuned.span_s();
    let first_s = first + train.phase * hop_s;
    // E over N0; N0 is the noise of a sample over the rate.
    let power = energy * noise / rate_hz / length_s;
    let level = Dbfs::from_power(power.max(1e-30));
    let width = high - low;
    let e_n0_db = db_from_ratio(energy.max(1e-30));
    let u_period_s = 12f64.sqrt() * 0.5 * length_s / (train.z * train.count as f64);
    let found = Found {
        centre_hz,
        low_hz: tuned.centre_hz + low,
        high_hz: tuned.centre_hz + high,
        bandwidth_hz: Some(width),
        bandwidth_is: BandwidthIs::UpperBound,
        first_s,
        last_s: last
            .min(first_s + period_s * ((last - first_s - length_s) / period_s).floor() + length_s),
        shape: Shape::Bursts,
        channels_hz: None,
        bursts: BurstSummary {
            count: train.count as u64,
            median_s: Some(length_s),
            period_s: Some(period_s),
            on_fraction: (length_s / period_s).min(1.0),
        },
        level_dbfs: Some(level),
        level_dbm: options.full_scale.map(|full| Dbm(full.0 + level.0)),
        snr_db: Some(db_from_ratio(power.max(1e-30) / (noise / rate_hz * width))),
        strength: None,
        u: Uncertainty {
            centre_hz: Some(0.5 * bin_hz),
            // One sd of the sum, and a decibel for how a burst lies among cells.
            level_db: Some((4.343 / train.z).hypot(1.0)),
            first_s: Some(length_s),
            last_s: Some(length_s),
            period_s: Some(u_period_s),
            ..Uncertainty::default()
        },
        excerpts: Vec::new(),
    };
    let false_alarm = train.ln_false_alarm.exp();
    let text = format!(
        "Bursts every {:.4} ms, {} of them folded together, each {e_n0_db:.1} dB in energy over the \
         noise of one hertz, where one alone would need some 15 dB. Noise alone shows as much \
         anywhere in this search with probability {}.",
        1e3 * period_s,
        train.count,
        said(false_alarm),
    );
    let why = Reason::new("deep_bursts", text)
        .with("false_alarm", false_alarm)
        .with("period_s", period_s)
        .with("bursts", train.count as f64)
        .with("e_n0_db", e_n0_db)
        .with("cell_s", n as f64 / rate_hz)
        .with("sd", train.z);
    DeepFound { found, false_alarm, why }
}
