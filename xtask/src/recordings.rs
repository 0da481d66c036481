//! The collection of real recordings: its index, and how each of them is opened. The files are no
//! part of this project.

use crate::schemas::workspace;
use anyhow::Context;
use capture::table::propose;
use capture::{OpenOptions, RawFormat, TreatAs};
use std::path::{Path, PathBuf};

/// A row of its index.csv, as far as the scoreboards need it.
#[derive(Debug, Clone, serde::Deserialize)]
pub struct Row {
    /// Short name.
    pub id: String,
    /// Relative to the folder.
    pub path: String,
    /// iq, frames, sweep or sound.
    pub kind: String,
    /// Of the file, hex.
    pub sha256: String,
    /// Sample format, or the file's in words.
    pub format: String,
    /// Samples a second; blank for none.
    pub sample_rate_hz: Option<f64>,
    /// Blank where not known.
    pub centre_hz: Option<f64>,
    /// How many; blank where not known.
    pub emitters: String,
    /// Measured by those who gathered it, or 'unclear'.
    pub measured_centre_offset_hz: String,
    /// The same.
    pub measured_bandwidth_hz: String,
}

/// Where the collection lies, if it is there.
pub fn folder() -> Option<PathBuf> {
    let default = workspace().join("../shared/recordings");
    let folder = std::env::var_os("STILLROOM_RECORDINGS").map_or(default, PathBuf::from);
    folder.join("index.csv").is_file().then_some(folder)
}

/// Its index.
pub fn rows(folder: &Path) -> anyhow::Result<Vec<Row>> {
    let mut reader = csv::Reader::from_path(folder.join("index.csv")).context("index.csv")?;
    Ok(reader.deserialize().collect::<Result<_, _>>()?)
}

impl Row {
    /// Its name on pages: folder and the beginning of its SHA-256. Ids may hold makers' names.
    pub fn page_name(&self) -> String {
        let group = Path::new(&self.path).iter().nth(1).unwrap_or_default().to_string_lossy();
        format!("{group}-{}", self.sha256.get(..8).unwrap_or(&self.sha256))
    }
    /// Whether it holds the samples of another row once more.
    pub fn repeats(&self) -> bool {
        self.id.ends_with("-sigmf")
    }
    /// How it is opened: what the index says goes over what the file says, and a table's columns
    /// are what the readers propose, as a person would take it.
    pub fn options(&self, folder: &Path) -> OpenOptions {
        let proposal = (self.kind == "sweep")
            .then(|| propose(&folder.join(&self.path), &OpenOptions::default()).ok().flatten())
            .flatten();
        let format: Option<RawFormat> = self.format.parse().ok();
        let wav_iq = self.format == "wav_iq";
        OpenOptions {
            format,
            rate_hz: if format.is_some() || wav_iq { self.sample_rate_hz } else { None },
            centre_hz: if format.is_some() { self.centre_hz } else { None },
            treat_as: wav_iq.then_some(TreatAs::Iq),
            mapping: proposal.map(|proposal| proposal.mapping),
            ..OpenOptions::default()
        }
    }
    /// Centre (offset from the recording's) and width of its only emitter, where both are known.
    pub fn truth(&self) -> Option<(f64, f64)> {
        let only = self.emitters == "1";
        let centre = self.measured_centre_offset_hz.parse().ok()?;
        Some((centre, self.measured_bandwidth_hz.parse().ok()?)).filter(|_| only)
    }
}
