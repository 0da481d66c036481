//! Event logs of hand-held detectors and readings noted by a person: each row an event.

use super::cells::Cells;
use super::mapping::Mapping;
use super::sheet::Sheet;
use super::timeline::{self, Timeline};
use crate::{CaptureError, OpenOptions, Opened, Place, Recording};
use units::{Band, Event, Reason, TimeSpan, Utc};

/// The most rows of an event log: no detector stores so many, and they are kept in memory.
const MOST_EVENTS: usize = 500_000;

/// The rows of an event log or of readings, in the order of time; rows of one stamp in the order
/// in which they were exported (a log that lists the newest first is turned round).
#[derive(Debug, Clone, Default)]
pub struct EventLog {
    /// Its rows.
    pub events: Vec<Event>,
    /// Positions that its rows name, in the order of first mention.
    pub positions: Vec<String>,
    /// Whether a person noted them: rows with a position and no duration.
    pub is_readings: bool,
}

/// One row, before what only the whole column tells is known.
pub(super) struct Raw {
    pub(super) event: Event,
    /// A single frequency and the step of its last digit, hertz.
    pub(super) frequency: Option<(f64, f64)>,
    /// Whether the band has no unit of its own.
    pub(super) bare_band: bool,
    /// Whether a text was no UTF-8.
    pub(super) not_utf8: bool,
}

pub(super) fn open(
    sheet: &Sheet,
    mapping: &Mapping,
    options: &OpenOptions,
) -> Result<Opened, CaptureError> {
    let mut cells = Cells::new(sheet, mapping)?;
    let timed = mapping.time.is_some() || mapping.date.is_some();
    if !timed && options.start.is_none() {
        return Err(CaptureError::refused(
            &sheet.file,
            Place::Whole,
            "no column says when its rows were received",
            "time=COLUMN in the mapping",
            "Name the column, or give one time for all of them with --start TIME.",
        ));
    }
    let mut times = Timeline::new(sheet, mapping, options)?;
    let mut warnings = Vec::new();
    let mut raws: Vec<Raw> = Vec::new();
    let mut rows = sheet.rows();
    while let Some(row) = rows.next()? {
        let read = sheet
            .check_width(&row, cells.needed.max(times.needed))
            .and_then(|()| times.read(sheet, &row))
            .and_then(|stamp| cells.read(sheet, &row, stamp));
        match read {
            Ok(raw) => raws.push(raw),
            Err(_) if row.cut && !raws.is_empty() => {
                warnings.push(timeline::last_row_cut(row.line))
            }
            Err(e) => return Err(e),
        }
        if raws.len() > MOST_EVENTS {
            return Err(sheet.wrong_row(
                raws.last().map_or(0, |raw| raw.event.line),
                format!("the log has more than {MOST_EVENTS} rows"),
                "the log of a hand-held detector",
                "If these are swept spectra, say shape=…; else split the file.",
            ));
        }
    }
    if raws.is_empty() {
        return Err(CaptureError::refused(
            &sheet.file,
            Place::Whole,
            "it holds a header and no rows",
            "at least one",
            "The log was empty when it was exported: look for another copy.",
        ));
    }
    warnings.extend(times.warnings());
    warnings.extend(warnings_of(&raws));
    let mut events = finish_frequencies(raws);
    if times.finish_clock(&mut events) {
        warnings.push(Reason::new(
            "clock_to_the_minute",
            "every stamp has 0 seconds: its clock is taken to show whole minutes",
        ));
    }
    in_order(&mut events, &mut warnings);
    if let (Some(said), Some(first)) = (options.start, events.first().map(|e| e.start.from)) {
        // The first in time, which a log may list last.
        let shift_ns = said.0.saturating_sub(first.0);
        for span in events.iter_mut().map(|e| &mut e.start) {
            span.from = Utc(span.from.0.saturating_add(shift_ns));
            span.until = Utc(span.until.0.saturating_add(shift_ns));
        }
    }
    Ok(opened(sheet, mapping, events, warnings))
}

fn opened(sheet: &Sheet, mapping: &Mapping, events: Vec<Event>, warnings: Vec<Reason>) -> Opened {
    let start = events.iter().map(|e| e.start.from).min();
    let end = |e: &Event| e.start.from.plus_seconds(e.duration_s.unwrap_or(0.0));
    let stop = events.iter().map(end).max();
    let duration_s =
        start.zip(stop).map_or(0.0, |(start, stop): (Utc, Utc)| stop.seconds_since(start));
    let mut positions: Vec<String> = Vec::new();
    for position in events.iter().filter_map(|e| e.position.as_ref()) {
        if !positions.contains(position) {
            positions.push(position.clone());
        }
    }
    let is_readings = mapping.position.is_some() && mapping.duration.is_none();
    Opened {
        recording: Recording::Events(EventLog { events, positions, is_readings }),
        files: vec![sheet.file.clone()],
        data_file: sheet.file.clone(),
        format: if is_readings { "readings" } else { "event-log" }.to_owned(),
        duration_s,
        start,
        claims: Vec::new(),
        warnings,
    }
}

/// A single frequency stands for half a step of the column's finest either side.
fn finish_frequencies(raws: Vec<Raw>) -> Vec<Event> {
    let steps = raws.iter().filter_map(|raw| raw.frequency).map(|(_, step_hz)| step_hz);
    let step_hz = steps.fold(f64::INFINITY, f64::min);
    let with_band = |raw: Raw| {
        let mut event = raw.event;
        if let Some((hz, _)) = raw.frequency {
            event.band = Some(Band::around(hz, step_hz));
        }
        event
    };
    raws.into_iter().map(with_band).collect()
}

fn warnings_of(raws: &[Raw]) -> Vec<Reason> {
    let mut warnings = Vec::new();
    if let Some(raw) = raws.iter().find(|raw| raw.bare_band) {
        let label = raw.event.label.as_deref().unwrap_or("");
        warnings.push(
            Reason::new(
                "band_in_megahertz",
                format!(
                    "bands are named without a unit ('{label}'): taken as MHz, as detectors do"
                ),
            )
            .with("band", label),
        );
    }
    let nowhere = raws.iter().filter(|r| r.event.band.is_none() && r.frequency.is_none()).count();
    if nowhere > 0 {
        warnings.push(
            Reason::new(
                "frequency_unknown",
                format!("{nowhere} of {} rows tell no frequency and no band with one", raws.len()),
            )
            .with("rows", nowhere as f64),
        );
    }
    if let Some(raw) = raws.iter().find(|raw| raw.not_utf8) {
        let line = raw.event.line;
        warnings.push(
            Reason::new(
                "not_utf8",
                format!("line {line} is no UTF-8: its letters are read as ISO 8859-1"),
            )
            .with("line", line as f64),
        );
    }
    warnings
}

/// Puts the rows in order of time; a log that lists the newest first is turned round.
fn in_order(events: &mut [Event], warnings: &mut Vec<Reason>) {
    let pairs = events.windows(2).map(|w| w[0].start.from.cmp(&w[1].start.from));
    let (rises, falls) = pairs.fold((0, 0), |(rises, falls), order| match order {
        std::cmp::Ordering::Less => (rises + 1, falls),
        std::cmp::Ordering::Equal => (rises, falls),
        std::cmp::Ordering::Greater => (rises, falls + 1),
    });
    if falls > rises {
        events.reverse();
    }
    if falls > 0 && rises > 0 {
        events.sort_by_key(|e: &Event| e.start.from);
        warnings.push(Reason::new(
            "rows_not_in_order",
            "its rows are not in the order of time: they were put in order",
        ));
    }
}

/// The interval that a stamp allows.
pub(super) fn span(from: Utc, step_s: f64) -> TimeSpan {
    TimeSpan { from, until: from.plus_seconds(step_s) }
}
