//! What a caller may choose.

use almanac::Region;
use capture::OpenOptions;
use std::path::PathBuf;
use units::{Band, Dbm, Utc};

/// What a caller says of a recording, and wants of its analysis.
#[derive(Debug, Clone, Default)]
pub struct AnalyseOptions {
    /// What a person says over the file's metadata.
    pub open: OpenOptions,
    /// Where it was recorded, for allocations.
    pub region: Region,
    /// Calibration of the chain: dBm at its antenna connector of 0 dBFS. For samples only.
    pub full_scale: Option<Dbm>,
    /// When and where an event log listened.
    pub listening: Listening,
    /// Only this part, seconds from the recording's start; times then count from the part's.
    pub range_s: Option<(f64, f64)>,
    /// SHA-256 of the data file, where it is known already; else it is hashed.
    pub sha256: Option<String>,
    /// Look for what is fainter than any cell shows as well ([`detect::Options::faint`]). For samples
    /// only.
    pub faint: bool,
    /// Rows that noise alone may make in an hour of samples; none for as many as by default.
    pub false_alarms_per_hour: Option<f64>,
    /// Keep every burst.
    pub bursts: bool,
    /// Where bursts are kept that memory does not hold: a temporary file beside this path, on its
    /// disk; in the working folder where it is empty.
    pub bursts_near: PathBuf,
    /// Search deeper as well, for what only the whole recording added up shows: slow. For samples
    /// only.
    pub deep: bool,
    /// Folder to write the overview into, as Zarr; made if it is not there.
    pub overview: Option<PathBuf>,
}

/// What is known of a log besides its rows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Listening {
    /// It listened from here on, by its own clock.
    pub from: Option<Utc>,
    /// Until here.
    pub until: Option<Utc>,
    /// The bands that it listened to; none where nobody says.
    pub bands: Vec<Band>,
}
