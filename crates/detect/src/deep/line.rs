//! A closer look at a track: the carrier mixed down along it to a few samples a block, one phase
//! over the whole recording sought for it, and the row that follows.

use super::known::Known;
use super::phase::one_phase;
use super::plan::Plan;
use super::plane::{Spectra, each_frame};
use super::tuned::{Frame, Tuned};
use super::{DeepFound, DeepOptions, said};
use crate::{BandwidthIs, BurstSummary, DetectError, Found, Shape, Uncertainty};
use dsp::Window;
use num_complex::Complex64;
use rayon::prelude::*;
use std::f64::consts::{PI, TAU};
use units::{Dbfs, Dbm, Iq, Reason, db_from_ratio};

/// A straight track in time and frequency that holds more than noise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Track {
    /// Bin in the middle of the time line, counted from −rate/2.
    pub bin: f64,
    /// Bins moved from one row to the next.
    pub slope: f64,
    /// Mean power over the floor, less 1.
    pub excess: f64,
    /// Probability that noise alone shows as much anywhere.
    pub false_alarm: f64,
}

/// Bins cut out of a frame, and samples that they make.
const CUT: usize = 16;
/// Bins on either side whose median is the noise.
const BESIDE: usize = 128;
/// Share of the power that one phase must explain for the carrier to be measured by it.
const COHERENT: f64 = 0.5;
/// Part of a tone's power that its bin shows on average over where it lies between bins, Hann:
/// the mean of the scalloping from 0 to 1.42 dB.
const SCALLOPED: f64 = 0.89;

/// The rows of the tracks of one part.
pub(super) fn look(
    tuned: &Tuned<'_>,
    known: &Known,
    plan: &Plan,
    frames: &[Frame],
    tracks: &[Track],
    options: &DeepOptions,
) -> Result<Vec<DeepFound>, DetectError> {
    if tracks.is_empty() {
        return Ok(Vec::new());
    }
    let views = views(tuned, plan, frames, tracks)?;
    let rows = tracks.par_iter().zip(&views).map(|(track, view)| {
        let found = Measured::of(track, view, plan, tuned, frames);
        let found = found.row(track, plan, tuned, frames, options);
        let level = found.found.level_dbfs.map_or(0.0, |l| l.0);
        let offset_hz = found.found.centre_hz - known.centre_hz();
        (!known.is_image(offset_hz, level, 4.0 * plan.bin_hz)).then_some(found)
    });
    Ok(rows.collect::<Vec<_>>().into_iter().flatten().collect())
}

/// A track's own samples.
struct View {
    /// Time from the middle of the time line, seconds, and the sample mixed down along the track.
    samples: Vec<(f64, Complex64)>,
    /// Noise power per hertz.
    density: f64,
}

/// What a track shows, frame by frame: half-overlapped Hann frames add up to what they were cut of.
fn views(
    tuned: &Tuned<'_>,
    plan: &Plan,
    frames: &[Frame],
    tracks: &[Track],
) -> Result<Vec<View>, DetectError> {
    let spectra = Spectra::hann(tuned, plan.n, 0.0);
    let axis = Axis::new(plan, tuned, frames);
    let rows = frames[frames.len() - 1].row - axis.first_row + 1;
    let length = (rows + 1) * CUT / 2;
    let taper = Window::Hann.samples(CUT);
    let mut sums = vec![vec![Complex64::ZERO; length]; tracks.len()];
    let mut density = vec![0.0; tracks.len()];
    let (mut weight, mut times) = (vec![0.0; length], vec![0.0; length]);
    each_frame::<_, DetectError>(
        frames,
        spectra.together(),
        |frame| {
            let x = spectra.of(frame)?;
            Ok(tracks.iter().map(|t| axis.cut(&x, frame, t)).collect::<Vec<_>>())
        },
        |i, cuts: Vec<(Vec<Complex64>, f64)>| {
            let at = (frames[i].row - axis.first_row) * CUT / 2;
            for m in 0..CUT {
                weight[at + m] += taper[m];
                times[at + m] = axis.time_s(&frames[i], m);
            }
            for ((sum, density), (cut, noise)) in sums.iter_mut().zip(&mut density).zip(cuts) {
                sum[at..at + CUT].iter_mut().zip(cut).for_each(|(sum, x)| *sum += x);
                *density += noise / frames.len() as f64;
            }
        },
        |_| Ok(()),
    )?;
    // Half a frame at either end of a run is not whole.
    let whole: Vec<usize> = (0..length).filter(|at| weight[*at] > 0.99).collect();
    let view = |(sum, density): (Vec<Complex64>, f64)| View {
        samples: whole.iter().map(|at| (times[*at], sum[*at])).collect(),
        density,
    };
    Ok(sums.into_iter().zip(density).map(view).collect())
}

/// Where rows and tracks lie in time and frequency.
struct Axis<'a> {
    plan: &'a Plan,
    first_row: usize,
    middle_row: f64,
    middle_s: f64,
    hop_s: f64,
}

impl<'a> Axis<'a> {
    fn new(plan: &'a Plan, tuned: &Tuned<'_>, frames: &[Frame]) -> Self {
        let (first, last) = (frames[0], frames[frames.len() - 1]);
        let hop_s = 0.5 * plan.n as f64 / tuned.rate_hz;
        let middle_row = 0.5 * (last.row - first.row) as f64;
        // The middle of a frame is a hop after its start.
        let middle_s = first.start_s + (middle_row + 1.0) * hop_s;
        Axis { plan, first_row: first.row, middle_row, middle_s, hop_s }
    }
    fn offset_hz(&self, track: &Track) -> f64 {
        self.plan.offset_hz(track.bin)
    }
    fn drift_hz_per_s(&self, track: &Track) -> f64 {
        track.slope * self.plan.bin_hz / self.hop_s
    }
    /// Time of a sample kept of a frame, seconds from the middle of the time line.
    fn time_s(&self, frame: &Frame, m: usize) -> f64 {
        frame.start_s + m as f64 * 2.0 * self.hop_s / CUT as f64 - self.middle_s
    }
    /// The track's samples of one spectrum, and the noise per hertz beside it.
    fn cut(&self, x: &[Iq], frame: &Frame, track: &Track) -> (Vec<Complex64>, f64) {
        let n = x.len() as i64;
        let row = (frame.row - self.first_row) as f64;
        let bin = track.bin + track.slope * (row - self.middle_row);
        let at = bin.round() as i64 - n / 2;
        let get = |k: i64| x[(at + k).rem_euclid(n) as usize];
        let (half, beside) = (CUT as i64 / 2, BESIDE as i64);
        let mut power: Vec<f32> = (-beside..beside).map(|k| get(k).norm_sqr()).collect();
        let middle = power.len() / 2;
        let median = *power.select_nth_unstable_by(middle, f32::total_cmp).1;
        let width_hz = self.plan.bin_hz * Window::Hann.enbw_bins();
        let noise = f64::from(median) / 2f64.ln() / width_hz;
        let (f, a) = (self.offset_hz(track), self.drift_hz_per_s(track));
        let samples = (0..CUT).map(|m| {
            let turn = |k: i64| TAU * (k * m as i64).rem_euclid(CUT as i64) as f64 / CUT as f64;
            let sum: Complex64 = (-half..half)
                .map(|q| {
                    let x = get(q);
                    let turned = Complex64::from_polar(1.0, turn(at + q));
                    Complex64::new(f64::from(x.re), f64::from(x.im)) * turned
                })
                .sum();
            let t = self.time_s(frame, m);
            let turns = (f * t + 0.5 * a * t * t).fract();
            // A tone reads its own power in a spectrum, under the window's mean.
            let gain = Window::Hann.coherent_gain();
            sum * gain * Complex64::from_polar(1.0, -TAU * turns)
        });
        (samples.collect(), noise)
    }
}

/// What the closer look gave.
struct Measured {
    /// Offset in the middle of the time line, and how it moves.
    offset_hz: f64,
    u_offset_hz: f64,
    drift_hz_per_s: f64,
    u_drift_hz_per_s: Option<f64>,
    /// Power of the carrier, and noise per hertz.
    power: f64,
    u_power: f64,
    density: f64,
    coherent: bool,
}

impl Measured {
    fn of(track: &Track, view: &View, plan: &Plan, tuned: &Tuned<'_>, frames: &[Frame]) -> Self {
        let axis = Axis::new(plan, tuned, frames);
        let spacing_s = plan.n as f64 / CUT as f64 / tuned.rate_hz;
        let density = view.density;
        let noise = density / spacing_s;
        let count = view.samples.len().max(1) as f64;
        // Of a tone's power over the floor a Hann bin shows 1/ENBW, less what lies between bins.
        let block_s = plan.n as f64 / tuned.rate_hz;
        let bin_noise = density * Window::Hann.enbw_bins() / block_s;
        let by_track = track.excess * bin_noise / SCALLOPED;
        let (df, da, sum) = one_phase(&view.samples, spacing_s, axis.hop_s * 2.0);
        let power = (sum.norm_sqr() / count - noise).max(0.0) / count;
        let coherent = power > COHERENT * by_track;
        let (offset_hz, drift) = (axis.offset_hz(track), axis.drift_hz_per_s(track));
        let span_s = view.samples.last().map_or(0.0, |l| l.0 - view.samples[0].0) + spacing_s;
        // Energy over noise density, of what one phase explains.
        let energy = power * count / noise;
        if coherent {
            // Rife and Boorstyn 1974; the drift by the same information matrix, at the middle.
            Measured {
                offset_hz: offset_hz + df,
                u_offset_hz: 6f64.sqrt() / (TAU * span_s * energy.sqrt()),
                drift_hz_per_s: drift + da,
                u_drift_hz_per_s: Some(90f64.sqrt() / (PI * span_s * span_s * energy.sqrt())),
                power,
                u_power: power * (2.0 / energy).sqrt(),
                density,
                coherent,
            }
        } else {
            // Sums of M blocks scatter by 1/√M of the floor; half a bin on either side is a
            // uniform law, and so is half a step of the slope.
            let blocks = frames.len() as f64 * 0.5;
            let scatter = bin_noise / blocks.sqrt();
            Measured {
                offset_hz,
                u_offset_hz: plan.bin_hz,
                drift_hz_per_s: drift,
                u_drift_hz_per_s: Some(plan.bin_hz / span_s),
                power: by_track,
                u_power: scatter.hypot(0.1 * by_track),
                density,
                coherent,
            }
        }
    }

    fn row(
        &self,
        track: &Track,
        plan: &Plan,
        tuned: &Tuned<'_>,
        frames: &[Frame],
        options: &DeepOptions,
    ) -> DeepFound {
        let (first, last) = (frames[0], frames[frames.len() - 1]);
        let block_s = plan.n as f64 / tuned.rate_hz;
        let (first_s, last_s) = (first.start_s, last.start_s + block_s);
        let looked_s = 0.5 * block_s * (frames.len() + 1) as f64;
        let width = Window::Hann.enbw_bins() * plan.bin_hz;
        let moved = 0.5 * (self.drift_hz_per_s * (last_s - first_s)).abs();
        let centre_hz = tuned.centre_hz + self.offset_hz;
        let level = Dbfs::from_power(self.power.max(1e-30));
        let cn0 = db_from_ratio(self.power.max(1e-30) / self.density.max(1e-300));
        let found = Found {
            centre_hz,
            low_hz: centre_hz - moved - 0.5 * width,
            high_hz: centre_hz + moved + 0.5 * width,
            bandwidth_hz: Some(width),
            bandwidth_is: BandwidthIs::UpperBound,
            first_s,
            last_s,
            shape: Shape::Continuous,
            channels_hz: None,
            bursts: BurstSummary {
                count: 1,
                median_s: Some(last_s - first_s),
                period_s: None,
                on_fraction: 1.0,
            },
            level_dbfs: Some(level),
            level_dbm: options.full_scale.map(|full| Dbm(full.0 + level.0)),
            snr_db: Some(cn0 - db_from_ratio(width)),
            strength: None,
            u: Uncertainty {
                centre_hz: Some(self.u_offset_hz),
                level_db: Some(4.343 * self.u_power / self.power.max(1e-30)),
                ..Uncertainty::default()
            },
            excerpts: Vec::new(),
        };
        let phase = match self.coherent {
            true => "It keeps one phase over all of it.",
            false => "It keeps no one phase over all of it.",
        };
        let text = format!(
            "A steady carrier {cn0:.1} dB over the noise of one hertz, summed over {looked_s:.0} s \
             along a drift of {:+.4} Hz/s. {phase} Noise alone shows as much anywhere in this \
             search with probability {}.",
            self.drift_hz_per_s,
            said(track.false_alarm),
        );
        let mut why = Reason::new("deep_carrier", text)
            .with("false_alarm", track.false_alarm)
            .with("c_n0_dbhz", cn0)
            .with("looked_s", looked_s)
            .with("block_s", block_s)
            .with("drift_hz_per_s", self.drift_hz_per_s)
            .with("one_phase", if self.coherent { 1.0 } else { 0.0 });
        if let Some(u) = self.u_drift_hz_per_s {
            why = why.with("u_drift_hz_per_s", u);
        }
        DeepFound { found, false_alarm: track.false_alarm, why }
    }
}
