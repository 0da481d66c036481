//! The document that `analyse --json` prints, with bursts that need not fit in memory.

use crate::{Analysed, BurstList, RecordingAnalysis};
use serde::Serialize;

/// The name of the contract.
pub const SCHEMA: &str = "stillroom.analysis/1";

/// Analyses as the document of [`crate::Analysis`]; bursts are read from where they wait while it
/// is written.
#[derive(Debug, Serialize)]
pub struct Document<'a> {
    schema: &'static str,
    recordings: Vec<Part<'a>>,
}

#[derive(Debug, Serialize)]
struct Part<'a> {
    #[serde(flatten)]
    analysis: &'a RecordingAnalysis,
    /// Last, as the contract says.
    #[serde(skip_serializing_if = "Option::is_none")]
    burst_list: Option<&'a BurstList>,
}

impl<'a> Document<'a> {
    /// Of these recordings, in this order.
    pub fn new(recordings: &'a [Analysed]) -> Self {
        let part =
            |one: &'a Analysed| Part { analysis: &one.analysis, burst_list: one.bursts.as_ref() };
        Document { schema: SCHEMA, recordings: recordings.iter().map(part).collect() }
    }
}
