//! The case on disk: evidence files, the record of what people said, and what was derived.
//!
//! - **Evidence** never changes: bytes brought in, kept under their SHA-256 (`folder`, `add`).
//! - **Record** is what people said (`things`); every change is one entry of a hash-chained journal
//!   (`journal`), written in the same transaction, and the record follows from the journal alone.
//! - **Derived** is everything computed (`derive`, `jobs`); it may be deleted and loses nothing.
//!
//! The ledger is a function of record and derived (`settle`). A command line and a page are two
//! faces of the calls of [`Survey`].

mod add;
mod amend;
mod apart;
mod around;
mod at_once;
mod authorised;
mod cannot_say;
mod canonical;
mod checks;
mod clock;
mod covered;
mod create;
mod database;
mod decide;
mod derive;
mod derive_part;
mod derived_files;
mod describe;
mod error;
mod evidence;
mod fault;
mod floors;
mod folder;
mod hand;
mod images;
mod incoming;
mod jobs;
mod journal;
mod movements;
mod note;
mod on_times;
mod overview;
mod parts;
mod pen;
mod photograph;
mod places;
mod preview;
mod reanalyse;
mod record;
mod reported;
mod settle;
mod sight;
mod stays;
mod strays;
mod survey;
mod things;
mod undo;
mod verify;
pub mod words;

pub use add::{AddOptions, Added};
pub use amend::{Amend, Field};
pub use analyse::{Progress, Quiet, plane};
pub use around::{Around, OverTime, Seen, Shown};
pub use authorised::{OutsideTime, outside_rooms, outside_time, rooms_heard, rooms_not_heard};
pub use cannot_say::cannot_say;
pub use checks::{CheckHeard, checks};
pub use clock::time_in;
pub use covered::{Covered, InCondition, covered};
pub use create::NewSurvey;
pub use database::when_waiting;
pub use decide::Verdict;
pub use derive::{Derived, Deriver, Look, Named, Parameters, Task};
pub use describe::{Difference, Record};
pub use error::{RecordingFault, SurveyError};
pub use fault::{Fault, Verification};
pub use hand::{Joining, Parting};
pub use images::{Image, ImageKind};
pub use incoming::Incoming;
pub use jobs::Job;
pub use journal::{Change, Entry};
pub use note::{Note, ReadingNote};
pub use on_times::{BurstsHeard, OnTimes, TimedBurst, Window};
pub use overview::{Coverage, Overview, Stage, StageName, StageState};
pub use photograph::PlaceOf;
pub use preview::{Preview, Proposed, RowSeen, SamplesSeen, TableSeen, Wrong};
pub use reanalyse::Changes;
pub use reported::Reported;
pub use sight::{Allocation, Sight, allocations};
pub use stays::Stay;
pub use survey::Survey;
pub use things::*;
pub use undo::Undoable;
