//! What a file would be read as, before it is brought in: its kind as its content tells it, a table's
//! mapping and first rows as understood, and what is wrong, in words.

mod rows;

pub use rows::RowSeen;

use crate::error::{RecordingFault, SurveyError};
use crate::floors::{from_capture, options};
use crate::survey::Survey;
use crate::things::Overrides;
use capture::table::{self, TableHead};
use capture::{CaptureError, Fault, Recording};
use ledger::CaptureKind;
use serde::Serialize;
use std::path::Path;
use units::{Reason, Samples, Utc};

/// Rows that are shown.
const SHOWN: usize = 20;
/// Fields of a row that are shown as they stand.
const FIELDS: usize = 50;
/// Centre frequencies that are told.
const CENTRES: usize = 100;

/// What a file would be read as.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Preview {
    /// What was recorded; null where that could not be told.
    pub kind: Option<CaptureKind>,
    /// What the file holds, in words.
    pub format: Option<String>,
    /// Time of the first sample, trace or event, where stated.
    pub start: Option<Utc>,
    /// From the first to the last.
    pub duration_s: Option<f64>,
    /// Of samples.
    pub samples: Option<SamplesSeen>,
    /// Of a table.
    pub table: Option<TableSeen>,
    /// The first rows or traces, as understood.
    pub rows: Vec<RowSeen>,
    /// Rows in all, of a log.
    pub rows_in_all: Option<u64>,
    /// Positions that rows name.
    pub positions: Vec<String>,
    /// What to distrust.
    pub warnings: Vec<Reason>,
    /// Why it would not be brought in so; empty if it would.
    pub wrong: Vec<Wrong>,
}

/// Samples as understood.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SamplesSeen {
    /// Samples a second.
    pub rate_hz: f64,
    /// Samples in all.
    pub samples: u64,
    /// Centre frequencies met, the first hundred, in order.
    pub centres_hz: Vec<f64>,
    /// Stretches of one centre frequency without a gap.
    pub segments: u64,
}

/// A table as it stands there, and what it seems to be.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct TableSeen {
    /// Its first rows, titles and header among them, each as its fields.
    pub rows: Vec<Vec<String>>,
    /// What it seems to be; null where nothing tells what the columns are.
    pub proposal: Option<Proposed>,
    /// The mapping by which `rows` of the preview were understood; null where none could be used.
    pub read_with: Option<String>,
}

/// A mapping for a person to confirm.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Proposed {
    /// The mapping, as it is said back: `KEY=COLUMN[:UNIT],…`
    pub columns: String,
    /// The table's columns by number and name.
    pub named: Vec<String>,
    /// What was assumed, each a sentence.
    pub assumed: Vec<String>,
    /// Whether the steps of the strength's scale are a guess: a person must say them.
    pub guesses_scale: bool,
    /// Whether it leaves nothing to confirm: the table is read so without being asked.
    pub is_certain: bool,
}

/// Something wrong, and what to do.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Wrong {
    /// What, and where in the file.
    pub what: String,
    /// What a person can do.
    pub remedy: String,
}

impl Survey {
    /// What a file would be read as with what is said over its metadata. Nothing is brought in.
    ///
    /// # Errors
    /// If the disk will not. What is wrong with the file is part of the preview.
    pub fn preview(&self, file: &Path, said: &Overrides) -> Result<Preview, SurveyError> {
        let mut said = said.clone();
        if said.time_zone.is_none() {
            said.time_zone = Some(self.head()?.time_zone);
        }
        let mut preview = Preview::default();
        let seen = look(file, &mut said, &mut preview);
        match seen {
            Err(SurveyError::Recording { cause, fault: RecordingFault::Input }) => {
                preview.wrong.push(match cause.downcast::<CaptureError>().map(|error| *error) {
                    Ok(CaptureError::Refused(fault)) => wrong(*fault),
                    Ok(error) => Wrong { what: error.to_string(), remedy: String::new() },
                    Err(other) => Wrong { what: other.to_string(), remedy: String::new() },
                });
            }
            Err(SurveyError::Refused { what, remedy }) => {
                preview.wrong.push(Wrong { what, remedy });
            }
            other => other?,
        }
        Ok(preview)
    }
}

fn wrong(fault: Fault) -> Wrong {
    let remedy = fault.remedy.clone();
    let told = Fault { remedy: String::new(), ..fault }.to_string();
    Wrong { what: told.trim_end_matches([' ', '.']).to_owned(), remedy }
}

fn look(file: &Path, said: &mut Overrides, preview: &mut Preview) -> Result<(), SurveyError> {
    // What is said may be unreadable itself.
    options(file, said)?;
    let head = match said.format {
        None => table::head(file).map_err(from_capture)?,
        Some(_) => None,
    };
    if let Some(head) = &head {
        if said.columns.is_none() {
            said.columns = head.proposal.as_ref().map(|proposal| proposal.mapping.to_string());
        }
        preview.table = Some(table_seen(head, said.columns.clone()));
    }
    let opened = capture::open(file, &options(file, said)?).map_err(from_capture)?;
    preview.format = Some(opened.format);
    preview.start = opened.start;
    preview.duration_s = Some(opened.duration_s);
    preview.warnings = opened.warnings;
    preview.kind = Some(match opened.recording {
        Recording::Iq(iq) => {
            let seen = samples_seen(&iq);
            if iq.segments().iter().any(|segment| segment.centre_hz.is_none()) {
                preview.wrong.push(Wrong {
                    what: "nobody states the centre frequency of these samples".into(),
                    remedy: "Say it, in hertz.".into(),
                });
            }
            preview.samples = Some(seen);
            CaptureKind::Iq
        }
        Recording::Traces(traces) => {
            rows::of_traces(traces, SHOWN, &mut preview.rows)?;
            CaptureKind::Traces
        }
        Recording::Events(log) => {
            preview.rows = log.events.iter().take(SHOWN).map(RowSeen::of_event).collect();
            preview.rows_in_all = Some(log.events.len() as u64);
            preview.positions = log.positions;
            if log.is_readings { CaptureKind::Readings } else { CaptureKind::EventLog }
        }
        Recording::Sound(sound) => {
            preview.samples = Some(SamplesSeen {
                rate_hz: sound.sample_rate_hz(),
                samples: sound.len(),
                centres_hz: Vec::new(),
                segments: 1,
            });
            CaptureKind::Sound
        }
    });
    Ok(())
}

fn table_seen(head: &TableHead, read_with: Option<String>) -> TableSeen {
    let fields = |row: &Vec<String>| row.iter().take(FIELDS).cloned().collect();
    TableSeen {
        rows: head.rows.iter().take(SHOWN + 1).map(fields).collect(),
        proposal: head.proposal.as_ref().map(|proposal| Proposed {
            columns: proposal.mapping.to_string(),
            named: proposal.columns.clone(),
            assumed: proposal.assumed.clone(),
            guesses_scale: proposal.guesses_scale(),
            is_certain: head.is_certain,
        }),
        read_with,
    }
}

fn samples_seen(iq: &impl Samples) -> SamplesSeen {
    let mut centres_hz: Vec<f64> = Vec::new();
    for centre_hz in iq.segments().iter().filter_map(|segment| segment.centre_hz) {
        if centres_hz.len() < CENTRES && !centres_hz.contains(&centre_hz) {
            centres_hz.push(centre_hz);
        }
    }
    SamplesSeen {
        rate_hz: iq.sample_rate_hz(),
        samples: iq.len(),
        centres_hz,
        segments: iq.segments().len() as u64,
    }
}
