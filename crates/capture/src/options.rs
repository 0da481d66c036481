//! What a person says about a file when opening it, and what opening it gives.

use crate::iq::IqRecording;
use crate::sound::SoundFile;
use crate::table::{EventLog, Mapping, TraceFile};
use std::path::PathBuf;
use std::str::FromStr;
use units::{Reason, Utc};

/// Sample format of a file without a header.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RawFormat {
    /// Unsigned bytes, I then Q, middle 127.5.
    Cu8,
    /// Signed bytes.
    Ci8,
    /// Signed 16-bit, little-endian.
    Ci16Le,
    /// 32-bit float, little-endian.
    Cf32Le,
}

impl RawFormat {
    /// The word for it.
    pub fn name(self) -> &'static str {
        match self {
            RawFormat::Cu8 => "cu8",
            RawFormat::Ci8 => "ci8",
            RawFormat::Ci16Le => "ci16_le",
            RawFormat::Cf32Le => "cf32_le",
        }
    }
}

impl FromStr for RawFormat {
    type Err = String;
    fn from_str(word: &str) -> Result<Self, String> {
        [RawFormat::Cu8, RawFormat::Ci8, RawFormat::Ci16Le, RawFormat::Cf32Le]
            .into_iter()
            .find(|format| format.name() == word)
            .ok_or_else(|| format!("'{word}' is not one of cu8, ci8, ci16_le, cf32_le"))
    }
}

/// What a sound-shaped file is to be taken as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TreatAs {
    /// Complex samples, left is I and right is Q.
    Iq,
    /// Sound.
    Sound,
}

/// What the person says about the file; what is `None` the file must say itself.
#[derive(Debug, Clone, Default)]
pub struct OpenOptions {
    /// The file has no header and holds samples of this format.
    pub format: Option<RawFormat>,
    /// Samples a second, over any rate in the file.
    pub rate_hz: Option<f64>,
    /// Centre frequency, over any in the file.
    pub centre_hz: Option<f64>,
    /// Time of the first sample, over any in the file.
    pub start: Option<Utc>,
    /// IANA time zone of stamps that carry no offset.
    pub time_zone: Option<String>,
    /// Take a two-channel WAV as IQ or as sound.
    pub treat_as: Option<TreatAs>,
    /// What the columns of a table mean.
    pub mapping: Option<Mapping>,
    /// Which recording of an archive that holds several, by its name inside.
    pub inner: Option<String>,
    /// It was opened before, and what it says of its own hash was compared then: that reads it whole.
    pub again: bool,
}

/// A file, opened and understood.
#[derive(Debug)]
pub struct Opened {
    /// What it holds.
    pub recording: Recording,
    /// The files that are evidence: data first, then metadata.
    pub files: Vec<PathBuf>,
    /// The file that holds samples or rows.
    pub data_file: PathBuf,
    /// `sigmf cf32_le`, `wav ci16_le`, `raw cu8`, `trace segment`, `event-log`, …
    pub format: String,
    /// From the first to the last sample, trace or event.
    pub duration_s: f64,
    /// Time of the first, where stated.
    pub start: Option<Utc>,
    /// What the file claims to contain. Shown to people, never used to detect.
    pub claims: Vec<Annotation>,
    /// What to distrust.
    pub warnings: Vec<Reason>,
}

/// What a file holds.
#[derive(Debug)]
pub enum Recording {
    /// Complex samples.
    Iq(IqRecording),
    /// Swept spectra.
    Traces(TraceFile),
    /// What a hand-held detector stored.
    Events(EventLog),
    /// Sound.
    Sound(SoundFile),
}

/// One claim of a file about a part of itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Annotation {
    /// First sample that it is about.
    pub first_sample: u64,
    /// Number of samples; `None` for the rest of the segment.
    pub samples: Option<u64>,
    /// Lower edge, absolute hertz.
    pub low_hz: Option<f64>,
    /// Upper edge.
    pub high_hz: Option<f64>,
    /// Short label.
    pub label: Option<String>,
    /// Comment.
    pub comment: Option<String>,
    /// Who or what made it.
    pub generator: Option<String>,
}
