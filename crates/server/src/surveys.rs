//! Which surveys there are, and those that are open.

use crate::call::off;
use crate::jobs::{Jobs, Kind};
use crate::name::plain;
use crate::problem::{Code, Problem};
use crate::report_files::Made;
use crate::serve::Where;
use crate::uploads::Uploads;
use axum::http::StatusCode;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use survey::{NewSurvey, Survey, SurveyError};

/// The file by which a folder is known as a survey's.
const DATABASE: &str = "survey.sqlite";
/// Surveys that are listed.
const MOST_LISTED: usize = 1000;

/// A survey, open.
#[derive(Debug)]
pub(crate) struct Open {
    /// The survey.
    pub(crate) survey: Survey,
    /// Its long work.
    pub(crate) jobs: Arc<Jobs>,
    /// Files on their way in.
    pub(crate) uploads: Uploads,
    /// The report that was made last.
    report: Mutex<Option<Arc<Made>>>,
}

impl Open {
    fn new(survey: Survey, most_upload_bytes: u64) -> Result<Open, SurveyError> {
        let uploads = Uploads::of(&survey, most_upload_bytes)?;
        Ok(Open { survey, jobs: Arc::default(), uploads, report: Mutex::default() })
    }

    /// The report that was made last, if one was since the server began.
    pub(crate) fn report(&self) -> Option<Arc<Made>> {
        self.report.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Keeps a report in place of the one before.
    pub(crate) fn keep_report(&self, made: Made) {
        *self.report.lock().unwrap_or_else(PoisonError::into_inner) = Some(Arc::new(made));
    }

    /// Starts to analyse what waits for it, unless that is under way or nothing waits.
    pub(crate) fn analyse(self: &Arc<Self>) -> Result<(), Problem> {
        if self.jobs.is_running(Kind::Analysis) || self.survey.waiting()? == 0 {
            return Ok(());
        }
        let open = self.clone();
        self.jobs.start(Kind::Analysis, move |job| Ok(open.survey.finish_pending(job)?)).map(|_| ())
    }
}

/// The surveys that are served.
#[derive(Debug)]
pub(crate) struct Surveys {
    /// The folder that holds them; none where one alone is served.
    folder: Option<PathBuf>,
    open: Mutex<BTreeMap<String, Arc<Open>>>,
    most_upload_bytes: u64,
}

impl Surveys {
    pub(crate) fn new(which: Where, most_upload_bytes: u64) -> Result<Surveys, SurveyError> {
        let mut open = BTreeMap::new();
        let folder = match which {
            Where::Folder(folder) => Some(folder),
            Where::Survey(dir) => {
                let survey = Survey::open(&dir)?;
                open.insert(name_of(&dir), Arc::new(Open::new(survey, most_upload_bytes)?));
                None
            }
        };
        Ok(Surveys { folder, open: Mutex::new(open), most_upload_bytes })
    }

    fn opened(&self) -> MutexGuard<'_, BTreeMap<String, Arc<Open>>> {
        self.open.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The folder of a survey of this name, whether there is one or not.
    fn dir(&self, name: &str) -> Result<PathBuf, Problem> {
        let none = || {
            Problem::missing(
                format!("there is no survey '{name}' here"),
                "GET /api/surveys lists those that there are.",
            )
        };
        plain(name).map_err(|_| none())?;
        self.folder.as_ref().map(|folder| folder.join(name)).ok_or_else(none)
    }

    /// The survey of this name, opened if it is not yet. What waits in it is taken up again.
    pub(crate) async fn get(self: &Arc<Self>, name: &str) -> Result<Arc<Open>, Problem> {
        if let Some(open) = self.opened().get(name) {
            return Ok(open.clone());
        }
        let (surveys, name) = (self.clone(), name.to_owned());
        off(move || {
            let dir = surveys.dir(&name)?;
            if !is_survey(&dir) {
                return Err(Problem::missing(
                    format!("there is no survey '{name}' here"),
                    "GET /api/surveys lists those that there are.",
                ));
            }
            surveys.keep(name, Survey::open(&dir)?)
        })
        .await
    }

    /// Keeps a survey open; of two that opened it at once the first.
    fn keep(&self, name: String, survey: Survey) -> Result<Arc<Open>, Problem> {
        let open = match self.opened().entry(name) {
            Entry::Occupied(first) => first.get().clone(),
            // Under the lock: the one that takes what arrived is the one that stays.
            Entry::Vacant(free) => {
                free.insert(Arc::new(Open::new(survey, self.most_upload_bytes)?)).clone()
            }
        };
        open.analyse()?;
        Ok(open)
    }

    /// Starts a survey in a new folder.
    pub(crate) fn create(&self, name: &str, new: &NewSurvey) -> Result<Arc<Open>, Problem> {
        let Some(folder) = &self.folder else {
            return Err(alone());
        };
        let dir = folder.join(plain(name)?);
        // Not a word of what lies beside the surveys.
        if dir.symlink_metadata().is_ok() {
            return Err(Problem::conflict(
                format!("'{name}' is there already"),
                "Choose another name.",
            ));
        }
        self.keep(name.to_owned(), Survey::create(&dir, new)?)
    }

    /// Whether surveys can be started here.
    pub(crate) fn takes_more(&self) -> bool {
        self.folder.is_some()
    }

    /// The names of all surveys, and the folder of each that is not open.
    pub(crate) fn names(&self) -> Result<Vec<String>, Problem> {
        let Some(folder) = &self.folder else {
            return Ok(self.opened().keys().cloned().collect());
        };
        let entries = match std::fs::read_dir(folder) {
            Ok(entries) => entries,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(e) => {
                return Err(Problem::conflict(
                    format!("the surveys' folder could not be listed: {e}"),
                    "Check that it is there and may be read.",
                ));
            }
        };
        let mut names: Vec<String> = entries
            .filter_map(Result::ok)
            .filter(|entry| is_survey(&entry.path()))
            .filter_map(|entry| entry.file_name().into_string().ok())
            .filter(|name| plain(name).is_ok())
            .collect();
        names.sort();
        names.truncate(MOST_LISTED);
        Ok(names)
    }

    /// What a survey says of itself; one that is not open is not kept open for that.
    pub(crate) fn head(&self, name: &str) -> Result<survey::Head, Problem> {
        let open = self.opened().get(name).cloned();
        match open {
            Some(open) => Ok(open.survey.head()?),
            None => Ok(Survey::open(&self.dir(name)?)?.head()?),
        }
    }

    /// Asks all work to stop at a safe place.
    pub(crate) fn stop(&self) {
        for open in self.opened().values() {
            open.jobs.stop();
        }
    }
}

/// Whether a folder holds a survey. A link is not followed: it leads out of the surveys' folder.
fn is_survey(dir: &Path) -> bool {
    dir.symlink_metadata().is_ok_and(|found| found.is_dir()) && dir.join(DATABASE).is_file()
}

/// The name under which the one survey is served: its folder's.
fn name_of(dir: &Path) -> String {
    let whole = dir.canonicalize().unwrap_or_else(|_| dir.to_owned());
    let name = whole.file_name().map(|name| name.to_string_lossy().into_owned());
    name.filter(|name| plain(name).is_ok()).unwrap_or_else(|| "survey".to_owned())
}

/// That no survey is started where one alone is served.
pub(crate) fn alone() -> Problem {
    Problem::new(
        StatusCode::METHOD_NOT_ALLOWED,
        Code::Refused,
        "one survey alone is served here",
        "Start the program without a survey's folder (`serve`, or `serve --surveys FOLDER`) to start \
         others.",
    )
}
