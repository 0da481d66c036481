//! When an emission was on: the power in its band over time, at the finest time resolution that
//! shows it clearly.

use crate::areas::Area;
use crate::cells::Cells;
use dsp::gamma_isf_ln;

/// One on-period, sample numbers in the block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Run {
    pub start: f64,
    pub stop: f64,
    /// Standard uncertainty of either end, samples.
    pub u_time: f64,
    /// Mean power in the band, noise subtracted, in a unit shared by the runs of one area.
    pub power: f64,
}

/// Rows of noise that pass for on, on average, in one area.
const FALSE_ROWS: f64 = 0.01;
/// Times the threshold that noise asks for that the power while on must reach, to be timed at a
/// resolution: then it does not fall under the threshold by chance.
const CLEAR: f64 = 2.0;
/// Part of the power while on from which on an emission counts as on.
const ON: f64 = 0.25;

/// Longest time, in inverse bandwidths, that an emission that is on stays dark by its modulation
/// or by fading of its own. Common practice, no source.
const DARK: f64 = 64.0;
/// A span that holds this many inverse bandwidths holds more than a few symbols.
const PACKET: f64 = 30.0;
/// Pauses within a telegram last no longer than this many of its symbols: pulse position and
/// pulse distance codes have up to eight (common practice, no source).
const SYMBOLS: usize = 10;
/// Where a shorter frame shows this many times the energy that the area's own resolution does, most
/// of it is a neighbour's that it does not tell apart.
const NEIGHBOURS: f64 = 2.0;
/// Part of an area's energy that must lie in the on-periods then, lest they are the neighbour's.
const HELD: f64 = 0.5;

/// On-periods of an area in the band (offsets, hertz). Gaps up to `gap_samples` are closed.
pub(crate) fn runs(
    area: &Area,
    views: &[(&Cells, &[f32])],
    band: (f64, f64),
    gap_samples: usize,
) -> Vec<Run> {
    let own = views[area.level].0;
    let in_band = |(cells, floor)| InBand::of(area, own, cells, floor, band);
    let whole = in_band(views[area.level]);
    for view in views[area.level..].iter().rev() {
        let found =
            in_band(*view).and_then(|seen| Some((seen.energy(), seen.timed(own, gap_samples)?)));
        let Some((energy, found)) = found else { continue };
        let neighbours = |own: &InBand<'_>| {
            energy > NEIGHBOURS * own.energy() && own.energy_in(&found) < HELD * own.energy()
        };
        if !whole.as_ref().is_some_and(neighbours) {
            return found;
        }
    }
    // Too weak to be timed: as long as its area.
    let (start, stop) = span(area, own);
    vec![Run { start, stop, u_time: 0.3 * own.level.n as f64, power: 1.0 }]
}

/// Samples that an area's rows stand for; rows at the block's ends reach to them.
fn span(area: &Area, cells: &Cells) -> (f64, f64) {
    let (c, level) = (&area.component, cells.level);
    let start = if c.row0 == 0 { 0 } else { level.row_start(c.row0) };
    let stop = level.row_start(c.row1 - 1) + level.hop;
    let stop = if c.row1 == cells.rows { stop + (level.n - level.hop) / 2 } else { stop };
    (start as f64, stop as f64)
}

/// The power in the band of an area over its time, at one resolution.
struct InBand<'a> {
    cells: &'a Cells,
    /// Row of the first.
    first: usize,
    /// Hertz.
    width_hz: f64,
    bins: usize,
    /// In all bins of a row of gain 1.
    noise: f64,
    /// Row by row, noise subtracted.
    power: Vec<f64>,
}

impl<'a> InBand<'a> {
    fn of(
        area: &Area,
        own: &Cells,
        cells: &'a Cells,
        floor: &[f32],
        band: (f64, f64),
    ) -> Option<Self> {
        let level = cells.level;
        let (start, stop) = span(area, own);
        let margin = own.level.n as f64 / 2.0;
        let first = ((start - margin).max(0.0) as usize / level.hop).min(cells.rows);
        let last = ((stop + margin) as usize / level.hop).min(cells.rows);
        // The Hann window spreads a line over a bin either side.
        let low = (level.bin_at(band.0) - 1.0).round().max(0.0) as usize;
        let high = ((level.bin_at(band.1) + 1.0).round() as usize + 1).min(level.n);
        let bins = high.saturating_sub(low).max(1);
        let noise: f64 = floor[low..high].iter().map(|f| f64::from(*f)).sum();
        let power = |r: usize| {
            let all: f64 = cells.row(r)[low..high].iter().map(|p| f64::from(*p)).sum();
            all - noise * f64::from(cells.gain[r])
        };
        let power: Vec<f64> = (first..last).map(power).collect();
        let width_hz = band.1 - band.0;
        (!power.is_empty()).then_some(InBand { cells, first, width_hz, bins, noise, power })
    }

    /// Power times samples.
    fn energy(&self) -> f64 {
        self.power.iter().sum::<f64>() * self.cells.level.hop as f64
    }

    /// The same of the rows that reach into one of `runs`.
    fn energy_in(&self, runs: &[Run]) -> f64 {
        let level = self.cells.level;
        let reaches = |r: usize| {
            let (start, stop) = ((r * level.hop) as f64, (r * level.hop + level.n) as f64);
            let next = runs.partition_point(|run| run.stop <= start);
            runs.get(next).is_some_and(|run| run.start < stop)
        };
        let rows = self.power.iter().enumerate().filter(|(k, _)| reaches(self.first + k));
        rows.map(|(_, p)| p).sum::<f64>() * level.hop as f64
    }

    /// The runs as they show here; `None` where the band does not stand out clearly in one row, nor
    /// in the mean of as many as fit into a row of the area's own resolution.
    fn timed(&self, own: &Cells, gap_samples: usize) -> Option<Vec<Run>> {
        let InBand { cells, first, width_hz, bins, noise, power } = self;
        let level = cells.level;
        // Neighbouring Hann bins are correlated: n bins are worth n/1.5 or so.
        let free = (*bins as f64 / 1.5).max(1.0);
        let ln_p = (FALSE_ROWS / power.len() as f64).ln();
        let most = (own.level.hop / level.hop).max(1);
        let lengths = std::iter::successors(Some(1), |s| Some(2 * s)).take_while(|s| *s <= most);
        let (smooth, smoothed, threshold) = lengths
            .map(|smooth| {
                let shape = free * smooth as f64;
                let least = noise * (gamma_isf_ln(shape, ln_p) / shape - 1.0);
                (smooth, boxcar(power, smooth), least)
            })
            .find_map(|(smooth, smoothed, least)| {
                let on = while_on(&smoothed);
                (on >= CLEAR * least).then(|| (smooth, smoothed, least.max(ON * on)))
            })?;
        let width = width_hz / level.rate_hz;
        let on = smoothed.iter().enumerate().filter(|(_, p)| **p >= threshold);
        let spans =
            closed(on.map(|(i, _)| (i, i + 1)), (DARK / width) as usize, gap_samples, level.hop);
        let spans = if is_keyed(&spans, width * level.hop as f64) {
            let length = SYMBOLS * median_rows(&spans) * level.hop;
            closed(spans.into_iter(), length, gap_samples, level.hop)
        } else {
            spans
        };
        let end = level.row_start(cells.rows - 1) + level.hop + (level.n - level.hop) / 2;
        let run = |(i, j): (usize, usize)| {
            let (r0, r1) = (first + i, first + j);
            let start = if r0 == 0 { 0 } else { level.row_start(r0) };
            let stop = if r1 == cells.rows { end } else { level.row_start(r1 - 1) + level.hop };
            Run {
                start: start as f64,
                stop: stop as f64,
                u_time: 0.3 * level.hop as f64 * smooth as f64,
                power: mean(power[i..j].iter().copied()).max(1e-30),
            }
        };
        let mut found: Vec<Run> = spans.into_iter().map(run).collect();
        // What holds next to nothing of the energy is the edge of a fade or of a neighbour.
        let energy = |r: &Run| r.power * (r.stop - r.start);
        let most = found.iter().map(energy).fold(0.0, f64::max);
        found.retain(|r| energy(r) > 1e-3 * most);
        (!found.is_empty()).then_some(found)
    }
}

/// Spans of rows with the gaps closed that are no longer than both lengths, in samples; one row
/// always is.
fn closed(
    spans: impl Iterator<Item = (usize, usize)>,
    length: usize,
    most: usize,
    hop: usize,
) -> Vec<(usize, usize)> {
    let gap = (length.min(most) / hop).max(1);
    let mut out: Vec<(usize, usize)> = Vec::new();
    for (i, j) in spans {
        match out.last_mut() {
            Some(s) if i - s.1 <= gap => s.1 = j,
            _ => out.push((i, j)),
        }
    }
    out
}

/// Whether spans are so short for their bandwidth (`width`: hertz times a row) that each holds a
/// few symbols at most: keying of one telegram, not packets.
fn is_keyed(spans: &[(usize, usize)], width: f64) -> bool {
    spans.len() > 1 && median_rows(spans) as f64 * width < PACKET
}

fn median_rows(spans: &[(usize, usize)]) -> usize {
    let mut rows: Vec<usize> = spans.iter().map(|s| s.1 - s.0).collect();
    let at = rows.len() / 2;
    if rows.is_empty() { 0 } else { *rows.select_nth_unstable(at).1 }
}

/// Mean of the powers that are not far under it.
fn while_on(power: &[f64]) -> f64 {
    let mut on = mean(power.iter().copied());
    for _ in 0..8 {
        on = mean(power.iter().copied().filter(|p| *p > ON * on));
    }
    on
}

fn mean(x: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = x.fold((0.0, 0u32), |(s, n), x| (s + x, n + 1));
    if n == 0 { 0.0 } else { sum / f64::from(n) }
}

/// Running mean over `width` values, centred.
fn boxcar(x: &[f64], width: usize) -> Vec<f64> {
    if width == 1 {
        return x.to_vec();
    }
    let mut cumulated = Vec::with_capacity(x.len() + 1);
    cumulated.push(0.0);
    let mut sum = 0.0;
    for x in x {
        sum += x;
        cumulated.push(sum);
    }
    let half = width / 2;
    (0..x.len())
        .map(|i| {
            let (a, z) = (i.saturating_sub(half), (i + width - half).min(x.len()));
            (cumulated[z] - cumulated[a]) / (z - a) as f64
        })
        .collect()
}
