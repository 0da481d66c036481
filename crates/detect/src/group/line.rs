//! One line: pulses of like frequency and width, remembered as sums, its loudest pulses and its
//! earliest on-times. Memory does not grow with the number of pulses.

use super::edges::{Edges, median};
use super::spans::Spans;
use crate::pulse::Pulse;
use crate::sidebands::Side;
use std::sync::OnceLock;
use units::{db_from_ratio, ratio_from_db};

/// Loudest pulses kept in full: they give edges, width and excerpts.
const KEPT_PULSES: usize = 16;

/// What an absorbed line is to the one that takes it in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    /// The same signal: both count for frequency and level.
    Same,
    /// A part or another view: frequency and level stay.
    View,
    /// A piece beside it: the band reaches over both, powers add.
    Piece,
    /// A weak piece beside it, one of many perhaps: the band reaches over it if 99 % of the power
    /// does (ITU-R SM.328).
    Sideband,
}

/// What is remembered of a line.
#[derive(Debug, Clone)]
pub(super) struct Line {
    /// Group of its first pulse.
    pub id: u32,
    /// Bursts: on-times that do not touch.
    pub count: f64,
    /// Seconds on.
    pub on_s: f64,
    /// First start and its uncertainty, seconds.
    pub first: (f64, f64),
    /// Last stop and its uncertainty.
    pub last: (f64, f64),
    /// Earliest on-times.
    pub spans: Spans,
    /// Starts seen to begin, not cut by the segment's edge; the earliest, as [`Spans`].
    pub starts: Vec<f64>,
    /// Loudest pulses, loudest first.
    pub best: Vec<Pulse>,
    /// Lengths of its pulses, summed; they may overlap.
    time_s: f64,
    /// Energy of its pulses over mean square full scale, seconds.
    energy: f64,
    /// Energy of the noise beside it in its band.
    noise: f64,
    /// Sums for the centre: of weights, of weights × hertz from `origin_hz`, of its square.
    pub centre: [f64; 3],
    pub origin_hz: f64,
    /// Pulses in all.
    pub pulses: f64,
    /// Sum of the squares of the levels' uncertainties, and of levels and their squares, dB.
    levels: [f64; 3],
    /// Centre of late, for one that drifts.
    pub recent_hz: f64,
    /// Lowest and highest centre of its pulses.
    pub reach_hz: (f64, f64),
    /// Pulses that sweep, and the sum of |slope| × length.
    pub sweeping: (f64, f64),
    /// Pulses whose band ends where the receiver's does: below, above.
    pub cut_low: f64,
    /// Above.
    pub cut_high: f64,
    /// Sum of the uncertainties of times, seconds.
    u_time_sum: f64,
    /// Band of a line made of pieces.
    pub extent: Option<(f64, f64)>,
    /// Its weak sidebands.
    pub(super) sidebands: Vec<Side>,
    /// Edges of its pulses, until the next one comes.
    pub(super) own_edges: OnceLock<Edges>,
}

impl Line {
    pub fn new(id: u32, p: &Pulse) -> Self {
        let mut line = Line {
            id,
            count: 0.0,
            on_s: 0.0,
            first: (f64::INFINITY, 0.0),
            last: (f64::NEG_INFINITY, 0.0),
            spans: Spans::new(),
            starts: Vec::new(),
            best: Vec::new(),
            time_s: 0.0,
            energy: 0.0,
            noise: 0.0,
            centre: [0.0; 3],
            origin_hz: p.centre_hz,
            pulses: 0.0,
            levels: [0.0; 3],
            recent_hz: p.centre_hz,
            reach_hz: (p.centre_hz, p.centre_hz),
            sweeping: (0.0, 0.0),
            cut_low: 0.0,
            cut_high: 0.0,
            u_time_sum: 0.0,
            extent: None,
            sidebands: Vec::new(),
            own_edges: OnceLock::new(),
        };
        line.push(p);
        line
    }
    /// Takes one more pulse.
    pub fn push(&mut self, p: &Pulse) {
        self.own_edges = OnceLock::new();
        let length = (p.stop_s - p.start_s).max(f64::MIN_POSITIVE);
        // Past the kept ones, only what follows the last stop is on-time not counted yet.
        let late = || (p.start_s > self.last.0, (p.stop_s - p.start_s.max(self.last.0)).max(0.0));
        let (new, added_s) = self.spans.push(p.start_s, p.stop_s).unwrap_or_else(late);
        self.count += f64::from(u8::from(new));
        self.on_s += added_s;
        self.time_s += length;
        if !p.cut_start && self.starts.len() < super::spans::KEPT {
            let at = self.starts.partition_point(|s| *s < p.start_s);
            self.starts.insert(at, p.start_s);
        }
        if p.start_s < self.first.0 {
            self.first = (p.start_s, p.u_time_s);
        }
        if p.stop_s > self.last.0 {
            self.last = (p.stop_s, p.u_time_s);
        }
        let power = ratio_from_db(p.level_dbfs);
        self.energy += power * length;
        self.noise += power / ratio_from_db(p.snr_db) * length;
        let u = p.u_centre_hz.max(1e-6 * p.resolution_hz).max(f64::MIN_POSITIVE);
        let (w, d) = (1.0 / (u * u), p.centre_hz - self.origin_hz);
        self.centre[0] += w;
        self.centre[1] += w * d;
        self.centre[2] += w * d * d;
        self.pulses += 1.0;
        let dbs = [p.u_level_db * p.u_level_db, p.level_dbfs, p.level_dbfs * p.level_dbfs];
        self.levels.iter_mut().zip(dbs).for_each(|(sum, x)| *sum += x);
        self.recent_hz += 0.3 * (p.centre_hz - self.recent_hz);
        self.reach_hz.0 = self.reach_hz.0.min(p.centre_hz);
        self.reach_hz.1 = self.reach_hz.1.max(p.centre_hz);
        if let Some(slope) = p.sweep_hz_per_s {
            self.sweeping.0 += 1.0;
            self.sweeping.1 += slope.abs() * length;
        }
        self.u_time_sum += p.u_time_s;
        let at = self.best.partition_point(|b| loudness(b) >= loudness(p));
        if at < KEPT_PULSES {
            self.best.insert(at, *p);
            self.best.truncate(KEPT_PULSES);
        }
    }
    /// Takes another line's pulses: what of frequency and level is whose, `role` says.
    pub fn absorb(&mut self, other: &Line, role: Role) {
        let on_s = self.on_s;
        let joined = self.spans.union(&other.spans);
        let until = joined.until_s;
        let kept = |l: &Line| {
            l.spans.before(until).fold((0.0, 0.0), |(n, on), s| (n + 1.0, on + (s.1 - s.0)))
        };
        let (a, b) = (kept(self), kept(other));
        // Beyond what is kept of both, the same share of bursts and on-time falls together.
        let scale = |now: f64, sum: f64, all: f64| if sum > 0.0 { all * now / sum } else { all };
        let n = joined.spans.len() as f64;
        self.count = scale(n, a.0 + b.0, self.count + other.count).max(1.0);
        self.on_s = scale(joined.on_s(), a.1 + b.1, self.on_s + other.on_s);
        self.spans = joined;
        self.starts.extend(&other.starts);
        self.starts.sort_by(f64::total_cmp);
        self.starts.truncate(super::spans::KEPT);
        if other.first.0 < self.first.0 {
            self.first = other.first;
        }
        if other.last.0 > self.last.0 {
            self.last = other.last;
        }
        self.reach_hz.0 = self.reach_hz.0.min(other.reach_hz.0);
        self.reach_hz.1 = self.reach_hz.1.max(other.reach_hz.1);
        self.sidebands.extend(&other.sidebands);
        match role {
            Role::View => return,
            Role::Sideband => {
                let Edges { low_hz, high_hz, .. } = other.edges();
                self.sidebands.push(Side { low_hz, high_hz, energy: other.energy_s() });
                return;
            }
            Role::Piece => {
                let (a, b) = (self.edges(), other.edges());
                self.extent = Some((a.low_hz.min(b.low_hz), a.high_hz.max(b.high_hz)));
                let mean = |sum: f64, l: &Line| sum / l.time_s;
                self.energy =
                    mean(self.energy, self) * on_s + mean(other.energy, other) * other.on_s;
                self.noise = mean(self.noise, self) * on_s + mean(other.noise, other) * other.on_s;
                // Powers of pieces add where they are on together, and follow where they take
                // turns: energy over the time that either is on.
                self.time_s = self.on_s;
                self.cut_low += other.cut_low;
                self.cut_high += other.cut_high;
                return;
            }
            Role::Same => {}
        }
        self.own_edges = OnceLock::new();
        self.time_s += other.time_s;
        self.energy += other.energy;
        self.noise += other.noise;
        let shift = other.origin_hz - self.origin_hz;
        let [w, wd, wdd] = other.centre;
        self.centre[0] += w;
        self.centre[1] += wd + w * shift;
        self.centre[2] += wdd + 2.0 * shift * wd + w * shift * shift;
        self.pulses += other.pulses;
        self.levels.iter_mut().zip(other.levels).for_each(|(sum, x)| *sum += x);
        self.sweeping.0 += other.sweeping.0;
        self.sweeping.1 += other.sweeping.1;
        self.cut_low += other.cut_low;
        self.cut_high += other.cut_high;
        self.u_time_sum += other.u_time_sum;
        self.best.extend(&other.best);
        self.best.sort_by(|a, b| loudness(b).total_cmp(&loudness(a)));
        self.best.truncate(KEPT_PULSES);
    }
    /// Scatter of its pulses' centres, hertz.
    pub fn centre_scatter_hz(&self) -> f64 {
        let [w, wd, wdd] = self.centre;
        (wdd / w - (wd / w).powi(2)).max(0.0).sqrt()
    }
    /// Weighted mean of the centres and its standard uncertainty: from the pulses' own
    /// uncertainties or from their scatter, whichever is more.
    pub fn centre_hz(&self) -> (f64, f64) {
        let [w, wd, _] = self.centre;
        let u = (1.0 / w).sqrt().max(self.centre_scatter_hz() / self.pulses.sqrt());
        match self.extent {
            Some((low, high)) => (0.5 * (low + high), u.max(self.own_edges().u_hz)),
            None => (self.origin_hz + wd / w, u),
        }
    }
    /// Mean power times the time on, seconds over mean square full scale.
    pub(super) fn energy_s(&self) -> f64 {
        self.energy / self.time_s * self.on_s
    }
    /// Mean power while on, dBFS.
    pub fn level_dbfs(&self) -> f64 {
        db_from_ratio(self.energy / self.time_s)
    }
    /// Its standard uncertainty, dB.
    pub fn u_level_db(&self) -> f64 {
        let [uu, sum, squares] = self.levels;
        let mean = sum / self.pulses;
        let scatter = (squares / self.pulses - mean * mean).max(0.0);
        // What the pulses do not show (the receiver's gain over the recording) is not in here.
        ((uu / self.pulses).max(scatter) / self.pulses).sqrt()
    }
    /// Spread of its pulses' levels, dB.
    pub fn level_scatter_db(&self) -> f64 {
        let [_, sum, squares] = self.levels;
        (squares / self.pulses - (sum / self.pulses).powi(2)).max(0.0).sqrt()
    }
    /// Level over the noise in its band, dB.
    pub fn snr_db(&self) -> f64 {
        db_from_ratio(self.energy / self.noise)
    }
    /// Mean frame of the resolutions that its loudest pulses were seen at, seconds.
    pub fn frame_s(&self) -> f64 {
        let frames: f64 = self.best.iter().map(|p| p.resolution_hz.recip()).sum();
        frames / self.best.len() as f64
    }
    /// Mean uncertainty of a start or stop, seconds.
    pub fn u_time_s(&self) -> f64 {
        self.u_time_sum / self.pulses
    }
    /// Median length of its bursts, seconds.
    pub fn median_s(&self) -> f64 {
        let mut lengths: Vec<f64> = self.spans.spans.iter().map(|s| s.1 - s.0).collect();
        median(&mut lengths)
    }
}

/// What makes a pulse worth keeping: how far it stands over the noise, and how long. Not how wide
/// it was measured: that would keep the widest.
fn loudness(p: &Pulse) -> f64 {
    p.snr_db + 0.5 * db_from_ratio((p.stop_s - p.start_s).max(1e-9))
}
