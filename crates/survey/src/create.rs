//! Starting a survey.

use crate::SurveyError;
use crate::clock::{machine_zone, now, zone};
use crate::database;
use crate::derive::Deriver;
use crate::floors::{Floors, check_region};
use crate::folder::Folder;
use crate::journal::{self, Change};
use crate::pen::writer;
use crate::survey::Survey;
use crate::things::{Head, Thing};
use serde_json::Map;
use std::path::{Path, PathBuf};

/// What a new survey is started with.
#[derive(Debug, Clone)]
pub struct NewSurvey {
    /// Name or code name; the folder's name without.
    pub name: Option<String>,
    /// Region for allocations; WORLD without.
    pub region: Option<String>,
    /// IANA time zone; the machine's without.
    pub time_zone: Option<String>,
    /// The technician; 'unstated' without.
    pub by: Option<String>,
}

impl Survey {
    /// Starts a survey in a folder that is empty or not there yet.
    ///
    /// # Errors
    /// If something is there already, the region or time zone is not known, or the disk will not.
    pub fn create(dir: &Path, new: &NewSurvey) -> Result<Survey, SurveyError> {
        Self::create_with(dir, new, Box::new(Floors))
    }

    /// [`Survey::create`], with another analysis than this program's. For tests.
    #[doc(hidden)]
    pub fn create_with(
        dir: &Path,
        new: &NewSurvey,
        deriver: Box<dyn Deriver>,
    ) -> Result<Survey, SurveyError> {
        let folder = Folder::at(dir);
        if folder.database().exists() {
            return Err(database::holds_one_already(dir));
        }
        if dir.exists() && !dir.is_dir() {
            return Err(SurveyError::refused(
                format!("{} is a file, and a survey is a folder", dir.display()),
                "Choose another name.",
            ));
        }
        if dir.is_dir() && !is_left_over(dir)? {
            return Err(SurveyError::refused(
                format!("{} is not empty", dir.display()),
                "Choose a new folder, so that the survey's files stay among themselves.",
            ));
        }
        let time_zone = match &new.time_zone {
            Some(name) => zone(name)?.0,
            None => machine_zone(),
        };
        let region = new.region.clone().unwrap_or_else(|| "WORLD".into());
        check_region(&region)?;
        let fallback = dir.file_name().map(|name| name.to_string_lossy().into_owned());
        let said = |text: &Option<String>| {
            text.as_ref().map(|text| text.trim().to_owned()).filter(|text| !text.is_empty())
        };
        let name = said(&new.name).or(fallback).unwrap_or_else(|| "survey".into());
        let now = now();
        let technician = said(&new.by);
        let head = Head { id: String::new(), name, region, time_zone, technician, started: now };
        head.check()?;
        folder.make()?;
        database::create(&folder, |db| {
            let id = db
                .query_row("SELECT lower(hex(randomblob(16)))", [], |row| row.get(0))
                .map_err(|e| SurveyError::database(&folder.database(), "make an id", e))?;
            let by = writer(said(&new.by).as_deref().unwrap_or_default(), None);
            let change = Change {
                kind: "survey".into(),
                id: "survey".into(),
                was: None,
                is: Some(crate::canonical::value_of(&Head { id, ..head })?),
            };
            journal::append(db, &now.to_string(), &by, "new", Map::new(), &[change]).map(|_| ())
        })?;
        Self::open_with(dir, deriver)
    }
}

/// Whether a folder holds only what a killed `new` leaves.
fn is_left_over(dir: &Path) -> Result<bool, SurveyError> {
    let list = |path: &Path| -> Result<Vec<PathBuf>, SurveyError> {
        std::fs::read_dir(path)
            .and_then(|entries| entries.map(|entry| entry.map(|e| e.path())).collect())
            .map_err(|e| SurveyError::disk(path, "list it", e))
    };
    for path in list(dir)? {
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned());
        let ours = match name.as_deref() {
            Some("evidence" | "derived") => path.is_dir() && list(&path)?.is_empty(),
            Some("staging" | "staging.lock" | "jobs.lock") => true,
            _ => false,
        };
        if !ours {
            return Ok(false);
        }
    }
    Ok(true)
}
