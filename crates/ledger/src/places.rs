//! Where a row of a capture was heard. A log or walk that was carried about is cut by its visits;
//! an event whose stamp touches a move may belong to either place, and counts at the likelier: the
//! one that heard the row before or after, as strong.

use crate::atom::AtomEvent;
use crate::input::{Capture, Input, Visit};
use units::{TimeSpan, Utc};

/// The part of a row that was heard at one place.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Stay {
    /// Id of the position; `None` before the first arrival, or where nobody says it.
    pub(crate) position: Option<String>,
    /// First time heard there.
    pub(crate) first: Option<Utc>,
    /// Last time heard there.
    pub(crate) last: Option<Utc>,
    /// Events of a log logged there, by time.
    pub(crate) events: Vec<AtomEvent>,
}

/// The places at which a row was heard, in order of time; one without events or visits.
pub(crate) fn stays_of(input: &Input, capture: &Capture, row: usize) -> Vec<Stay> {
    let mut events: Vec<usize> =
        (0..capture.events.len()).filter(|&i| capture.events[i].row as usize == row).collect();
    if events.is_empty() {
        let at = |seconds: f64| capture.start.map(|start| start.plus_seconds(seconds));
        let found = &capture.rows[row];
        return vec![Stay {
            position: capture.position.clone(),
            first: at(found.first_s),
            last: at(found.last_s),
            events: Vec::new(),
        }];
    }
    events.sort_by_key(|&i| {
        let event = &capture.events[i].event;
        (event.start.from, event.line)
    });
    let chances: Vec<Vec<(Option<String>, f64)>> =
        events.iter().map(|&i| places_of(input, capture, i)).collect();
    let certain = certain_strengths(capture, &events, &chances);
    let mut stays: Vec<Stay> = Vec::new();
    for (&index, places) in events.iter().zip(&chances) {
        let (position, p_here) = match &places[..] {
            [only] => only.clone(),
            _ => likeliest(&weighed(capture, index, places, &certain)),
        };
        let event = &capture.events[index].event;
        let last = event.start.until.plus_seconds(event.duration_s.unwrap_or(0.0));
        let entry = AtomEvent { index, p_here };
        match stays.iter_mut().find(|stay| stay.position == position) {
            Some(stay) => {
                stay.last = stay.last.max(Some(last));
                stay.events.push(entry);
            }
            None => stays.push(Stay {
                position,
                first: Some(event.start.from),
                last: Some(last),
                events: vec![entry],
            }),
        }
    }
    stays
}

/// Standard deviation of strengths at one place, as a part of the scale: a step and a half of
/// twelve (common practice, no source).
const STRENGTH_SD: f64 = 0.125;
/// How much less likely a place is at which the row is not known to have been heard.
const UNHEARD: f64 = 0.05;

/// Strengths, as parts of their scale, at each place where the row was heard for certain.
fn certain_strengths(
    capture: &Capture,
    events: &[usize],
    chances: &[Vec<(Option<String>, f64)>],
) -> Vec<(Option<String>, Vec<f64>)> {
    let mut certain: Vec<(Option<String>, Vec<f64>)> = Vec::new();
    for (&index, places) in events.iter().zip(chances) {
        let [(place, _)] = &places[..] else { continue };
        let strength = capture.events[index].event.strength.map(|s| s.value / s.of);
        match certain.iter_mut().find(|(known, _)| known == place) {
            Some((_, strengths)) => strengths.extend(strength),
            None => certain.push((place.clone(), strength.into_iter().collect())),
        }
    }
    certain
}

/// The chances of a doubtful event's places, given what was heard there for certain: places that
/// heard the row draw it, most those that heard it as strong.
fn weighed(
    capture: &Capture,
    index: usize,
    places: &[(Option<String>, f64)],
    certain: &[(Option<String>, Vec<f64>)],
) -> Vec<(Option<String>, f64)> {
    let strength = capture.events[index].event.strength.map(|s| s.value / s.of);
    let weight = |place: &Option<String>| {
        let Some((_, there)) = certain.iter().find(|(known, _)| known == place) else {
            return UNHEARD;
        };
        match strength {
            Some(strength) if !there.is_empty() => {
                let mean = there.iter().sum::<f64>() / there.len() as f64;
                (-0.5 * ((strength - mean) / STRENGTH_SD).powi(2)).exp().max(UNHEARD)
            }
            _ => 1.0,
        }
    };
    let weights: Vec<f64> = places.iter().map(|(place, p)| p * weight(place)).collect();
    let sum: f64 = weights.iter().sum();
    places.iter().zip(weights).map(|((place, _), w)| (place.clone(), w / sum)).collect()
}

/// The first of the likeliest places: the earlier visit where they are equal.
fn likeliest(places: &[(Option<String>, f64)]) -> (Option<String>, f64) {
    let mut best = (None, 0.0);
    for (place, p) in places {
        if *p > best.1 {
            best = (place.clone(), *p);
        }
    }
    best
}

/// Every place at which an event may have been logged, with its probability; one for most.
fn places_of(input: &Input, capture: &Capture, index: usize) -> Vec<(Option<String>, f64)> {
    let event = &capture.events[index].event;
    if let Some(named) = &event.position {
        // A log names a place in its own words.
        let known = input.positions.iter().find(|p| p.id == *named || p.name == *named);
        return vec![(Some(known.map_or(named, |p| &p.id).clone()), 1.0)];
    }
    if capture.visits.is_empty() {
        return vec![(capture.position.clone(), 1.0)];
    }
    let mut shares: Vec<(Option<String>, f64)> = Vec::new();
    for visit in &capture.visits {
        let p = share_in(&event.start, visit);
        if p <= 0.0 {
            continue;
        }
        match shares.iter_mut().find(|(place, _)| place.as_deref() == Some(&*visit.position)) {
            Some((_, sum)) => *sum += p,
            None => shares.push((Some(visit.position.clone()), p)),
        }
    }
    let sum: f64 = shares.iter().map(|(_, p)| p).sum();
    if sum <= 0.0 {
        return vec![(None, 1.0)];
    }
    shares.iter_mut().for_each(|(_, p)| *p /= sum);
    shares
}

/// Probability that a moment somewhere in `span` lies in a visit whose ends are known to the step
/// of the clock that they were noted with, all moments of either taken as equally likely.
fn share_in(span: &TimeSpan, visit: &Visit) -> f64 {
    let width = span.until.seconds_since(span.from).max(1e-9);
    let step = visit.clock_step_s.max(0.0);
    // P(arrived by t) rises over [from, from + step), P(left by t) over [until, until + step).
    let by = |t: f64, edge: f64| match step {
        s if s > 0.0 => ((t - edge) / s).clamp(0.0, 1.0),
        _ => f64::from(u8::from(t >= edge)),
    };
    let (from, until) = (visit.from.seconds_since(span.from), visit.until.seconds_since(span.from));
    const PARTS: u32 = 64;
    let mean = (0..PARTS)
        .map(|k| (f64::from(k) + 0.5) * width / f64::from(PARTS))
        .map(|t| by(t, from) - by(t, until))
        .sum::<f64>()
        / f64::from(PARTS);
    mean.max(0.0)
}
