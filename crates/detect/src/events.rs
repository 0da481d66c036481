//! From the event log of a hand-held detector to rows: one an emitter, as far as bands, times,
//! durations and strengths tell emitters apart.
//!
//! Events of different bands are never one row. Within a band, events that follow each other
//! without a gap are a steady emitter logged in pieces; events on a clock whose durations differ
//! from the others' are a reporter; the rest is one row. Where the detector stood is not known
//! here: whoever knows the movements cuts the rows by place.

mod split;

use crate::{BandwidthIs, BurstSummary, Detection, Found, Listened, Shape, Uncertainty};
use crate::{group::median, period};
use split::Kind;
use units::{Band, Event, Reason, Strength, Utc};

/// When, and to which bands, a detector listened.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Listening {
    /// Switched on; `None` takes the first event's stamp.
    pub from: Option<Utc>,
    /// Switched off; `None` takes the last event's end.
    pub until: Option<Utc>,
    /// Bands that it listened to; `None` if not known: then only that it heard what it logged.
    pub bands: Option<Vec<Band>>,
}

/// What a log shows, and for each event the row in [`Detection::found`] that it belongs to
/// (`None` for one outside the listening time). Times count in seconds from `listening.from`,
/// else from the first event's stamp; an event's time is the middle of what its stamp allows.
///
/// Levels, SNR and bandwidth are `None`; low and high are the log's resolution, centre their
/// middle (0 for events that tell no frequency: a warning says so). Bursts are events.
/// [`Detection::listened`] has no limits (an ordinal strength is not a level) and is empty where
/// the bands are not known.
pub fn from_events(events: &[Event], listening: &Listening) -> (Detection, Vec<Option<u32>>) {
    let first = events.iter().map(|e| e.start.from).min();
    let Some(zero) = listening.from.or(first) else {
        return (Detection::default(), Vec::new());
    };
    let last = events.iter().map(|e| e.start.until.plus_seconds(e.duration_s.unwrap_or(0.0))).max();
    let end = listening.until.or(last).unwrap_or(zero);
    let looked_s = end.seconds_since(zero).max(0.0);
    let inside = |e: &Event| e.start.may_lie(listening.from, listening.until);
    let mut order: Vec<usize> = (0..events.len()).filter(|k| inside(&events[*k])).collect();
    order.sort_by_key(|k| (events[*k].start.from, *k));

    let mut found: Vec<(Found, Vec<usize>)> = Vec::new();
    for members in by_band(events, &order) {
        let moments: Vec<Moment> = members.iter().map(|k| Moment::of(&events[*k], zero)).collect();
        for part in split::emitters(&moments) {
            let indices: Vec<usize> = part.members.iter().map(|k| members[*k]).collect();
            let own: Vec<Moment> = part.members.iter().map(|k| moments[*k]).collect();
            found.push((row(events, &indices, &own, &part.kind, looked_s), indices));
        }
    }
    found.sort_by(|a, b| {
        (a.0.centre_hz.total_cmp(&b.0.centre_hz)).then(a.1.first().cmp(&b.1.first()))
    });
    let mut rows = vec![None; events.len()];
    for (k, (_, members)) in found.iter().enumerate() {
        members.iter().for_each(|m| rows[*m] = Some(k as u32));
    }
    let mut detection = Detection {
        rows: (0..found.len() as u32).map(Some).collect(),
        found: found.into_iter().map(|f| f.0).collect(),
        listened: listened(listening, looked_s),
        ..Detection::default()
    };
    let nowhere = order.iter().filter(|k| events[**k].band.is_none()).count();
    if nowhere > 0 {
        detection.warnings.push(
            Reason::new(
                "no_frequency",
                format!("{nowhere} events tell no frequency: their rows have none, only the log's word for it"),
            )
            .with("events", nowhere as f64),
        );
    }
    (detection, rows)
}

/// When an event began, seconds: somewhere in `from_s..from_s + step_s`; and how long it was.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Moment {
    from_s: f64,
    step_s: f64,
    duration_s: Option<f64>,
    duration_step_s: f64,
    strength: Option<f64>,
}

impl Moment {
    fn of(e: &Event, zero: Utc) -> Self {
        Moment {
            from_s: e.start.from.seconds_since(zero),
            step_s: e.start.until.seconds_since(e.start.from).max(0.0),
            duration_s: e.duration_s,
            duration_step_s: e.duration_step_s,
            strength: e.strength.filter(|s| s.of > 0.0).map(|s| s.value / s.of),
        }
    }
    fn middle_s(&self) -> f64 {
        self.from_s + 0.5 * self.step_s
    }
    fn length_s(&self) -> f64 {
        self.duration_s.unwrap_or(0.0)
    }
}

/// Events of one band each, in order of time; bands by rising frequency. A frequency that the
/// detector read a step apart is the same.
fn by_band(events: &[Event], order: &[usize]) -> Vec<Vec<usize>> {
    let key = |k: usize| {
        let e = &events[k];
        e.band.map_or((0.0, 0.0), |b| (b.low_hz, b.high_hz))
    };
    let mut sorted = order.to_vec();
    sorted.sort_by(|a, b| {
        let ((la, ha), (lb, hb)) = (key(*a), key(*b));
        (la.total_cmp(&lb)).then(ha.total_cmp(&hb)).then(events[*a].label.cmp(&events[*b].label))
    });
    let same = |a: usize, b: usize| {
        let ((la, ha), (lb, hb)) = (key(a), key(b));
        let (wide, narrow) = ((ha - la).max(hb - lb), (ha - la).min(hb - lb));
        let shared = ha.min(hb) - la.max(lb);
        events[a].label == events[b].label
            && shared >= 0.0
            && narrow >= 0.5 * wide
            && (shared > 0.0 || wide == 0.0)
    };
    let mut bands: Vec<Vec<usize>> = Vec::new();
    for k in sorted {
        match bands.iter_mut().rev().take(4).find(|b| same(b[0], k)) {
            Some(band) => band.push(k),
            None => bands.push(vec![k]),
        }
    }
    bands.iter_mut().for_each(|b| b.sort_by_key(|k| (events[*k].start.from, *k)));
    bands
}

fn row(
    events: &[Event],
    members: &[usize],
    moments: &[Moment],
    kind: &Kind,
    looked_s: f64,
) -> Found {
    let bands = || members.iter().filter_map(|k| events[*k].band);
    let low = bands().map(|b| b.low_hz).fold(f64::INFINITY, f64::min);
    let high = bands().map(|b| b.high_hz).fold(f64::NEG_INFINITY, f64::max);
    let (low_hz, high_hz) = if low <= high { (low, high) } else { (0.0, 0.0) };
    let lengths: Option<Vec<f64>> = moments.iter().map(|m| m.duration_s).collect();
    let on_s: f64 = moments.iter().map(Moment::length_s).sum();
    let end = |m: &Moment| m.middle_s() + m.length_s();
    let first = moments.first();
    let last = moments.iter().max_by(|a, b| end(a).total_cmp(&end(b)));
    // A time known to lie in an interval (checks EVT-017).
    let u = |m: Option<&Moment>| m.map(|m| m.step_s / 12f64.sqrt());
    let timing = match kind {
        Kind::Steady => None,
        Kind::Bursts(period) => *period,
    };
    Found {
        centre_hz: 0.5 * (low_hz + high_hz),
        low_hz,
        high_hz,
        bandwidth_hz: None,
        bandwidth_is: BandwidthIs::UpperBound,
        first_s: first.map_or(0.0, Moment::middle_s),
        last_s: last.map_or(0.0, end),
        shape: if *kind == Kind::Steady { Shape::Continuous } else { Shape::Bursts },
        channels_hz: None,
        bursts: BurstSummary {
            count: members.len() as u64,
            median_s: lengths.map(|mut l| median(&mut l)),
            period_s: timing.map(|t| t.period_s),
            on_fraction: if looked_s > 0.0 { (on_s / looked_s).clamp(0.0, 1.0) } else { 0.0 },
        },
        level_dbfs: None,
        level_dbm: None,
        snr_db: None,
        strength: loudest(members.iter().filter_map(|k| events[*k].strength)),
        u: Uncertainty {
            centre_hz: Some((high_hz - low_hz) / 12f64.sqrt()),
            first_s: u(first),
            last_s: u(last),
            period_s: timing.map(|t: period::Period| t.u_s),
            ..Uncertainty::default()
        },
        excerpts: Vec::new(),
    }
}

/// The strongest, on whatever scale it was read.
fn loudest(strengths: impl Iterator<Item = Strength>) -> Option<Strength> {
    strengths.max_by(|a, b| (a.value * b.of).total_cmp(&(b.value * a.of)))
}

fn listened(listening: &Listening, looked_s: f64) -> Vec<Listened> {
    let mut bands = listening.bands.clone().unwrap_or_default();
    bands.sort_by(|a, b| a.low_hz.total_cmp(&b.low_hz).then(a.high_hz.total_cmp(&b.high_hz)));
    let of = |b: Band| Listened {
        low_hz: b.low_hz,
        high_hz: b.high_hz,
        looked_s,
        limit_dbfs: None,
        limit_dbm: None,
    };
    bands.into_iter().map(of).collect()
}

#[cfg(test)]
mod tests;
