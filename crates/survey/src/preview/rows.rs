//! Rows of a table as they were understood.

use crate::error::{RecordingFault, SurveyError};
use capture::table::TraceFile;
use serde::Serialize;
use units::{Band, Event, LevelUnit, Strength, Trace, Traces, Utc};

/// A row of a log, or one swept spectrum, as understood.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct RowSeen {
    /// Line of the file, of a log.
    pub line: Option<u64>,
    /// Not before.
    pub from: Option<Utc>,
    /// Before this: the step of its clock.
    pub until: Option<Utc>,
    /// How long it lasted, seconds.
    pub duration_s: Option<f64>,
    /// Where in frequency.
    pub band: Option<Band>,
    /// The log's own word for that.
    pub label: Option<String>,
    /// Frequencies of a spectrum.
    pub points: Option<u64>,
    /// Strength.
    pub strength: Option<Strength>,
    /// Level; of a spectrum its highest.
    pub level_db: Option<f64>,
    /// Unit of the level: dBm, dBFS or dBuV.
    pub level_unit: Option<&'static str>,
    /// Position.
    pub position: Option<String>,
    /// Setting.
    pub setting: Option<String>,
    /// Bearing, degrees from north.
    pub bearing_deg: Option<f64>,
    /// What was heard.
    pub heard: Option<String>,
    /// Free text.
    pub note: Option<String>,
}

fn word(unit: LevelUnit) -> &'static str {
    match unit {
        LevelUnit::Dbm => "dBm",
        LevelUnit::Dbfs => "dBFS",
        LevelUnit::Dbuv => "dBuV",
    }
}

impl RowSeen {
    pub(super) fn of_event(event: &Event) -> RowSeen {
        RowSeen {
            line: Some(event.line),
            from: Some(event.start.from),
            until: Some(event.start.until),
            duration_s: event.duration_s,
            band: event.band,
            label: event.label.clone(),
            points: None,
            strength: event.strength,
            level_db: event.level.map(|(level, _)| level),
            level_unit: event.level.map(|(_, unit)| word(unit)),
            position: event.position.clone(),
            setting: event.setting.clone(),
            bearing_deg: event.bearing_deg,
            heard: event.heard.clone(),
            note: event.note.clone(),
        }
    }

    fn of_trace(trace: &Trace, unit: LevelUnit) -> RowSeen {
        let edges = trace.frequencies_hz.first().zip(trace.frequencies_hz.last());
        let highest = trace.levels_db.iter().copied().fold(f32::NAN, f32::max);
        RowSeen {
            from: trace.start,
            duration_s: trace.sweep_s,
            band: edges.map(|(&low_hz, &high_hz)| Band { low_hz, high_hz }),
            points: Some(trace.frequencies_hz.len() as u64),
            level_db: highest.is_finite().then_some(f64::from(highest)),
            level_unit: Some(word(unit)),
            ..RowSeen::default()
        }
    }
}

/// The first traces of a table. What was read before one that cannot be stays.
pub(super) fn of_traces(
    mut traces: TraceFile,
    most: usize,
    rows: &mut Vec<RowSeen>,
) -> Result<(), SurveyError> {
    let unit = traces.unit();
    while rows.len() < most {
        match traces.next_trace() {
            Ok(Some(trace)) => rows.push(RowSeen::of_trace(&trace, unit)),
            Ok(None) => break,
            Err(error) => {
                let fault = RecordingFault::Input;
                return Err(SurveyError::Recording { cause: Box::new(error), fault });
            }
        }
    }
    Ok(())
}
