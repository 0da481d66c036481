//! SigMF recordings (SigMF specification 1.2): metadata and data side by side, archives,
//! collections, non-conforming data sets. Annotations are the file's claims, no more.

mod archive;
mod fields;
mod layout;
mod metadata;
mod parts;

pub use archive::open_archive;
pub use metadata::Metadata;
pub use parts::{Part, parts};

use crate::assemble::{check_options, rate, recording};
use crate::hash::sha512_range;
use crate::iq::Rails;
use crate::limits::{A_RATE, is_rate, told};
use crate::source::{ByteSource, FileSource};
use crate::{CaptureError, OpenOptions, Opened, Place, Recording};
use fields::Fields;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use units::{Reason, Samples};

const META: &str = "sigmf-meta";
const DATA: &str = "sigmf-data";

/// Data up to this size are compared with the metadata's SHA-512 whenever they are opened; larger
/// ones would make every opening wait (SHA-512 runs at about 0.4 GB/s a core).
const CHECKED_BYTES: u64 = 256 << 20;

/// The metadata of a `.sigmf-data` file, where they stand beside it.
pub(crate) fn metadata_beside(path: &Path) -> Option<PathBuf> {
    let is_data = path.extension() == Some(OsStr::new(DATA));
    is_data.then(|| path.with_extension(META)).filter(|metadata| metadata.is_file())
}

/// Whether a file is named as SigMF data.
pub(crate) fn is_named_data(path: &Path) -> bool {
    path.extension() == Some(OsStr::new(DATA))
}

/// Whether a JSON file is a recording's metadata. A collection is refused with what it lists: it
/// is several recordings.
pub(crate) fn is_metadata(path: &Path, source: &dyn ByteSource) -> Result<bool, CaptureError> {
    let bytes = metadata::read_small(path, source)?;
    let value = metadata::parse_json(&bytes, path)?;
    if value.get("collection").is_some()
        && let Some(parts) = parts::collection(path, source)?
    {
        let name = |p: &Part| p.path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let names: Vec<String> = parts.iter().map(name).collect();
        return Err(CaptureError::refused(
            path,
            Place::Whole,
            format!("this is a collection of {} recordings: {}", names.len(), names.join(", ")),
            "one recording",
            "Name one of them.",
        ));
    }
    Ok(value.get("global").is_some() || path.extension() == Some(OsStr::new(META)))
}

/// Opens the recording that a metadata file describes.
pub(crate) fn open_pair(
    path: &Path,
    source: &dyn ByteSource,
    options: &OpenOptions,
) -> Result<Opened, CaptureError> {
    let metadata = Metadata::read(path, source)?;
    let global = metadata.global(path);
    let dataset = global.text("core:dataset")?;
    let data_file = match dataset {
        Some(name) => path.with_file_name(plain_name(name, &global)?),
        None => path.with_extension(DATA),
    };
    if !data_file.exists() {
        return Err(no_data(path, &data_file, global.flag("core:metadata_only")? == Some(true)));
    }
    let data: Arc<dyn ByteSource> = Arc::new(FileSource::open(&data_file)?);
    let mut opened = open_data(&metadata, path, data, &data_file, None, options)?;
    opened.files = vec![data_file, path.to_owned()];
    Ok(opened)
}

/// Opens `data` (bytes `window` of it: first and count; all of it if `None`) as `metadata` say.
///
/// # Errors
/// If metadata and data do not give a recording: which field, what is wrong, what to do.
pub fn open_data(
    metadata: &Metadata,
    metadata_path: &Path,
    data: Arc<dyn ByteSource>,
    data_file: &Path,
    window: Option<(u64, u64)>,
    options: &OpenOptions,
) -> Result<Opened, CaptureError> {
    check_options(metadata_path, options)?;
    let mut warnings = Vec::new();
    let global = metadata.global(metadata_path);
    let (first_byte, bytes) = window.unwrap_or((0, data.size()));
    check_channels(&global)?;
    let number = metadata::number(&global, &mut warnings)?;
    let stated_hz = match options.rate_hz {
        // A person's word may stand in for a rate that cannot be read.
        Some(_) => global.number("core:sample_rate").unwrap_or(None),
        None => global.number("core:sample_rate")?,
    };
    let rate_hz = rate(stated_hz, options, &mut warnings)
        .filter(|&hz| is_rate(hz))
        .ok_or_else(|| no_rate(&global, stated_hz))?;
    if !options.again {
        check_hash(&global, &*data, data_file, (first_byte, bytes), &mut warnings)?;
    }
    let laid = layout::lay_out(
        metadata,
        metadata_path,
        number,
        (first_byte, bytes),
        options,
        &mut warnings,
    )?;
    let segments = layout::with_times(laid.segments, &laid.global_index, rate_hz, options.start);
    let rails =
        Rails { source: data, file: data_file.to_owned(), number, stretches: laid.stretches };
    let iq = recording(rails, rate_hz, segments, options, &mut warnings)?;
    let claims = metadata::claims(metadata, metadata_path, laid.shift, &mut warnings);
    if let Some(beyond) = claims.iter().find(|c| c.first_sample >= iq.len()) {
        warnings.push(
            Reason::new(
                "claim_beyond_end",
                format!(
                    "an annotation is about sample {}, but the recording has {}",
                    beyond.first_sample,
                    iq.len()
                ),
            )
            .with("sample", beyond.first_sample as f64),
        );
    }
    Ok(Opened {
        files: vec![data_file.to_owned()],
        data_file: data_file.to_owned(),
        format: format!("sigmf {}", number.complex_name()),
        duration_s: iq.duration_s(),
        start: iq.segments.first().and_then(|s| s.start),
        claims,
        warnings,
        recording: Recording::Iq(iq),
    })
}

fn check_channels(global: &Fields) -> Result<(), CaptureError> {
    match global.index("core:num_channels")? {
        None | Some(1) => Ok(()),
        Some(n) => Err(global.refuse(
            "core:num_channels",
            format!("it holds {n} channels"),
            "1",
            "Split it into one recording a channel (a SigMF collection), and name those.",
        )),
    }
}

/// Compares the data with the hash in the metadata. A difference is a warning: either may be the
/// one that changed, and the samples are still evidence of something.
fn check_hash(
    global: &Fields,
    data: &dyn ByteSource,
    data_file: &Path,
    (first, bytes): (u64, u64),
    warnings: &mut Vec<Reason>,
) -> Result<(), CaptureError> {
    let Some(stated) = global.text("core:sha512")? else { return Ok(()) };
    if bytes > CHECKED_BYTES {
        return Ok(());
    }
    let found = sha512_range(data, data_file, first, bytes)?.unwrap_or_default();
    if !stated.eq_ignore_ascii_case(&found) {
        warnings.push(
            Reason::new(
                "sha512_differs",
                "the SHA-512 of the data is not the one in its metadata: one of the two was changed \
                 after recording",
            )
            .with("stated", stated)
            .with("found", found),
        );
    }
    Ok(())
}

/// A file name without folders, as the specification wants it: nothing may point elsewhere.
fn plain_name<'a>(name: &'a str, global: &Fields) -> Result<&'a str, CaptureError> {
    let plain = Path::new(name).file_name() == Some(OsStr::new(name)) && !name.contains('\\');
    plain.then_some(name).ok_or_else(|| {
        global.refuse(
            "core:dataset",
            format!("'{name}' is no plain file name"),
            "the name of a file in the same folder",
            "Put the data beside the metadata and correct the field.",
        )
    })
}

#[cold]
fn no_rate(global: &Fields, stated: Option<f64>) -> CaptureError {
    let found =
        stated.map_or("no sample rate is stated".to_owned(), |hz| format!("it is {}", told(hz)));
    global.refuse("core:sample_rate", found, A_RATE, "Say --rate HZ.")
}

#[cold]
fn no_data(metadata: &Path, data: &Path, on_purpose: bool) -> CaptureError {
    let name = data.file_name().unwrap_or_default().to_string_lossy();
    let found = if on_purpose {
        format!("it is metadata alone (core:metadata_only), without '{name}'")
    } else {
        format!("its data file '{name}' is missing")
    };
    CaptureError::refused(
        metadata,
        Place::Whole,
        found,
        "samples",
        "Copy the data beside the metadata: without it there is nothing to analyse.",
    )
}

#[cold]
pub(crate) fn no_metadata(data: &Path) -> CaptureError {
    let metadata = data.with_extension(META);
    CaptureError::refused(
        data,
        Place::Whole,
        format!(
            "its metadata file '{}' is missing",
            metadata.file_name().unwrap_or_default().to_string_lossy()
        ),
        "metadata beside the data",
        "Copy it there, or say --format, --rate and --centre.",
    )
}
