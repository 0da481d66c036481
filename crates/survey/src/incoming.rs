//! A place inside the survey's folder where files arrive from elsewhere before they are brought in.

use crate::SurveyError;
use crate::folder::Staging;
use crate::survey::Survey;
use std::path::Path;

/// A folder of one's own on the survey's disk. It is removed with all that lies in it when dropped,
/// and swept by the next program if this one is killed: what was not brought in leaves nothing.
#[derive(Debug)]
pub struct Incoming(Staging);

impl Incoming {
    /// Where files are to be put; [`Survey::add`] takes them from there.
    pub fn path(&self) -> &Path {
        self.0.path()
    }
}

impl Survey {
    /// A folder for files that arrive.
    ///
    /// # Errors
    /// If the disk will not.
    pub fn incoming(&self) -> Result<Incoming, SurveyError> {
        self.folder.stage().map(Incoming)
    }
}
