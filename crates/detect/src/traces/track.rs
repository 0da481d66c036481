//! What stands over the threshold in one trace after the other, at the same place in frequency:
//! from its first trace to its last one on-period.

use crate::Excerpt;
use crate::pulse::Pulse;
use crate::sidebands::OUTSIDE;
use units::{db_from_ratio, ratio_from_db};

/// Bins in a row under the threshold that do not end a run.
const BRIDGED: usize = 1;
/// A dip this deep in the mean of a track parts two emissions, dB.
const VALLEY_DB: f64 = 6.0;

/// One trace as tracks need it: levels and thresholds, dB, of one set of frequencies.
#[derive(Debug, Clone, Copy)]
pub(super) struct Row<'a> {
    pub levels_db: &'a [f32],
    pub floor_db: &'a [f64],
    /// Over the floor: to begin, and to go on or reach out.
    pub begin_db: f64,
    pub hold_db: f64,
    pub start_s: f64,
    pub stop_s: f64,
    /// One sweep, seconds: what times are known to.
    pub step_s: f64,
}

/// A run that goes on over traces.
#[derive(Debug, Clone)]
pub(super) struct Track {
    start_s: f64,
    stop_s: f64,
    /// One sweep, seconds: what times are known to.
    step_s: f64,
    /// First bin of the sums.
    from: usize,
    /// Sums of powers and of the floor's, per bin.
    power: Vec<f64>,
    noise: Vec<f64>,
    count: f64,
    /// Bins of the latest run.
    latest: (usize, usize),
    cut_start: bool,
}

/// Runs of bins over the threshold: first and one past the last.
pub(super) fn runs(row: &Row<'_>) -> Vec<(usize, usize)> {
    let over = |k: usize, db: f64| f64::from(row.levels_db[k]) > row.floor_db[k] + db;
    let n = row.levels_db.len();
    let mut out: Vec<(usize, usize)> = Vec::new();
    let mut k = 0;
    while k < n {
        if !over(k, row.begin_db) {
            k += 1;
            continue;
        }
        let mut from = k;
        while from > 0 && over(from - 1, row.hold_db) {
            from -= 1;
        }
        let mut to = k + 1;
        while let Some(next) = (to..n.min(to + 1 + BRIDGED)).find(|j| over(*j, row.hold_db)) {
            to = next + 1;
        }
        match out.last_mut() {
            Some(last) if from <= last.1 => last.1 = last.1.max(to),
            _ => out.push((from, to)),
        }
        k = to;
    }
    out
}

/// Carries tracks on through the next trace of their set; those that ended go to `ended`.
pub(super) fn advance(
    tracks: &mut Vec<Track>,
    row: &Row<'_>,
    first: bool,
    ended: &mut dyn FnMut(Track),
) {
    let mut new = runs(row);
    let goes_on = |t: &Track| {
        let (from, to) = (t.latest.0, t.latest.1.min(row.levels_db.len()));
        (from..to).any(|k| f64::from(row.levels_db[k]) > row.floor_db[k] + row.hold_db)
    };
    let mut kept = Vec::new();
    for mut t in tracks.drain(..) {
        let touching = |r: &(usize, usize)| r.0 < t.latest.1 && t.latest.0 < r.1;
        let mine: Vec<(usize, usize)> = new.iter().copied().filter(touching).collect();
        new.retain(|r| !touching(r));
        let run = match (mine.first(), mine.last()) {
            (Some(a), Some(z)) => (a.0, z.1),
            // Weaker for once, or its run went to a neighbour's track: the same bins.
            _ if goes_on(&t) => t.latest,
            _ => {
                ended(t);
                continue;
            }
        };
        t.add(row, run);
        kept.push(t);
    }
    for run in new {
        kept.push(Track::new(row, run, first));
    }
    *tracks = kept;
}

impl Track {
    /// Begins with a run of a trace; `first` if nothing was looked at before.
    pub fn new(row: &Row<'_>, run: (usize, usize), first: bool) -> Self {
        let mut t = Track {
            start_s: row.start_s,
            stop_s: row.start_s,
            step_s: row.step_s,
            from: run.0,
            power: Vec::new(),
            noise: Vec::new(),
            count: 0.0,
            latest: run,
            cut_start: first,
        };
        t.add(row, run);
        t
    }
    fn add(&mut self, row: &Row<'_>, run: (usize, usize)) {
        let (from, to) = (self.from.min(run.0), (self.from + self.power.len()).max(run.1));
        if from < self.from {
            let more = vec![0.0; self.from - from];
            self.power.splice(0..0, more.iter().copied());
            self.noise.splice(0..0, more);
            self.from = from;
        }
        self.power.resize(to - from, 0.0);
        self.noise.resize(to - from, 0.0);
        for k in from..to {
            let level = f64::from(row.levels_db[k]);
            if level.is_finite() {
                self.power[k - from] += ratio_from_db(level);
                self.noise[k - from] += ratio_from_db(row.floor_db[k]);
            }
        }
        self.count += 1.0;
        self.latest = run;
        self.stop_s = row.stop_s;
    }
    /// On-periods: one, or one each side of deep valleys of the mean. Bins of traces in which the
    /// run did not reach them count as empty.
    pub fn pulses(&self, set: u32, hz: &[f64], averages: f64, last: bool) -> Vec<Pulse> {
        let excess: Vec<f64> = (self.power.iter().zip(&self.noise))
            .map(|(p, n)| (p - n).max(0.0) / self.count)
            .collect();
        // Means of few levels scatter: a valley must be deeper than four of their deviations.
        let deep = VALLEY_DB.max(4.0 * 4.343 / (self.count * averages).sqrt());
        valleys(&excess, deep)
            .into_iter()
            .filter_map(|(a, z)| self.pulse(set, hz, &excess, (a, z), averages, last))
            .collect()
    }
    fn pulse(
        &self,
        set: u32,
        hz: &[f64],
        excess: &[f64],
        (a, z): (usize, usize),
        averages: f64,
        last: bool,
    ) -> Option<Pulse> {
        let total: f64 = excess[a..z].iter().sum();
        if total <= 0.0 {
            return None;
        }
        let at = |k: usize| self.from + k;
        let step = |k: usize| match (hz.get(at(k) + 1), at(k).checked_sub(1)) {
            (Some(next), _) => next - hz[at(k)],
            (None, Some(before)) => hz[at(k)] - hz[before],
            _ => 0.0,
        };
        let peak = (a..z).max_by(|x, y| excess[*x].total_cmp(&excess[*y]))?;
        // 0.5 % of the power beyond each edge (ITU-R SM.328), read inside bins.
        let edge = |part: f64| {
            let mut sum = 0.0;
            for k in a..z {
                let more = excess[k] / total;
                if sum + more >= part {
                    let inside = if more > 0.0 { (part - sum) / more } else { 0.5 };
                    return hz[at(k)] + (inside - 0.5) * step(k);
                }
                sum += more;
            }
            hz[at(z - 1)]
        };
        // Three bins may be the filter's own shape: only an upper bound.
        let bare = excess[peak.saturating_sub(1).max(a)..(peak + 2).min(z)].iter().sum::<f64>()
            >= 0.9 * total;
        let (low, high) = (edge(OUTSIDE), edge(1.0 - OUTSIDE));
        let centroid = (a..z).map(|k| excess[k] * hz[at(k)]).sum::<f64>() / total;
        let resolution = step(peak);
        let width = if bare { (3.0 * resolution).min(high - low + resolution) } else { high - low };
        let (low, high) =
            if bare { (centroid - 0.5 * width, centroid + 0.5 * width) } else { (low, high) };
        // A line shows its level at its peak whatever the filter; a wide signal adds up over
        // bins, each taken as wide as the step.
        let level = if bare { excess[peak] } else { total };
        let noise: f64 = self.noise[a..z].iter().sum::<f64>() / self.count;
        let beside = if bare { self.noise[peak] / self.count } else { noise };
        let fluctuation = 4.343 / (self.count * averages * (z - a) as f64).sqrt();
        Some(Pulse {
            segment: set,
            start_s: self.start_s,
            stop_s: self.stop_s,
            u_time_s: self.step_s / 12f64.sqrt(),
            low_hz: low,
            high_hz: high,
            centre_hz: centroid,
            u_centre_hz: resolution / 12f64.sqrt(),
            bandwidth_hz: width,
            u_bandwidth_hz: resolution / 6f64.sqrt(),
            bare,
            resolution_hz: resolution,
            level_dbfs: db_from_ratio(level),
            // Filter and step are unknown: 1 dB (common practice, no source).
            u_level_db: fluctuation.hypot(1.0),
            snr_db: db_from_ratio(level / beside.max(f64::MIN_POSITIVE)),
            cut_start: self.cut_start,
            cut_stop: last,
            sweep_hz_per_s: None,
            excerpt: Excerpt { first_sample: 0, samples: 0 },
        })
    }
}

/// Stretches between valleys that lie `deep_db` under the peaks on both their sides.
fn valleys(power: &[f64], deep_db: f64) -> Vec<(usize, usize)> {
    let ratio = ratio_from_db(-deep_db);
    let mut out = Vec::new();
    let mut from = 0;
    // Highest so far, and the lowest since it, of the stretch that began at `from`.
    let (mut peak, mut lowest) = (0.0f64, (f64::INFINITY, 0));
    for (k, p) in power.iter().enumerate() {
        if lowest.0 < peak * ratio && lowest.0 < p * ratio {
            out.push((from, lowest.1 + 1));
            (from, peak, lowest) = (lowest.1 + 1, *p, (*p, k));
        } else if *p > peak {
            (peak, lowest) = (*p, (*p, k));
        } else if *p < lowest.0 {
            lowest = (*p, k);
        }
    }
    out.push((from, power.len()));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn deep_valleys_part_two_emissions_and_shallow_ones_do_not() {
        let power = [1.0, 8.0, 2.0, 0.5, 3.0, 9.0, 1.0];
        assert_eq!(valleys(&power, 6.0), [(0, 4), (4, 7)]);
        assert_eq!(valleys(&[8.0, 4.0, 8.0, 1.0], 6.0), [(0, 4)]);
    }

    #[test]
    fn runs_reach_out_to_what_holds() {
        let levels = [0.0, 4.0, 12.0, 0.0, 5.0, 0.0, 0.0, 4.0];
        let row = Row {
            levels_db: &levels,
            floor_db: &[0.0; 8],
            begin_db: 10.0,
            hold_db: 3.0,
            start_s: 0.0,
            stop_s: 1.0,
            step_s: 1.0,
        };
        assert_eq!(runs(&row), [(1, 5)]);
    }
}
