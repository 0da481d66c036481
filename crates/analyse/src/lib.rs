//! One recording through the floors; owns the machine contract `stillroom.analysis/1`.
//!
//! [`analyse`] opens a file, detects what radiates in it (the first reading), cuts bounded excerpts
//! of that (the second), and says what each is.

mod analyse;
mod bursts;
mod contract;
mod deeper;
mod document;
mod error;
mod excerpts;
mod log;
mod options;
mod overview;
mod part;
pub mod plane;
mod progress;
mod round;
mod samples;
mod traces;

pub use almanac::Region;
pub use analyse::{Analysed, analyse, analyse_opened};
pub use bursts::BurstList;
pub use contract::{
    Analysis, BurstRow, EmissionRow, RecordingAnalysis, RecordingInfo, SegmentInfo,
};
pub use detect::{BandwidthIs, BurstSummary, Listened, Shape, Uncertainty};
pub use document::{Document, SCHEMA};
pub use error::AnalyseError;
pub use identify::Emission;
pub use options::{AnalyseOptions, Listening};
pub use progress::{Progress, Quiet};
