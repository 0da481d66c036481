//! The client's report. A survey's record, ledger and journal become one content model, and writers
//! turn that into pages.
//!
//! `facts` gathers from an opened survey all that a report says; `build` makes of it, as a pure
//! function, the content (`model`): sections, tables, figures, each statement marked as a fact, a
//! calculation or an opinion. Two writers show it: `html` as one self-contained page, `pdf` as a tagged
//! document for keeping, both with the pictures of `draw`. `hours` lists the time worked. `words` and `zoned` turn numbers and moments into what people read.
//!
//! Nothing here writes a file.

mod build;
mod draw;
mod escape;
mod facts;
mod hours;
mod html;
mod model;
#[cfg(feature = "pdf")]
mod pdf;
mod photograph;
mod words;
mod zoned;

pub use build::{full, interim};
pub use facts::{Facts, FactsError};
pub use hours::hours;
pub use html::html;
pub use model::*;
#[cfg(feature = "pdf")]
pub use pdf::{Attachment, PdfError, pdf};
