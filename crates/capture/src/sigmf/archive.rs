//! SigMF archives: a tar file (POSIX.1-2001 pax or ustar) with metadata, data and perhaps a
//! collection. Samples are read in place; nothing is unpacked.

use super::metadata::Metadata;
use super::{DATA, META, no_data, open_data, plain_name};
use crate::source::ByteSource;
use crate::{CaptureError, OpenOptions, Opened, Place};
use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::Arc;

/// A file inside an archive.
struct Member {
    name: String,
    at: u64,
    bytes: u64,
}

/// Opens the recording of an archive, or the one that `options.inner` names of several.
///
/// # Errors
/// If the archive is damaged, holds none, or several and none is named.
pub fn open_archive(
    source: Arc<dyn ByteSource>,
    path: &Path,
    options: &OpenOptions,
) -> Result<Opened, CaptureError> {
    let members = members(&*source, path)?;
    let names = recordings(&members);
    let chosen = match (&options.inner, names.as_slice()) {
        (Some(inner), names) => names.iter().find(|name| *name == inner),
        (None, [only]) => Some(only),
        (None, _) => None,
    };
    let Some(name) = chosen else {
        return Err(CaptureError::refused(
            path,
            Place::Whole,
            match &options.inner {
                Some(inner) => format!("it holds no recording '{inner}', but {}", listed(&names)),
                None => format!("it holds {}", listed(&names)),
            },
            "one recording",
            if names.is_empty() { "Name a SigMF archive." } else { "Name one of them." },
        ));
    };
    let inside = |member: &str| path.join(member);
    let find = |name: &str| members.iter().find(|m| m.name == name);
    let metadata_name = format!("{name}.{META}");
    let metadata_path = inside(&metadata_name);
    let Some(member) = find(&metadata_name) else {
        return Err(no_data(path, &metadata_path, false));
    };
    let window = Window { source: &*source, first: member.at, bytes: member.bytes };
    let metadata = Metadata::read(&metadata_path, &window)?;
    let global = metadata.global(&metadata_path);
    let data_name = match global.text("core:dataset")? {
        Some(dataset) => {
            let beside = Path::new(name).with_file_name(plain_name(dataset, &global)?);
            beside.to_string_lossy().into_owned()
        }
        None => format!("{name}.{DATA}"),
    };
    let Some(data) = find(&data_name) else {
        let on_purpose = global.flag("core:metadata_only")? == Some(true);
        return Err(no_data(&metadata_path, &inside(&data_name), on_purpose));
    };
    let window = Some((data.at, data.bytes));
    let mut opened = open_data(&metadata, &metadata_path, source, path, window, options)?;
    opened.format = format!("{} archive", opened.format);
    Ok(opened)
}

/// The names of the recordings in an archive, `folder/name` without extension, in its order.
pub(super) fn names(source: &dyn ByteSource, path: &Path) -> Result<Vec<String>, CaptureError> {
    Ok(recordings(&members(source, path)?))
}

fn recordings(members: &[Member]) -> Vec<String> {
    let suffix = format!(".{META}");
    members.iter().filter_map(|m| m.name.strip_suffix(&suffix)).map(str::to_owned).collect()
}

fn listed(names: &[String]) -> String {
    match names.len() {
        0 => "no SigMF recording".to_owned(),
        1..=8 => format!("{} recordings: {}", names.len(), names.join(", ")),
        n => format!("{n} recordings: {}, …", names[..8].join(", ")),
    }
}

/// The files of a tar archive and where their bytes stand.
fn members(source: &dyn ByteSource, path: &Path) -> Result<Vec<Member>, CaptureError> {
    let damaged = |at: u64, e: io::Error| match e.raw_os_error() {
        Some(_) => CaptureError::disk(path, "read it", e),
        None => CaptureError::refused(
            path,
            Place::Byte(at),
            format!("the archive is damaged from here on ({e})"),
            "a tar header",
            "Look for another copy, or unpack it by hand and name the files.",
        ),
    };
    let size = source.size();
    let mut archive = tar::Archive::new(Cursor { source, at: 0 });
    let mut members: Vec<Member> = Vec::new();
    let mut at = 0;
    for entry in archive.entries_with_seek().map_err(|e| damaged(0, e))? {
        let entry = entry.map_err(|e| damaged(at, e))?;
        at = entry.raw_file_position();
        let kind = entry.header().entry_type();
        let bytes = entry.size();
        let name = entry.path().map_err(|e| damaged(at, e))?.to_string_lossy().into_owned();
        if kind.is_gnu_sparse() {
            return Err(CaptureError::refused(
                path,
                Place::Byte(at),
                format!("'{name}' is stored as a sparse file"),
                "files stored whole",
                "Unpack the archive and name the files.",
            ));
        }
        if at.checked_add(bytes).is_none_or(|end| end > size) {
            return Err(CaptureError::refused(
                path,
                Place::Byte(size),
                format!("the archive ends within '{name}'"),
                format!("{bytes} bytes of it from byte {at} on"),
                "It is cut short: look for another copy.",
            ));
        }
        if kind.is_file() || kind.is_contiguous() {
            members.push(Member { name, at, bytes });
        }
        at = at.saturating_add(bytes);
    }
    Ok(members)
}

/// A part of a source.
struct Window<'a> {
    source: &'a dyn ByteSource,
    first: u64,
    bytes: u64,
}

impl ByteSource for Window<'_> {
    fn read_at(&self, at: u64, out: &mut [u8]) -> io::Result<usize> {
        let rest = self.bytes.saturating_sub(at).min(out.len() as u64) as usize;
        self.source.read_at(self.first.saturating_add(at), &mut out[..rest])
    }
    fn size(&self) -> u64 {
        self.bytes
    }
}

/// A source read from front to back.
struct Cursor<'a> {
    source: &'a dyn ByteSource,
    at: u64,
}

impl Read for Cursor<'_> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let n = self.source.read_at(self.at, out)?;
        self.at += n as u64;
        Ok(n)
    }
}

impl Seek for Cursor<'_> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let at = match to {
            SeekFrom::Start(at) => Some(at),
            SeekFrom::Current(by) => self.at.checked_add_signed(by),
            SeekFrom::End(by) => self.source.size().checked_add_signed(by),
        };
        self.at = at.ok_or_else(|| io::Error::other("a place outside the file"))?;
        Ok(self.at)
    }
}
