//! From swept spectra to rows.
//!
//! Traces are worked on in chunks of bounded size. Each chunk gives its own noise floor over
//! frequency and its own scatter (resolution bandwidth, detector and averaging are unknown, so
//! both come from the levels themselves), and from these a threshold at the stated rate of false
//! rows. What stands over it in trace after trace is an on-period ([`track`]); what is on for three
//! quarters of a chunk is found nearer the floor. On-periods are grouped as those of samples are.
//!
//! Occupancy is the fraction of traces in which an emission is on (ITU-R SM.1880).

mod axis;
mod noise;
mod track;

use crate::group::{Grouper, Look, median};
use crate::{Burst, DetectError, Detection, Found, Hooks, Listened, Options};
use axis::{Axes, Set};
use noise::Law;
use track::{Row, Track};
use units::{Dbfs, Dbm, LevelUnit, Reason, Trace, Traces};

/// Levels held at once.
const CHUNK: usize = 4_000_000;
/// dBµV into 50 ohm = dBm + this: 10 log10(50 Ω × 1 mW/1 µV²).
const DBUV_OF_DBM: f64 = 106.9897;

/// Everything that radiates in a recording of traces, and what was listened to. Reads the traces
/// once, in order; memory is bounded by the number of frequencies.
///
/// Levels are in dBm for traces in dBm (and dBµV, taken as into 50 ohm: a warning says so) and in
/// dBFS for traces in dBFS, with dBm beside if `options.full_scale` is given. Without times all
/// times are 0, and lengths and periods `None`.
///
/// # Errors
/// If a trace cannot be read, an option means nothing, or `hooks.on_progress` said stop (it is
/// told 0 until the end: traces do not tell how many they are).
pub fn from_traces(
    traces: &mut dyn Traces,
    options: &Options,
    hooks: &mut Hooks<'_>,
) -> Result<Detection, DetectError> {
    if options.false_rows.is_nan() || options.false_rows <= 0.0 {
        return Err(DetectError::Option {
            option: "false_rows",
            value: options.false_rows,
            want: "it must be above zero",
        });
    }
    let unit = traces.unit();
    let mut work = Work { false_rows: options.false_rows, ..Work::default() };
    let mut chunk: Vec<(usize, Trace)> = Vec::new();
    let mut held = 0;
    while let Some(trace) = traces.next_trace()? {
        held += trace.levels_db.len();
        chunk.push((work.axes.set_of(&trace.frequencies_hz), trace));
        if held >= CHUNK {
            work.chunk(&mut chunk, false, hooks);
            chunk.clear();
            held = 0;
            if !(hooks.on_progress)(0.0) {
                return Err(DetectError::Stopped);
            }
        }
    }
    work.chunk(&mut chunk, true, hooks);
    if !(hooks.on_progress)(1.0) {
        return Err(DetectError::Stopped);
    }
    Ok(work.finish(unit, options.full_scale))
}

/// What goes on from chunk to chunk.
#[derive(Default)]
struct Work {
    axes: Axes,
    tracks: Vec<Vec<Track>>,
    grouper: Option<Grouper>,
    looks: Vec<Look>,
    false_rows: f64,
    chunks: i32,
    timed: bool,
    untimed: f64,
    /// Highest threshold level of each set, dB.
    limits: Vec<f64>,
}

impl Work {
    /// Works through one chunk; `last` closes what is still on.
    fn chunk(&mut self, chunk: &mut [(usize, Trace)], last: bool, hooks: &mut Hooks<'_>) {
        self.timed |= chunk.iter().any(|c| c.1.start.is_some() || c.1.start_s != 0.0);
        if !self.timed {
            // Still one after the other: a second each, taken off in the end.
            for c in chunk.iter_mut() {
                c.1.start_s = self.untimed;
                self.untimed += 1.0;
            }
        }
        let chunk = &*chunk;
        let sets = self.axes.sets.len();
        self.tracks.resize(sets, Vec::new());
        self.limits.resize(sets, f64::NEG_INFINITY);
        let stops = self.axes.stops(chunk);
        let cells: usize = chunk.iter().map(|c| c.1.levels_db.len()).sum();
        self.chunks += 1;
        // Half the false rows for single levels, half for steady ones; halved with every chunk,
        // since nobody knows how many come.
        let budget = 0.5 * self.false_rows * 0.5f64.powi(self.chunks);
        let ln_p = (budget / cells.max(1) as f64).ln().min(-1.0);
        // Which times count is told at the end; what a set's edges are, now.
        let always = |(k, s): (usize, &Set)| {
            let (low_hz, high_hz) = s.edges();
            let (start_s, stop_s) = (f64::NEG_INFINITY, f64::INFINITY);
            Look { segment: k as u32, start_s, stop_s, low_hz, high_hz }
        };
        let looks: Vec<Look> = self.axes.sets.iter().enumerate().map(always).collect();
        self.grouper.get_or_insert_with(|| Grouper::new(&[])).set_looks(&looks);
        for family in self.axes.families() {
            let statistics = Statistics::of(chunk, &family, &self.axes.sets);
            let ln_bins = (budget / statistics.bins.max(1) as f64).ln().min(-1.0);
            self.steady(&statistics, &family, ln_bins, chunk, &stops, hooks);
            self.single(&statistics, &family, ln_p, chunk, &stops, hooks);
        }
        if last {
            for set in 0..sets {
                for t in std::mem::take(&mut self.tracks[set]) {
                    self.close(set, &t, true, 1.0, hooks);
                }
            }
        }
    }
    /// Trace by trace, what stands over the threshold.
    fn single(
        &mut self,
        s: &Statistics,
        family: &[usize],
        ln_p: f64,
        chunk: &[(usize, Trace)],
        stops: &[f64],
        hooks: &mut Hooks<'_>,
    ) {
        let begin_db = s.law.threshold_db(ln_p);
        // Going on is decided for one place at a time: one in a thousand by chance.
        let hold_db = s.law.threshold_db(1e-3f64.ln());
        for (k, (set, trace)) in chunk.iter().enumerate() {
            let Some(place) = family.iter().position(|f| f == set) else { continue };
            let floor_db = &s.floor_db[place];
            let row = Row {
                levels_db: &trace.levels_db,
                floor_db,
                begin_db,
                hold_db,
                start_s: trace.start_s,
                stop_s: stops[k],
                step_s: stops[k] - trace.start_s,
            };
            let first = self.look(*set, trace.start_s, stops[k]);
            let mut tracks = std::mem::take(&mut self.tracks[*set]);
            let mut ended = Vec::new();
            track::advance(&mut tracks, &row, first, &mut |t| ended.push(t));
            self.tracks[*set] = tracks;
            for t in ended {
                self.close(*set, &t, false, s.law.averages, hooks);
            }
            let mut levels = floor_db.clone();
            let typical = median(&mut levels) + begin_db;
            self.limits[*set] = self.limits[*set].max(typical);
        }
    }
    /// What is on for three quarters of the chunk, found from each bin's low level over time.
    fn steady(
        &mut self,
        s: &Statistics,
        family: &[usize],
        ln_p: f64,
        chunk: &[(usize, Trace)],
        stops: &[f64],
        hooks: &mut Hooks<'_>,
    ) {
        for (place, set) in family.iter().enumerate() {
            let of_set = || chunk.iter().enumerate().filter(|(_, c)| c.0 == *set);
            let n = of_set().count();
            let (Some((_, (_, first))), Some((k, _))) = (of_set().next(), of_set().next_back())
            else {
                continue;
            };
            if n < 8 {
                continue;
            }
            // The low quantile of n levels scatters about as their mean does, 1.4 times.
            let law = Law { averages: s.law.averages * n as f64 / 2.0 };
            let over = law.threshold_db(ln_p);
            let mut row = Row {
                levels_db: &s.low_db[place].iter().map(|x| *x as f32).collect::<Vec<f32>>(),
                floor_db: &s.floor_db[place],
                begin_db: over + s.low_bias_db,
                hold_db: over + s.low_bias_db,
                start_s: first.start_s,
                stop_s: stops[k],
                step_s: stops[k] - chunk[k].1.start_s,
            };
            let runs = track::runs(&row);
            // Told by the low level; measured by the mean.
            let mean = mean_levels(of_set().map(|(_, c)| &c.1), s.low_db[place].len());
            row.levels_db = &mean;
            for run in runs {
                let t = Track::new(&row, run, true);
                self.close(*set, &t, true, law.averages, hooks);
            }
        }
    }
    /// A track that ended becomes pulses, and these go to the grouper.
    fn close(&mut self, set: usize, t: &Track, last: bool, averages: f64, hooks: &mut Hooks<'_>) {
        let grouper = self.grouper.get_or_insert_with(|| Grouper::new(&[]));
        for p in t.pulses(set as u32, &self.axes.sets[set].frequencies_hz, averages, last) {
            let group = grouper.push(&p);
            (hooks.on_burst)(Burst {
                group,
                start_s: if self.timed { p.start_s } else { 0.0 },
                stop_s: if self.timed { p.stop_s } else { 0.0 },
                centre_hz: p.centre_hz,
                bandwidth_hz: p.bandwidth_hz,
                snr_db: p.snr_db,
                level_dbfs: p.level_dbfs,
            });
        }
    }
    /// Notes that a set was looked at; whether this is its first trace after a pause.
    fn look(&mut self, set: usize, start_s: f64, stop_s: f64) -> bool {
        let s = &mut self.axes.sets[set];
        let open = s.look.filter(|k| start_s <= self.looks[*k].stop_s + 1e-6);
        match open {
            Some(k) => self.looks[k].stop_s = stop_s.max(self.looks[k].stop_s),
            None => {
                s.look = Some(self.looks.len());
                let (low_hz, high_hz) = s.edges();
                self.looks.push(Look { segment: set as u32, start_s, stop_s, low_hz, high_hz });
            }
        }
        open.is_none()
    }
    fn finish(self, unit: LevelUnit, full_scale: Option<Dbm>) -> Detection {
        let looks = self.looks;
        let (mut found, rows) = match self.grouper {
            Some(mut g) => {
                g.set_looks(&looks);
                let groups = g.finish();
                (groups.found, groups.row_of)
            }
            None => (Vec::new(), Vec::new()),
        };
        for f in &mut found {
            label(f, unit, full_scale, self.timed);
        }
        let mut listened: Vec<Listened> = Vec::new();
        for (set, limit) in self.axes.sets.iter().zip(&self.limits) {
            let (low_hz, high_hz) = set.edges();
            let mine = |l: &&Look| l.low_hz == low_hz && l.high_hz == high_hz;
            let looked: f64 = looks.iter().filter(mine).map(|l| l.stop_s - l.start_s).sum();
            let (limit_dbfs, limit_dbm) = levels(*limit, unit, full_scale);
            let looked_s = if self.timed { looked } else { 0.0 };
            listened.push(Listened { low_hz, high_hz, looked_s, limit_dbfs, limit_dbm });
        }
        axis::merge(&mut listened);
        Detection {
            found,
            rows,
            listened,
            warnings: warnings(unit, self.timed),
            ..Detection::default()
        }
    }
}

/// Puts a row's levels under their unit, and takes invented times off.
fn label(f: &mut Found, unit: LevelUnit, full_scale: Option<Dbm>, timed: bool) {
    if let Some(level) = f.level_dbfs {
        (f.level_dbfs, f.level_dbm) = levels(level.0, unit, full_scale);
    }
    f.excerpts.clear();
    if !timed {
        (f.first_s, f.last_s) = (0.0, 0.0);
        (f.bursts.median_s, f.bursts.period_s) = (None, None);
        (f.u.first_s, f.u.last_s, f.u.period_s) = (None, None, None);
    }
}

fn levels(db: f64, unit: LevelUnit, full_scale: Option<Dbm>) -> (Option<Dbfs>, Option<Dbm>) {
    if !db.is_finite() {
        return (None, None);
    }
    match unit {
        LevelUnit::Dbm => (None, Some(Dbm(db))),
        LevelUnit::Dbuv => (None, Some(Dbm(db - DBUV_OF_DBM))),
        LevelUnit::Dbfs => (Some(Dbfs(db)), full_scale.map(|f| Dbm(db + f.0))),
    }
}

fn warnings(unit: LevelUnit, timed: bool) -> Vec<Reason> {
    let mut out = vec![Reason::new(
        "swept",
        "swept spectra: each frequency was looked at for a part of every sweep only; bursts \
         between are not seen, and the level of a wide signal takes the filter to be as wide as \
         the step",
    )];
    if unit == LevelUnit::Dbuv {
        out.push(
            Reason::new("dbuv_into_50_ohm", "levels in dBµV are taken as into 50 ohm")
                .with("dbuv_of_dbm", DBUV_OF_DBM),
        );
    }
    if !timed {
        out.push(Reason::new(
            "no_times",
            "the traces state no times: first, last, lengths and periods are not known",
        ));
    }
    out
}

/// Noise of one family of sets in one chunk.
struct Statistics {
    law: Law,
    /// Low level over time of each bin, per set, dB; and what it lies under the mean of noise.
    low_db: Vec<Vec<f64>>,
    low_bias_db: f64,
    floor_db: Vec<Vec<f64>>,
    bins: usize,
}

impl Statistics {
    fn of(chunk: &[(usize, Trace)], family: &[usize], sets: &[Set]) -> Self {
        let traces: Vec<Vec<&Trace>> = family
            .iter()
            .map(|f| chunk.iter().filter(|c| c.0 == *f).map(|c| &c.1).collect())
            .collect();
        let most = traces.iter().map(Vec::len).max().unwrap_or(0);
        let law = Law::of_differences(&mut differences(&traces, most));
        // Over time the lower quartile where there is one; else the median of the few.
        let q = if most >= 4 { 0.25 } else { 0.5 };
        let low_db: Vec<Vec<f64>> = traces
            .iter()
            .zip(family)
            .map(|(t, f)| low_levels(t, sets[*f].frequencies_hz.len(), q))
            .collect();
        let low_bias_db = law.quantile_db(q);
        // Over frequency the quartile of those: they scatter as means of `most` levels do.
        let over_frequency = Law { averages: law.averages * (most as f64 / 1.5).max(1.0) };
        let bias_db =
            -low_bias_db * f64::from(u8::from(most > 1)) - over_frequency.quantile_db(0.25);
        // One axis for the whole family, by rising frequency.
        let mut order: Vec<(f64, usize, usize)> = Vec::new();
        for (place, f) in family.iter().enumerate() {
            let hz = &sets[*f].frequencies_hz;
            order.extend(hz.iter().enumerate().map(|(k, hz)| (*hz, place, k)));
        }
        order.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
        let sorted: Vec<f64> = order.iter().map(|o| low_db[o.1][o.2]).collect();
        let along = noise::floor(&sorted, bias_db);
        let mut floor_db: Vec<Vec<f64>> = low_db.iter().map(|l| vec![0.0; l.len()]).collect();
        for (o, db) in order.iter().zip(along) {
            floor_db[o.1][o.2] = db;
        }
        Statistics { law, low_db, low_bias_db, floor_db, bins: order.len() }
    }
}

/// Differences of levels that should be alike: the same bin in successive traces; with one trace
/// only, bins two apart (neighbours share a filter).
fn differences(traces: &[Vec<&Trace>], most: usize) -> Vec<f64> {
    const ENOUGH: usize = 200_000;
    let mut out = Vec::new();
    let total: usize = traces.iter().flatten().map(|t| t.levels_db.len()).sum();
    let every = (total / ENOUGH).max(1);
    for set in traces {
        if most >= 2 {
            for pair in set.windows(2) {
                let both = pair[0].levels_db.iter().zip(&pair[1].levels_db).step_by(every);
                out.extend(both.map(|(a, b)| f64::from(a - b)));
            }
        } else if let Some(t) = set.first() {
            out.extend(t.levels_db.windows(3).step_by(every).map(|w| f64::from(w[2] - w[0])));
        }
    }
    out.retain(|d| d.is_finite());
    out
}

/// Mean power over time of each bin, dB.
fn mean_levels<'a>(traces: impl Iterator<Item = &'a Trace>, bins: usize) -> Vec<f32> {
    let mut sums = vec![(0.0, 0.0); bins];
    for t in traces {
        for (sum, level) in sums.iter_mut().zip(&t.levels_db).filter(|x| x.1.is_finite()) {
            sum.0 += units::ratio_from_db(f64::from(*level));
            sum.1 += 1.0;
        }
    }
    sums.iter().map(|(power, n)| units::db_from_ratio(power / n) as f32).collect()
}

/// Quantile over time of each bin.
fn low_levels(traces: &[&Trace], bins: usize, q: f64) -> Vec<f64> {
    let mut column = Vec::with_capacity(traces.len());
    (0..bins)
        .map(|k| {
            column.clear();
            column.extend(traces.iter().filter_map(|t| t.levels_db.get(k)).copied());
            column.retain(|x: &f32| x.is_finite());
            column.sort_by(f32::total_cmp);
            let at = (q * column.len().saturating_sub(1) as f64).round() as usize;
            column.get(at).map_or(f64::NAN, |x| f64::from(*x))
        })
        .collect()
}

#[cfg(test)]
mod tests;
