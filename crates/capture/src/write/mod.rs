//! Writing recordings: SigMF, WAV and CSV event logs, each whole or not there.

mod rows;
mod sigmf;
mod staged;
mod wav;

pub use rows::RowWriter;
pub use sigmf::{SigmfMeta, SigmfWriter};
pub use staged::{StagedFile, scratch_file};
pub(crate) use staged::{sync_folder, write_whole};
pub use wav::WavWriter;
