//! What is said of when, and to which bands, a detector listened, against the rows of its log.

use crate::things::{Capture, Chain};
use crate::{SurveyError, parts, record};
use rusqlite::Connection;
use units::{Band, Reason, TimeSpan, Utc};

/// Tells how many rows of a log, named `file`, lie outside what is said of its listening.
///
/// # Errors
/// If all lie outside its time: then the time is wrong, and nothing would be left of the log.
pub(crate) fn against_rows(
    db: &Connection,
    file: &str,
    rows: &[(TimeSpan, Option<Band>)],
    capture: &Capture,
) -> Result<Vec<Reason>, SurveyError> {
    let chains: Vec<Chain> = record::all(db)?;
    let chain = chains.iter().find(|chain| chain.name == capture.chain);
    let clock_s = parts::clock_of(capture, chain);
    let own = |at: Option<Utc>| at.map(|at| at.plus_seconds(-clock_s));
    let (from, until) = (own(capture.from), own(capture.until));
    let mut warnings = Vec::new();
    let late = rows.iter().filter(|(at, _)| !at.may_lie(from, until)).count();
    let first = rows.iter().map(|(at, _)| at.from).min();
    let last = rows.iter().map(|(at, _)| at.from).max();
    if let (Some(first), Some(last), true) = (first, last, late > 0) {
        let of = format!("{late} of {} rows", rows.len());
        let told = format!("the log runs from {first} to {last}");
        if late == rows.len() {
            return Err(SurveyError::refused(
                format!("{file}: {of} lie outside the listening time ({told})"),
                "Correct --from and --until.",
            ));
        }
        let text = format!("{of} lie outside the listening time and count for nothing ({told}).");
        warnings.push(Reason::new("rows_outside_time", text).with("rows", late as f64));
    }
    let heard = |band: &Band| capture.bands.iter().any(|b| b.overlap(band).is_some());
    let bands = rows.iter().filter_map(|(_, band)| band.as_ref());
    let elsewhere = bands.filter(|band| !heard(band)).count();
    if !capture.bands.is_empty() && elsewhere > 0 {
        let text = format!(
            "{elsewhere} of {} rows lie in none of the bands that --bands names.",
            rows.len()
        );
        warnings.push(Reason::new("rows_outside_bands", text).with("rows", elsewhere as f64));
    }
    Ok(warnings)
}
