//! Recordings, read and written. `open` tells what a file is by its content, and gives complex
//! samples, traces, events or sound with what the file says of itself; a file that is none of
//! these, or damaged, is refused in words. `write` makes recordings, `zarr` keeps overview tiles.

mod assemble;
pub mod disk;
mod error;
mod hash;
mod iq;
mod kind;
mod limits;
mod number;
mod open;
mod options;
mod raw;
pub mod sigmf;
mod sound;
pub mod source;
pub mod table;
mod wav;
pub mod write;
pub mod zarr;

pub use assemble::not_scaled_to_one;
pub use error::{CaptureError, Fault, Place, one_line};
pub use hash::{sha256_file, sha256_file_while};
pub use iq::IqRecording;
pub use number::{Number, NumberKind};
pub use open::{open, open_source};
pub use options::{Annotation, OpenOptions, Opened, RawFormat, Recording, TreatAs};
pub use sigmf::{Part, parts};
pub use sound::SoundFile;
pub use write::{StagedFile, scratch_file};
