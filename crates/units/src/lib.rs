//! Quantities and plain data that every floor shares: decibels, times, bands, places, samples,
//! traces, events. No input or output, no file format, no algorithm beyond unit conversion.

mod band;
mod decibel;
mod event;
mod place;
mod reason;
mod samples;
mod trace;
mod utc;

pub use band::Band;
pub use decibel::{Db, Dbfs, Dbm, db_from_ratio, ratio_from_db};
pub use event::{Event, Strength, TimeSpan};
pub use place::{Position, Zone};
pub use reason::{Reason, Value};
pub use samples::{Iq, ReadError, Samples, Segment};
pub use trace::{LevelUnit, Trace, Traces};
pub use utc::{Utc, UtcError};
