//! Recordings, read and written. `open` tells what a file is by its content, and gives complex
//! samples, traces, events or sound with what the file says of itself; a file that is none of
//! these, or damaged, is refused in words. `write` makes recordings, `zarr` keeps overview tiles.

mod error;
mod hash;
mod iq;
mod number;
mod open;
mod options;
mod sound;
pub mod source;
pub mod table;

pub use error::{CaptureError, Fault, Place};
pub use hash::sha256_file;
pub use iq::IqRecording;
pub use number::{Number, NumberKind};
pub use open::open;
pub use options::{Annotation, OpenOptions, Opened, RawFormat, Recording, TreatAs};
pub use sound::SoundFile;
