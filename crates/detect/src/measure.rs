//! From an area to its on-periods: band, level and times with their uncertainties.

use crate::areas::Area;
use crate::cells::{Cells, ENBW_BINS};
use crate::envelope::{Run, runs};
use crate::sidebands::OUTSIDE;
use units::db_from_ratio;

/// One on-period in a block. Sample numbers count in the segment; frequencies are offsets from its
/// centre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Piece {
    pub start: f64,
    pub stop: f64,
    pub u_time: f64,
    pub low_hz: f64,
    pub high_hz: f64,
    pub centre_hz: f64,
    pub u_centre_hz: f64,
    pub bandwidth_hz: f64,
    pub u_bandwidth_hz: f64,
    pub bare: bool,
    pub resolution_hz: f64,
    /// Mean power while on, noise subtracted.
    pub power: f64,
    /// Its relative standard uncertainty.
    pub u_power: f64,
    /// Noise in the same band.
    pub noise: f64,
}

/// Width in bins up to which a line cannot be told from a bare carrier: 99 % of a carrier's power
/// through a Hann window falls into 3 bins (closed form: amplitudes ¼, ½, ¼ on a bin), half a bin
/// of margin.
const BARE_BINS: f64 = 3.5;
/// Upper bound of the bandwidth of such a line: √(3.5² − 2.9²) bins.
const BOUND_BINS: f64 = 2.0;

/// How far beyond its marks an emission is looked for, in widths of them: the lobes of keying that
/// hold 99 % of its power reach five symbol rates either side (closed form).
const REACH: usize = 2;
/// What the floor may be wrong by, as a part of it (0.4 dB).
const FLOOR_ERROR: f64 = 0.1;
/// How much the next stretch may stand over the last: a little for chance.
const RISES: f64 = 1.25;

/// The band of an area, from its mean excess over the floor.
#[derive(Debug, Clone, Copy)]
struct Band {
    low_hz: f64,
    high_hz: f64,
    centre_hz: f64,
    bandwidth_hz: f64,
    bare: bool,
    power: f64,
    noise: f64,
}

/// Measures an area: one piece for each on-period. `free` is the first and the one past the last
/// bin of its level that no neighbour claims. `views` are cells and floor of every resolution.
pub(crate) fn measure(
    area: &Area,
    views: &[(&Cells, &[f32])],
    free: (usize, usize),
    gap_samples: usize,
) -> Vec<Piece> {
    let (cells, floor) = views[area.level];
    let level = cells.level;
    let c = &area.component;
    let Some(band) = band(area, cells, floor, free) else { return Vec::new() };
    let rows = c.rows() as f64;
    let found = runs(area, views, (band.low_hz, band.high_hz), gap_samples);
    let on: f64 = found.iter().map(|r| r.stop - r.start).sum();
    // The area's rows stand for this many samples, of which `on` were on.
    let spread = (rows * level.hop as f64 / on.max(1.0)).max(1.0);
    let mean: f64 = found.iter().map(|r| r.power * (r.stop - r.start)).sum::<f64>() / on.max(1.0);
    let resolution_hz = ENBW_BINS * level.bin_hz();
    let piece = |r: &Run| {
        let power = band.power * spread * if mean > 0.0 { r.power / mean } else { 1.0 };
        let seconds = (r.stop - r.start) / level.rate_hz;
        let width = band.bandwidth_hz.max(resolution_hz);
        let independent = (seconds * width).max(1.0);
        let snr = power / band.noise.max(f64::MIN_POSITIVE);
        let u_bins = if band.bare { 0.05 } else { 0.3 };
        let u_spread = if band.bare { 0.0 } else { 0.3 * width / independent.sqrt() };
        Piece {
            start: r.start,
            stop: r.stop,
            u_time: r.u_time,
            low_hz: band.low_hz,
            high_hz: band.high_hz,
            centre_hz: band.centre_hz,
            u_centre_hz: (u_bins * level.bin_hz()).hypot(u_spread),
            bandwidth_hz: band.bandwidth_hz,
            u_bandwidth_hz: (0.5 * level.bin_hz()).hypot(2.0 * u_spread),
            bare: band.bare,
            resolution_hz,
            power,
            u_power: ((1.0 + 1.0 / snr) / independent.sqrt()).hypot(0.023),
            noise: band.noise,
        }
    };
    found.iter().map(piece).filter(|p| p.power > 0.0).collect()
}

/// 99 % band, centre and level of an area (ITU-R SM.328: 0.5 % of the power beyond either edge).
fn band(area: &Area, cells: &Cells, floor: &[f32], free: (usize, usize)) -> Option<Band> {
    let level = cells.level;
    let c = &area.component;
    let pad = (REACH * c.bins()).max(3);
    let from = c.bin0.saturating_sub(pad).max(free.0.min(c.bin0));
    let to = (c.bin1 + pad).min(free.1.max(c.bin1)).min(level.n);
    let rows = c.rows() as f64;
    let mut sum = vec![0.0f64; to - from];
    for r in c.row0..c.row1 {
        let row = &cells.row(r)[from..to];
        sum.iter_mut().zip(row).for_each(|(s, p)| *s += f64::from(*p));
    }
    let gain = cells.gain[c.row0..c.row1].iter().map(|g| f64::from(*g)).sum::<f64>() / rows;
    let noise = |k: usize| f64::from(floor[from + k]) * gain;
    let excess: Vec<f64> = sum.iter().enumerate().map(|(k, s)| s / rows - noise(k)).collect();
    let marked = (c.bin0 - from, c.bin1 - from);
    let (a, z) = reach(&excess, &|k| noise(k), marked, rows);
    let excess = loud(&excess, a, z);
    let total: f64 = excess[a..z].iter().sum();
    if total.is_nan() || total <= 0.0 {
        return None;
    }
    let edge = |order: &mut dyn Iterator<Item = usize>| {
        let mut left = OUTSIDE * total;
        let mut last = 0.0;
        for k in order {
            if excess[k] >= left && excess[k] > 0.0 {
                return (k, (left / excess[k]).clamp(0.0, 1.0));
            }
            left -= excess[k];
            last = k as f64;
        }
        (last as usize, 1.0)
    };
    let (low, into_low) = edge(&mut (a..z));
    let (high, into_high) = edge(&mut (a..z).rev());
    // Edges of a bin lie half a bin either side of its middle.
    let low_bin = low as f64 - 0.5 + into_low;
    let high_bin = (high as f64 + 0.5 - into_high).max(low_bin + 1e-3);
    let hz = |k: f64| level.offset_hz(from as f64 + k);
    let (low_k, high_k) = (low.min(high), high.max(low) + 1);
    let power = excess[low_k..high_k].iter().sum::<f64>() / ENBW_BINS;
    let noise = (low_k..high_k).map(noise).sum::<f64>() / ENBW_BINS;
    let wide = high_bin - low_bin;
    if wide <= BARE_BINS {
        let weight: f64 = excess[low_k..high_k].iter().map(|e| e.max(0.0)).sum();
        let centroid: f64 = (low_k..high_k).map(|k| k as f64 * excess[k].max(0.0)).sum::<f64>()
            / weight.max(f64::MIN_POSITIVE);
        let centre = hz(centroid);
        let half = 0.5 * BOUND_BINS * level.bin_hz();
        return Some(Band {
            low_hz: centre - half,
            high_hz: centre + half,
            centre_hz: centre,
            bandwidth_hz: 2.0 * half,
            bare: true,
            power,
            noise: noise / (high_k - low_k) as f64 * BOUND_BINS,
        });
    }
    // The window widens what it shows: B² ≈ B_seen² − B_window².
    let bins = (wide * wide - 2.9 * 2.9).sqrt();
    let middle = 0.5 * (low_bin + high_bin);
    Some(Band {
        low_hz: hz(middle - 0.5 * bins),
        high_hz: hz(middle + 0.5 * bins),
        centre_hz: hz(middle),
        bandwidth_hz: bins * level.bin_hz(),
        bare: false,
        power,
        noise: noise * (bins / wide).min(1.0),
    })
}

/// First and one past the last bin of an emission of which `marked` were over the threshold: as
/// long as a stretch of a quarter of its width stands out clearly by its mean, and does not rise,
/// it is the emission's still.
fn reach(
    excess: &[f64],
    noise: &dyn Fn(usize) -> f64,
    marked: (usize, usize),
    rows: f64,
) -> (usize, usize) {
    let step = ((marked.1 - marked.0) / 4).max(3);
    let mean = |bins: std::ops::Range<usize>| {
        let n = bins.len().max(1) as f64;
        let under: f64 = bins.clone().map(noise).sum::<f64>() / n;
        (bins.map(|k| excess[k]).sum::<f64>() / n, under, n)
    };
    let goes_on = |next: std::ops::Range<usize>, last: f64| {
        let (mean, under, n) = mean(next);
        let sd = under * (1.39 / (0.95 * rows * n)).sqrt();
        (mean > (3.0 * sd).max(FLOOR_ERROR * under) && mean < RISES * last).then_some(mean)
    };
    let (mut a, mut z) = marked;
    let mut last = mean(a..(a + step).min(z)).0;
    while a > 0 {
        let next = a.saturating_sub(step);
        let Some(mean) = goes_on(next..a, last) else { break };
        (a, last) = (next, mean);
    }
    let mut last = mean(z.saturating_sub(step).max(marked.0)..z).0;
    while z < excess.len() {
        let next = (z + step).min(excess.len());
        let Some(mean) = goes_on(z..next, last) else { break };
        (z, last) = (next, mean);
    }
    (a, z)
}

/// The excess of bins `a..z`, what lies 32 dB under its peak left out: a wide skirt that deep is the
/// keying's or the window's, or an error of the floor (a rule of ours, no source).
/// Judged on a mean over a sixteenth of the band, so that the sidebands of a carrier stay in.
fn loud(excess: &[f64], a: usize, z: usize) -> Vec<f64> {
    let half = ((z - a) / 32).max(1);
    let mut sums = vec![0.0; excess.len() + 1];
    for (k, e) in excess.iter().enumerate() {
        sums[k + 1] = sums[k] + e;
    }
    let smooth: Vec<f64> = (0..excess.len())
        .map(|k| {
            let from = k.saturating_sub(half).max(a.min(k));
            let until = (k + half + 1).min(z.max(k + 1)).min(excess.len());
            (sums[until] - sums[from]) / (until - from) as f64
        })
        .collect();
    let peak = smooth[a..z].iter().copied().fold(0.0, f64::max);
    let least = peak * 10f64.powf(-3.2);
    excess.iter().zip(&smooth).map(|(e, s)| if *s < least { 0.0 } else { *e }).collect()
}

/// Power in dBFS, kept finite.
pub(crate) fn dbfs(power: f64) -> f64 {
    db_from_ratio(power.max(1e-30))
}

impl Piece {
    /// The same, counted from `samples` samples earlier.
    pub fn later(mut self, samples: f64) -> Piece {
        self.start += samples;
        self.stop += samples;
        self
    }
}
