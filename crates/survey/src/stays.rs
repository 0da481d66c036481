//! Where captures were, from when to when: what was carried about is cut by movements.

use crate::survey::Survey;
use crate::things::{Capture, Chain, Movement};
use crate::{SurveyError, parts, record};
use units::Utc;

/// A capture, or one part of it, at one position.
#[derive(Debug, Clone, PartialEq)]
pub struct Stay {
    /// Id of the capture in the ledger (`C1`, or `C1.2` for a part derived on its own).
    pub capture: String,
    /// Id of the position; `None` for one without an antenna, or that nobody placed.
    pub position: Option<String>,
    /// From when, clock corrected.
    pub from: Utc,
    /// Until when.
    pub until: Utc,
}

impl Survey {
    /// Where each capture was, from when to when; one that nobody can time is not in it.
    ///
    /// # Errors
    /// If the record cannot be read.
    pub fn stays(&self) -> Result<Vec<Stay>, SurveyError> {
        self.read(|db| {
            let chains = record::all::<Chain>(db)?;
            let movements = parts::movements(db)?;
            let mut stays = Vec::new();
            for capture in record::all::<Capture>(db)? {
                let chain = chains.iter().find(|chain| chain.name == capture.chain);
                stays.extend(stays_of(&capture, parts::clock_of(&capture, chain), &movements));
            }
            Ok(stays)
        })
    }
}

fn stays_of(capture: &Capture, clock_s: f64, movements: &[Movement]) -> Vec<Stay> {
    let Some((start, stop)) = parts::span_of(capture, clock_s) else { return Vec::new() };
    let stay = |capture: &str, position: Option<String>, from, until| Stay {
        capture: capture.to_owned(),
        position,
        from,
        until,
    };
    let parts = parts::parts_of(capture, clock_s, movements);
    if parts.iter().any(|part| part.range_s.is_some()) {
        let parts = parts.into_iter().filter_map(|part| {
            let (from, until) = part.range_s?;
            let (from, until) = (start.plus_seconds(from), start.plus_seconds(until));
            Some(stay(&part.id, part.position, from, until))
        });
        return parts.collect();
    }
    let visits = parts::visits_of(capture, clock_s, movements);
    if visits.is_empty() {
        return vec![stay(&capture.id, capture.position.clone(), start, stop)];
    }
    let visits = visits.into_iter();
    visits.map(|v| stay(&capture.id, Some(v.position), v.from, v.until)).collect()
}
