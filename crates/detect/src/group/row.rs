//! From a line's summary to the row that is handed up.

use super::line::Line;
use super::{Look, looked_s};
use crate::period;
use crate::{BandwidthIs, BurstSummary, Excerpt, Found, Shape, Uncertainty};
use units::Dbfs;

/// On for this fraction of the time looked, an emission is steady: what is missing is the
/// detector's own ragged edges.
pub(super) const STEADY: f64 = 0.9;
/// Excerpts of a row.
const EXCERPTS: usize = 8;

/// On-time over the time looked at its centre, 0 to 1.
pub(super) fn on_fraction(l: &Line, looks: &[Look]) -> f64 {
    let looked = looked_s(looks, &[l.centre_hz().0]);
    // Seen only past the edge of what a look promises: at least its own time was looked.
    if looked > 0.0 { (l.on_s / looked).clamp(0.0, 1.0) } else { 1.0 }
}

/// The row of a line; `channels` if it hops.
pub(super) fn found(l: &Line, channels: Option<&Vec<f64>>, looks: &[Look]) -> Found {
    let e = l.edges();
    let (centre, u_centre) = l.centre_hz();
    let on_fraction = match channels {
        None => on_fraction(l, looks),
        Some(c) => {
            // Time in which any of its channels was looked at.
            let sees = |k: &&Look| c.iter().any(|f| (k.low_hz..=k.high_hz).contains(f));
            let looked: f64 = looks.iter().filter(sees).map(|k| k.stop_s - k.start_s).sum();
            if looked > 0.0 { (l.on_s / looked).clamp(0.0, 1.0) } else { 1.0 }
        }
    };
    // One odd pulse far off is no sweep: most of them lie wide.
    let wanders =
        l.reach_hz.1 - l.reach_hz.0 > 4.0 * e.width_hz() && l.centre_scatter_hz() > e.width_hz();
    let sweeps = l.sweeping.0 > 0.5 * l.pulses && l.sweeping.1 / l.sweeping.0 > 0.5 * e.width_hz()
        || wanders && channels.is_none() && !e.bare;
    let shape = match channels {
        Some(_) => Shape::Hopping,
        None if sweeps => Shape::Sweeping,
        None if on_fraction >= STEADY => Shape::Continuous,
        None => Shape::Bursts,
    };
    let steady = shape == Shape::Continuous;
    let timing = if steady { None } else { period::of_starts(&l.starts, looks) };
    let half = 0.5 * e.width_hz();
    let (low_hz, high_hz) = match channels.map(|c| (c.first(), c.last())) {
        Some((Some(first), Some(last))) => (first - half, last + half),
        _ => (e.low_hz, e.high_hz),
    };
    let mut excerpts: Vec<Excerpt> = l.best.iter().take(EXCERPTS).map(|p| p.excerpt).collect();
    excerpts.sort_by_key(|x| x.first_sample);
    Found {
        centre_hz: if channels.is_some() { 0.5 * (low_hz + high_hz) } else { centre },
        low_hz,
        high_hz,
        bandwidth_hz: Some(e.width_hz()),
        bandwidth_is: if e.bare { BandwidthIs::UpperBound } else { BandwidthIs::Measured },
        first_s: l.first.0,
        last_s: l.last.0,
        shape,
        channels_hz: channels.cloned(),
        bursts: BurstSummary {
            count: if steady { 1 } else { l.count.round().max(1.0) as u64 },
            median_s: Some(if steady { l.last.0 - l.first.0 } else { l.median_s() }),
            period_s: timing.map(|t| t.period_s),
            on_fraction,
        },
        level_dbfs: Some(Dbfs(l.level_dbfs())),
        level_dbm: None,
        snr_db: Some(l.snr_db()),
        strength: None,
        u: Uncertainty {
            centre_hz: Some(u_centre),
            bandwidth_hz: Some(e.u_hz),
            level_db: Some(l.u_level_db()),
            first_s: Some(l.first.1),
            last_s: Some(l.last.1),
            period_s: timing.map(|t| t.u_s),
        },
        excerpts,
    }
}
