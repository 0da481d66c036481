//! Where a capture was, when: movements cut a recording that was carried about into stays, and
//! a recording of samples or traces is then analysed stay by stay, each a part of its own.

use crate::SurveyError;
use crate::record;
use crate::things::{Capture, Chain, Movement};
use ledger::{CaptureKind, Role, Visit};
use rusqlite::Connection;
use units::Utc;

/// A capture, or one stay of it, that is derived from on its own.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Part {
    /// `C1`, or `C1.2` for its second stay.
    pub(crate) id: String,
    /// Where.
    pub(crate) position: Option<String>,
    /// Seconds from the recording's start; the whole without.
    pub(crate) range_s: Option<(f64, f64)>,
}

/// All movements, by time.
pub(crate) fn movements(db: &Connection) -> Result<Vec<Movement>, SurveyError> {
    let mut movements = record::all::<Movement>(db)?;
    movements.sort_by_key(|movement| movement.at);
    Ok(movements)
}

/// What must be added to a capture's times: its own correction and its chain's.
pub(crate) fn clock_of(capture: &Capture, chain: Option<&Chain>) -> f64 {
    capture.clock_s + chain.and_then(|chain| chain.clock_s).unwrap_or(0.0)
}

/// Start and end of a capture, clock corrected; a log's listening time where it is stated.
pub(crate) fn span_of(capture: &Capture, clock_s: f64) -> Option<(Utc, Utc)> {
    let recorded = capture.start.map(|start| start.plus_seconds(clock_s));
    if !capture.is_log() {
        let start = recorded.or(capture.from)?;
        return Some((start, start.plus_seconds(capture.duration_s)));
    }
    let start = capture.from.or(recorded)?;
    let stop = capture.until.or(recorded.map(|at| at.plus_seconds(capture.duration_s)));
    Some((start, stop.unwrap_or(start).max(start)))
}

/// The stays of a capture that no one position holds: from one movement to the next, within it.
pub(crate) fn visits_of(capture: &Capture, clock_s: f64, movements: &[Movement]) -> Vec<Visit> {
    if capture.position.is_some() || capture.role == Role::NoAntenna {
        return Vec::new();
    }
    let Some((start, stop)) = span_of(capture, clock_s) else { return Vec::new() };
    let own: Vec<&Movement> = movements
        .iter()
        .filter(|m| m.chain.as_ref().is_none_or(|chain| *chain == capture.chain))
        .collect();
    let mut visits = Vec::new();
    for (i, movement) in own.iter().enumerate() {
        let left = own.get(i + 1).map_or(stop, |next| next.at.min(stop));
        let from = movement.at.max(start);
        if from < left {
            visits.push(Visit {
                position: movement.position.clone(),
                from,
                until: left,
                clock_step_s: movement.clock_step_s.unwrap_or_else(|| step_of(movement.at)),
            });
        }
    }
    visits
}

/// A time on a whole minute was noted to the minute (common practice, no source).
pub(crate) fn step_of(at: Utc) -> f64 {
    if at == at.floor_to_minute() { 60.0 } else { 0.0 }
}

/// What is derived on its own: the capture as a whole, or its stays where it is a recording of
/// samples or traces that was carried about. What was recorded before the first stay belongs to
/// no place and is left out.
pub(crate) fn parts_of(capture: &Capture, clock_s: f64, movements: &[Movement]) -> Vec<Part> {
    let whole = Part { id: capture.id.clone(), position: capture.position.clone(), range_s: None };
    if !matches!(capture.kind, CaptureKind::Iq | CaptureKind::Traces) {
        return vec![whole];
    }
    let visits = visits_of(capture, clock_s, movements);
    let Some((start, _)) = span_of(capture, clock_s) else { return vec![whole] };
    if visits.is_empty() {
        return vec![whole];
    }
    visits
        .iter()
        .enumerate()
        .map(|(i, visit)| Part {
            id: format!("{}.{}", capture.id, i + 1),
            position: Some(visit.position.clone()),
            range_s: Some((visit.from.seconds_since(start), visit.until.seconds_since(start))),
        })
        .collect()
}

/// Whether anybody says where a capture was: a position, its rows, or movements within its time.
pub(crate) fn has_place(db: &Connection, capture: &Capture) -> Result<bool, SurveyError> {
    if capture.position.is_some() || capture.role == Role::NoAntenna || !capture.places.is_empty() {
        return Ok(true);
    }
    let chains = record::all::<Chain>(db)?;
    let chain = chains.iter().find(|chain| chain.name == capture.chain);
    let clock_s = clock_of(capture, chain);
    Ok(!visits_of(capture, clock_s, &movements(db)?).is_empty())
}

/// The refusal of a capture that would be nowhere.
#[cold]
pub(crate) fn nowhere(what: &str) -> SurveyError {
    SurveyError::refused(
        format!(
            "{what}: nobody says where this was recorded: no --at, no position in its rows, and no \
             movement within its time"
        ),
        "Give --at POSITION, or note the movements first (`note --arrived POSITION --when TIME`).",
    )
}
