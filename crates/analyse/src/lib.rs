//! One recording through the floors; owns the machine contract `stillroom.analysis/1`.

mod contract;

pub use contract::{
    Analysis, BurstRow, EmissionRow, RecordingAnalysis, RecordingInfo, SegmentInfo,
};
