//! Evidence files that are pictures: which they are, and which kind, as their content tells it.

mod whole;

use crate::survey::Survey;
use crate::things::{Floor, FoundItem, Photograph};
use crate::{SurveyError, record};
use ledger::FileInfo;
use std::fs::File;
use std::io::{BufReader, Read};
use std::path::{Path, PathBuf};

/// Kinds of picture that are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ImageKind {
    /// Portable Network Graphics (W3C PNG, 5.2).
    Png,
    /// JPEG (ITU-T T.81, B.1.1.3).
    Jpeg,
    /// Scalable Vector Graphics (W3C SVG 2).
    Svg,
}

/// A picture among the evidence.
#[derive(Debug, Clone, PartialEq)]
pub struct Image {
    /// Where it lies.
    pub path: PathBuf,
    /// Its kind.
    pub kind: ImageKind,
    /// Name that it came in under.
    pub name: String,
}

/// Bytes looked at to tell a kind.
const HEAD_BYTES: u64 = 4096;

impl ImageKind {
    /// What a file is, by how it begins; `None` for what is none of these.
    fn of(path: &Path) -> Result<Option<ImageKind>, SurveyError> {
        let mut head = Vec::new();
        let read = File::open(path).and_then(|file| file.take(HEAD_BYTES).read_to_end(&mut head));
        read.map_err(|e| SurveyError::disk(path, "read it", e))?;
        let text = String::from_utf8_lossy(&head);
        let text = text.trim_start_matches('\u{feff}').trim_start();
        Ok(match head.as_slice() {
            [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', ..] => Some(ImageKind::Png),
            [0xff, 0xd8, 0xff, ..] => Some(ImageKind::Jpeg),
            _ if text.starts_with('<') && text.contains("<svg") => Some(ImageKind::Svg),
            _ => None,
        })
    }
}

/// Refuses files that are no picture of these kinds, or not a whole one.
pub(crate) fn check(files: &[PathBuf], kinds: &[ImageKind]) -> Result<(), SurveyError> {
    for file in files {
        if !ImageKind::of(file)?.is_some_and(|kind| kinds.contains(&kind)) {
            let svg = if kinds.contains(&ImageKind::Svg) { " or SVG" } else { "" };
            let name = name(file);
            return Err(SurveyError::refused(
                format!("'{name}' is no picture that can be shown"),
                format!("Save it as PNG or JPEG{svg}, then bring that in."),
            ));
        }
    }
    check_whole(files)
}

/// Refuses pictures that were cut off; what is none is no concern of this.
pub(crate) fn check_whole(files: &[PathBuf]) -> Result<(), SurveyError> {
    for file in files {
        let Some(kind) = ImageKind::of(file)? else { continue };
        let read = File::open(file).and_then(|open| whole::is_whole(kind, BufReader::new(open)));
        if !read.map_err(|e| SurveyError::disk(file, "read it", e))? {
            return Err(SurveyError::refused(
                format!("'{}' is not whole: the picture breaks off before its end", name(file)),
                "Copy it anew from where it came, then bring that in.",
            ));
        }
    }
    Ok(())
}

fn name(file: &Path) -> std::borrow::Cow<'_, str> {
    file.file_name().unwrap_or_default().to_string_lossy()
}

impl Survey {
    /// The picture of this hash; `None` if the record knows none, or the file is of another kind.
    ///
    /// # Errors
    /// If the record or the file cannot be read.
    pub fn image(&self, sha256: &str) -> Result<Option<Image>, SurveyError> {
        let known: Vec<FileInfo> = self.read(|db| {
            let items = record::all::<FoundItem>(db)?.into_iter().flat_map(|i| i.photographs);
            let photographs = record::all::<Photograph>(db)?.into_iter().filter_map(|p| p.file);
            let plans = record::all::<Floor>(db)?.into_iter().filter_map(|floor| floor.image);
            Ok(items.chain(photographs).chain(plans).collect())
        })?;
        let Some(file) = known.into_iter().find(|file| file.sha256 == sha256) else {
            return Ok(None);
        };
        let path = self.folder.evidence(&file.sha256);
        // A link leads to what nobody brought in.
        if path.symlink_metadata().is_ok_and(|found| found.is_symlink()) {
            return Ok(None);
        }
        Ok(ImageKind::of(&path)?.map(|kind| Image { path, kind, name: file.name }))
    }
}
