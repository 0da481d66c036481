//! Long work of one survey. It runs on its own and outlives the request that asked for it; pages
//! that come and go see how far it is, and may cancel it. What must last lies in the survey: a
//! capture is acknowledged as it is stored, and what waits for analysis is taken up again after a
//! killed server.

mod told;

pub(crate) use told::{Imported, Job, JobState, Kind, Verification};

use crate::ids::Ids;
use crate::problem::{Code, Problem};
use axum::http::StatusCode;
use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::watch;

/// Jobs under way at once; each holds a thread.
const MOST_RUNNING: usize = 16;
/// Jobs that have ended and are still told.
const MOST_ENDED: usize = 50;
/// Progress is told at most so often.
const TOLD_EVERY: Duration = Duration::from_millis(100);

#[derive(Debug)]
struct Entry {
    job: Mutex<Job>,
    cancelled: AtomicBool,
}

impl Entry {
    fn job(&self) -> MutexGuard<'_, Job> {
        self.job.lock().unwrap_or_else(PoisonError::into_inner)
    }
    fn is_running(&self) -> bool {
        self.job().state == JobState::Running
    }
}

#[derive(Debug, Default)]
struct Listed {
    entries: VecDeque<Arc<Entry>>,
    ids: Ids,
    stopped: bool,
}

/// The jobs of one survey.
#[derive(Debug, Default)]
pub(crate) struct Jobs {
    listed: Mutex<Listed>,
    changed: watch::Sender<u64>,
}

impl Jobs {
    fn listed(&self) -> MutexGuard<'_, Listed> {
        self.listed.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// All that are told, oldest first.
    pub(crate) fn all(&self) -> Vec<Job> {
        self.listed().entries.iter().map(|entry| entry.job().clone()).collect()
    }

    /// Hears of every change.
    pub(crate) fn changes(&self) -> watch::Receiver<u64> {
        self.changed.subscribe()
    }

    /// One of them.
    pub(crate) fn get(&self, id: &str) -> Result<Job, Problem> {
        self.find(id).map(|entry| entry.job().clone())
    }

    fn find(&self, id: &str) -> Result<Arc<Entry>, Problem> {
        let found = self.listed().entries.iter().find(|entry| entry.job().id == id).cloned();
        found.ok_or_else(|| {
            Problem::missing(format!("there is no job {id}"), "The list of jobs has those told.")
        })
    }

    /// Whether one of this kind is under way.
    pub(crate) fn is_running(&self, kind: Kind) -> bool {
        self.listed().entries.iter().any(|entry| {
            let job = entry.job();
            job.kind == kind && job.state == JobState::Running
        })
    }

    /// Asks a job to stop at a safe place. One that has ended stays as it is.
    pub(crate) fn cancel(&self, id: &str) -> Result<Job, Problem> {
        let entry = self.find(id)?;
        entry.cancelled.store(true, Ordering::SeqCst);
        let job = entry.job().clone();
        Ok(job)
    }

    /// Asks all to stop, and starts no other.
    pub(crate) fn stop(&self) {
        let mut listed = self.listed();
        listed.stopped = true;
        for entry in &listed.entries {
            entry.cancelled.store(true, Ordering::SeqCst);
        }
    }

    /// Starts work on a thread of its own.
    pub(crate) fn start(
        self: &Arc<Self>,
        kind: Kind,
        work: impl FnOnce(&Working) -> Result<(), Problem> + Send + 'static,
    ) -> Result<Job, Problem> {
        let entry = self.list(kind)?;
        let job = entry.job().clone();
        let jobs = self.clone();
        let working = Working { entry, jobs, told: Mutex::new(Instant::now()), hidden: None };
        tokio::task::spawn_blocking(move || {
            let ended = catch_unwind(AssertUnwindSafe(|| work(&working)));
            working
                .end(ended.unwrap_or_else(|_| Err(Problem::internal("a job ended unexpectedly"))));
        });
        self.tell();
        Ok(job)
    }

    fn list(&self, kind: Kind) -> Result<Arc<Entry>, Problem> {
        let mut listed = self.listed();
        let running = listed.entries.iter().filter(|entry| entry.is_running()).count();
        if listed.stopped || running >= MOST_RUNNING {
            return Err(Problem::new(
                StatusCode::SERVICE_UNAVAILABLE,
                Code::Busy,
                if listed.stopped { "the server is ending" } else { "too much is under way" },
                "Wait until something has ended, then ask again.",
            ));
        }
        let job = Job {
            id: listed.ids.next('J'),
            kind,
            state: JobState::Running,
            what: "waiting".into(),
            done: 0,
            of: 0,
            imported: Vec::new(),
            pictures: Vec::new(),
            verification: None,
            reanalysed: None,
            problem: None,
        };
        let entry = Arc::new(Entry { job: Mutex::new(job), cancelled: AtomicBool::new(false) });
        listed.entries.push_back(entry.clone());
        while listed.entries.len() > MOST_ENDED + running + 1 {
            let Some(oldest) = listed.entries.iter().position(|entry| !entry.is_running()) else {
                break;
            };
            listed.entries.remove(oldest);
        }
        Ok(entry)
    }

    fn tell(&self) {
        self.changed.send_modify(|n| *n = n.wrapping_add(1));
    }
}

/// What a job's work tells, and by which it hears that it is cancelled.
pub(crate) struct Working {
    entry: Arc<Entry>,
    jobs: Arc<Jobs>,
    told: Mutex<Instant>,
    hidden: Option<String>,
}

impl Working {
    /// The same, telling nothing of this path.
    pub(crate) fn hiding(&self, path: String) -> Working {
        let (entry, jobs) = (self.entry.clone(), self.jobs.clone());
        Working { entry, jobs, told: Mutex::new(Instant::now()), hidden: Some(path) }
    }

    /// Changes what is told of the job.
    pub(crate) fn tell(&self, change: impl FnOnce(&mut Job)) {
        change(&mut self.entry.job());
        self.jobs.tell();
    }

    fn end(&self, ended: Result<(), Problem>) {
        self.tell(|job| match ended {
            Ok(()) => {
                job.state = JobState::Done;
                job.done = job.of;
            }
            Err(problem) if problem.is_cancelled() => job.state = JobState::Cancelled,
            Err(problem) => {
                job.state = JobState::Failed;
                job.problem = Some(problem);
            }
        });
    }
}

impl survey::Progress for Working {
    fn step(&self, done: u64, of: u64, what: &str) {
        let bare = self.hidden.as_ref().map(|path| what.replace(path, ""));
        let what = bare.as_deref().unwrap_or(what);
        let mut job = self.entry.job();
        let other = job.what != what;
        if other {
            what.clone_into(&mut job.what);
        }
        (job.done, job.of) = (done, of);
        drop(job);
        let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        if other || told.elapsed() >= TOLD_EVERY {
            *told = Instant::now();
            drop(told);
            self.jobs.tell();
        }
    }
    fn cancelled(&self) -> bool {
        self.entry.cancelled.load(Ordering::SeqCst)
    }
}
