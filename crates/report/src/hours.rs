//! Hours worked, as CSV (RFC 4180), from the journal and the record. A survey does not clock anybody
//! in: each row says what its time is made of, so that a person can correct it.

use crate::facts::{Facts, FactsError};
use crate::zoned::Zoned;
use std::collections::BTreeMap;
use units::Utc;

/// Between two traces of work that lie closer than this, work went on (common practice, no source),
/// seconds.
const PAUSE_S: f64 = 3600.0;
/// What the program writes by itself is nobody's work.
const PROGRAM: &str = "stillroom";

/// A stretch of work, or of recording.
struct Stretch {
    from: Utc,
    until: Utc,
    traces: u64,
}

/// The hours: columns `kind`, `who`, `date`, `from`, `until`, `hours`, `traces`, `made_of`.
/// Kind *desk* is entries of the journal, *on site* is notes and movements; in both, entries less
/// than an hour apart are one stretch, and what was done before the first or after the last of them
/// is not in it. Kind *recording* is recorders running, which may have run alone.
///
/// # Errors
/// If the survey's time zone is not known.
pub fn hours(facts: &Facts) -> Result<String, FactsError> {
    let when = Zoned::of(&facts.record.survey.time_zone)?;
    let mut table = csv::Writer::from_writer(Vec::new());
    let heads = ["kind", "who", "date", "from", "until", "hours", "traces", "made_of"];
    table.write_record(heads)?;
    let mut write = |kind: &str, who: &str, stretches: Vec<Stretch>, made_of: &str| {
        for stretch in stretches {
            let hours = stretch.until.seconds_since(stretch.from) / 3600.0;
            let columns = [
                kind,
                who,
                &when.date(stretch.from),
                &when.second(stretch.from),
                &when.second(stretch.until),
                &format!("{hours:.2}"),
                &stretch.traces.to_string(),
                made_of,
            ];
            table.write_record(columns)?;
        }
        Ok::<(), csv::Error>(())
    };
    let mut desk: BTreeMap<&str, Vec<(Utc, Utc)>> = BTreeMap::new();
    for entry in facts.journal.iter().filter(|entry| entry.by != PROGRAM) {
        if let Ok(at) = Utc::parse(&entry.time) {
            desk.entry(&entry.by).or_default().push((at, at));
        }
    }
    for (who, traces) in desk {
        write("desk", who, stretches(traces), "entries of the journal, less than an hour apart")?;
    }
    let technician = facts.record.survey.technician.as_deref().unwrap_or("not stated");
    write(
        "on site",
        technician,
        stretches(noted(facts)),
        "movements, readings, stimuli and log notes, less than an hour apart",
    )?;
    let recorded = facts.ledger.captures.iter().filter(|capture| capture.set_aside.is_none());
    let recorded = recorded.filter_map(|c| Some((c.start?, c.stop?))).collect();
    write(
        "recording",
        technician,
        stretches(recorded),
        "recorders running, less than an hour apart; not work unless somebody stood by",
    )?;
    let bytes = table.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// When something was noted by hand.
fn noted(facts: &Facts) -> Vec<(Utc, Utc)> {
    let record = &facts.record;
    let moment = |at: Utc| (at, at);
    let movements = record.movements.iter().map(|movement| moment(movement.at));
    let readings = record.readings.iter().filter_map(|reading| reading.at.map(moment));
    let stimuli = record.stimuli.iter().map(|s| (s.from, s.until.unwrap_or(s.from)));
    let remarks = record.remarks.iter().filter_map(|r| Some((r.at?, r.until.or(r.at)?)));
    movements.chain(readings).chain(stimuli).chain(remarks).collect()
}

/// Traces of work put together.
fn stretches(mut traces: Vec<(Utc, Utc)>) -> Vec<Stretch> {
    traces.sort();
    let mut found: Vec<Stretch> = Vec::new();
    for (from, until) in traces {
        match found.last_mut().filter(|last| from.seconds_since(last.until) < PAUSE_S) {
            Some(last) => {
                last.until = last.until.max(until);
                last.traces += 1;
            }
            None => found.push(Stretch { from, until: until.max(from), traces: 1 }),
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pause_of_an_hour_ends_a_stretch() {
        let at = |minutes: f64| Utc(0).plus_seconds(60.0 * minutes);
        let traces = [0.0, 59.0, 30.0, 119.0, 200.0].map(|m| (at(m), at(m))).to_vec();
        let found = stretches(traces);
        let spans: Vec<_> = found.iter().map(|s| (s.from, s.until, s.traces)).collect();
        assert_eq!(
            spans,
            [(at(0.0), at(59.0), 3), (at(119.0), at(119.0), 1), (at(200.0), at(200.0), 1)]
        );
    }
}
