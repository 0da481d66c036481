//! What happens, as it happens: jobs, and that the survey has another version. Changes of other
//! programs are told like those of this one, since both are read from the journal.

use super::App;
use crate::call::In;
use crate::problem::Problem;
use crate::surveys::Open;
use axum::extract::{Path, State};
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_util::Stream;
use futures_util::stream::unfold;
use serde::Serialize;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::watch;
use tokio::task::{JoinHandle, spawn_blocking};
use tokio::time::{Interval, MissedTickBehavior, interval};
use utoipa::ToSchema;

/// How often it is looked whether something happened here.
const LOOKED_EVERY: Duration = Duration::from_millis(200);
/// How often at most the journal is looked at, which others may have written.
const JOURNAL_EVERY: Duration = Duration::from_secs(1);
/// After so long a silence a comment is sent, so that nobody takes the stream for broken.
const SILENT: Duration = Duration::from_secs(15);

/// The survey's version: number of the journal's last entry.
#[derive(Debug, Serialize)]
pub(crate) struct Version {
    /// Grows with every change.
    version: u64,
}

/// One event of the stream.
#[derive(Debug, ToSchema)]
#[expect(dead_code, reason = "it only describes what server-sent events look like")]
pub(crate) struct Told {
    /// `jobs` or `version`.
    event: String,
    /// JSON: all jobs as the list of jobs gives them, or `{"version": N}`.
    data: String,
}

struct Watched {
    open: Arc<Open>,
    jobs: watch::Receiver<u64>,
    ends: watch::Receiver<bool>,
    ticks: Interval,
    version: Option<u64>,
    looked: Option<Instant>,
    looking: Option<JoinHandle<Option<u64>>>,
}

/// Streams what happens, as server-sent events.
///
/// Event `jobs` holds all jobs as the list of jobs gives them, event `version` the number of the
/// journal's last entry. Both are sent at the beginning, then whenever they change.
#[utoipa::path(get, path = "/api/surveys/{survey}/events", tag = "jobs", params(In),
    responses((status = 200, description = "The stream.", body = Told,
        content_type = "text/event-stream")))]
pub(crate) async fn events(
    State(app): State<App>,
    Path(of): Path<In>,
) -> Result<Sse<impl Stream<Item = Result<Event, Infallible>>>, Problem> {
    let open = app.open(&of).await?;
    let mut jobs = open.jobs.changes();
    jobs.mark_changed();
    let mut ticks = interval(LOOKED_EVERY);
    ticks.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let ends = app.ends.clone();
    let watched = Watched { open, jobs, ends, ticks, version: None, looked: None, looking: None };
    let alive = KeepAlive::new().interval(SILENT);
    Ok(Sse::new(unfold(watched, next)).keep_alive(alive))
}

async fn next(mut watched: Watched) -> Option<(Result<Event, Infallible>, Watched)> {
    loop {
        let ended = async {
            let _ = watched.ends.wait_for(|ends| *ends).await;
        };
        tokio::select! {
            () = ended => return None,
            _ = watched.ticks.tick() => {}
        }
        let event = match watched.version().await {
            Some(version) => Event::default().event("version").json_data(Version { version }),
            None if watched.jobs.has_changed().unwrap_or(false) => {
                watched.jobs.mark_unchanged();
                Event::default().event("jobs").json_data(watched.open.jobs.all())
            }
            None => continue,
        };
        return Some((
            Ok(event.unwrap_or_else(|_| Event::default().comment("unreadable"))),
            watched,
        ));
    }
}

impl Watched {
    /// The version, if it is another than was told. Nobody waits while another program writes.
    async fn version(&mut self) -> Option<u64> {
        if self.looking.is_none() && self.looked.is_some_and(|at| at.elapsed() < JOURNAL_EVERY) {
            return None;
        }
        let open = self.open.clone();
        let looking = self.looking.get_or_insert_with(|| {
            self.looked = Some(Instant::now());
            spawn_blocking(move || open.survey.version().ok())
        });
        if !looking.is_finished() {
            return None;
        }
        let now = self.looking.take()?.await.ok().flatten()?;
        (self.version.replace(now) != Some(now)).then_some(now)
    }
}
