//! What can go wrong.

use capture::CaptureError;
use detect::DetectError;
use std::path::PathBuf;
use units::ReadError;

/// Why a recording could not be analysed.
#[derive(Debug, thiserror::Error)]
pub enum AnalyseError {
    /// The file is not usable as it is, or the disk will not.
    #[error(transparent)]
    Capture(#[from] CaptureError),
    /// Reading failed half-way.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// It can be read, but there is nothing in it to analyse.
    #[error("{}: {what}. {remedy}", capture::one_line(&.file.to_string_lossy()))]
    Refused {
        /// Which file.
        file: PathBuf,
        /// What it is.
        what: String,
        /// A whole sentence.
        remedy: String,
    },
    /// An option that means nothing.
    #[error(transparent)]
    Detect(DetectError),
    /// A temporary file for bursts.
    #[error("could not keep the bursts in a temporary file: {0}")]
    Scratch(#[source] std::io::Error),
    /// The caller stopped it.
    #[error("stopped before the end of the recording")]
    Cancelled,
}

impl AnalyseError {
    /// Whether the disk failed, rather than the input.
    pub fn is_disk(&self) -> bool {
        match self {
            AnalyseError::Capture(error) => error.is_disk(),
            AnalyseError::Read(error) => error
                .source
                .as_deref()
                .and_then(|cause| cause.downcast_ref::<CaptureError>())
                .is_some_and(CaptureError::is_disk),
            AnalyseError::Scratch(_) => true,
            _ => false,
        }
    }
}

impl From<DetectError> for AnalyseError {
    fn from(error: DetectError) -> Self {
        match error {
            DetectError::Read(error) => AnalyseError::Read(error),
            DetectError::Stopped => AnalyseError::Cancelled,
            other => AnalyseError::Detect(other),
        }
    }
}
