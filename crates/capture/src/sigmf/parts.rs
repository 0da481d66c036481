//! Which recordings the files that a person named stand for: metadata and data of one recording
//! are one, an archive or a collection may be several.

use super::fields::Fields;
use super::metadata::{parse_json, read_small};
use super::{META, archive, metadata_beside};
use crate::hash::hex;
use crate::kind::{Kind, kind_of};
use crate::source::{ByteSource, FileSource};
use crate::{CaptureError, Place};
use serde_json::Value;
use sha2::{Digest, Sha512};
use std::path::{Path, PathBuf};
use units::Reason;

/// One recording among the files named.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// The file to open.
    pub path: PathBuf,
    /// Its name inside the archive, for [`crate::OpenOptions::inner`].
    pub inner: Option<String>,
    /// What is odd about its listing.
    pub warnings: Vec<Reason>,
}

impl Part {
    fn whole(path: PathBuf) -> Self {
        Part { path, inner: None, warnings: Vec::new() }
    }
}

/// The recordings that `paths` stand for, each once, in order. Files of other kinds stand for
/// themselves, also those that opening will refuse.
///
/// # Errors
/// If a file is missing, or an archive or a collection cannot be read.
pub fn parts(paths: &[PathBuf]) -> Result<Vec<Part>, CaptureError> {
    let mut parts: Vec<Part> = Vec::new();
    for path in paths {
        for part in parts_of(path)? {
            if !parts.iter().any(|p| p.path == part.path && p.inner == part.inner) {
                parts.push(part);
            }
        }
    }
    Ok(parts)
}

fn parts_of(path: &Path) -> Result<Vec<Part>, CaptureError> {
    if let Some(metadata) = metadata_beside(path) {
        return Ok(vec![Part::whole(metadata)]);
    }
    let source = FileSource::open(path)?;
    let mut head = vec![0; 4096];
    let n = source.read_full(0, &mut head).map_err(|e| CaptureError::disk(path, "read it", e))?;
    match kind_of(&head[..n]) {
        Kind::Tar => {
            let names = archive::names(&source, path)?;
            let inner = |name| Part { inner: Some(name), ..Part::whole(path.to_owned()) };
            Ok(match names.len() {
                0 | 1 => vec![Part::whole(path.to_owned())],
                _ => names.into_iter().map(inner).collect(),
            })
        }
        Kind::Json => match collection(path, &source)? {
            Some(parts) => Ok(parts),
            None => Ok(vec![Part::whole(path.to_owned())]),
        },
        _ => Ok(vec![Part::whole(path.to_owned())]),
    }
}

/// The recordings of a collection; `None` if the JSON is none.
pub(super) fn collection(
    path: &Path,
    source: &dyn ByteSource,
) -> Result<Option<Vec<Part>>, CaptureError> {
    // JSON that does not parse is refused with its byte when it is opened.
    let Ok(Value::Object(top)) = parse_json(&read_small(path, source)?, path) else {
        return Ok(None);
    };
    let Some(Value::Object(collection)) = top.get("collection") else { return Ok(None) };
    let Some(Value::Array(streams)) = collection.get("core:streams") else {
        return Err(CaptureError::refused(
            path,
            Place::Field("collection.core:streams".into()),
            "there is no such list",
            "the recordings of the collection",
            "Name the recordings' metadata files.",
        ));
    };
    let part = |(i, stream): (usize, &Value)| {
        let place = format!("collection.core:streams[{i}]");
        match stream {
            Value::Object(map) => stream_part(&Fields { map, place, file: path }, path),
            _ => Err(CaptureError::refused(
                path,
                Place::Field(place),
                "it is no object",
                "an object with 'name' and 'hash'",
                "Correct the collection file with a text editor.",
            )),
        }
    };
    streams.iter().enumerate().map(part).collect::<Result<_, _>>().map(Some)
}

fn stream_part(fields: &Fields, collection: &Path) -> Result<Part, CaptureError> {
    let Some(name) = fields.text("name")? else {
        return Err(fields.refuse(
            "name",
            "it is missing",
            "the name of a recording in the same folder",
            "Correct the collection file with a text editor.",
        ));
    };
    if Path::new(name).file_name().is_none_or(|plain| plain != name) {
        return Err(fields.refuse(
            "name",
            format!("'{name}' is no plain name"),
            "the name of a recording in the same folder",
            "Put the recordings beside the collection.",
        ));
    }
    let mut part = Part::whole(collection.with_file_name(format!("{name}.{META}")));
    if !part.path.exists() {
        return Err(fields.refuse(
            "name",
            format!("there is no '{name}.{META}' beside the collection"),
            "the name of a recording in the same folder",
            "Put that recording beside the collection, or add the others by their own files.",
        ));
    }
    let source = FileSource::open(&part.path)?;
    if let Some(stated) = fields.text("hash")? {
        let found = hex(&Sha512::digest(read_small(&part.path, &source)?));
        if !stated.eq_ignore_ascii_case(&found) {
            part.warnings.push(
                Reason::new(
                    "collection_hash_differs",
                    format!("the metadata of '{name}' is not what its collection was made of"),
                )
                .with("stated", stated)
                .with("found", found),
            );
        }
    }
    Ok(part)
}
