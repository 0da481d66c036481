//! The HTTP API of surveys, for a page on the same machine: the same calls as the command line.
//!
//! Nothing is decided here. `api` has one file for each resource, from a request to a call of
//! [`survey::Survey`] and back; `surveys` knows which surveys there are and keeps them open; `jobs`
//! runs long work that outlives a closed tab; `uploads` takes files in; `planes` keeps
//! what is looked at open; `guard` lets nothing in but a
//! page of this server on this machine; `problem` is how every error is told (RFC 9457).
//! `docs/openapi.json` is written from the routes (`openapi`) and committed.

mod api;
mod call;
mod contract;
mod guard;
mod ids;
mod jobs;
mod name;
#[cfg(feature = "schema")]
mod openapi;
mod page;
mod planes;
mod problem;
mod prompt;
mod report_files;
mod serve;
mod surveys;
mod uploads;
mod wording;

#[cfg(feature = "schema")]
pub use openapi::openapi;
pub use serve::{Bound, Config, ServeError, Where};
