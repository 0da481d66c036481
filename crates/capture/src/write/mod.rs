//! Writing recordings: SigMF, WAV and CSV event logs, each whole or not there.

mod sigmf;
mod staged;

pub use sigmf::{SigmfMeta, SigmfWriter};
pub use staged::StagedFile;
pub(crate) use staged::write_whole;
