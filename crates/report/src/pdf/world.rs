//! All that the typesetter may see: its source, the content, the pictures, the fonts. No disk, no
//! network, no clock.

use super::data::Files;
use super::fonts::FONTS;
use std::collections::BTreeMap;
use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Feature, Library, LibraryExt, World};

const SOURCE: &str = include_str!("report.typ");

pub(super) struct Memory {
    library: LazyHash<Library>,
    main: Source,
    files: BTreeMap<String, Bytes>,
}

impl Memory {
    pub(super) fn of(files: Files) -> Memory {
        // Heads of rows are tagged as such.
        let features = [Feature::A11yExtras].into_iter().collect();
        let library = Library::builder().with_features(features).build();
        let main = id("/report.typ");
        let files = files.files.into_iter().map(|(path, bytes)| (path, Bytes::new(bytes)));
        Memory {
            library: LazyHash::new(library),
            main: Source::new(main, SOURCE.to_owned()),
            files: files.collect(),
        }
    }
}

/// The id of a path. Ids are never given back, so the same few paths serve every report.
fn id(path: &str) -> FileId {
    let path = VirtualPath::new(path).expect("paths here are plain");
    FileId::new(RootedPath::new(VirtualRoot::Project, path))
}

impl World for Memory {
    fn library(&self) -> &LazyHash<Library> {
        &self.library
    }
    fn book(&self) -> &LazyHash<FontBook> {
        &FONTS.book
    }
    fn main(&self) -> FileId {
        self.main.id()
    }
    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.main.id() { Ok(self.main.clone()) } else { Err(FileError::NotSource) }
    }
    fn file(&self, id: FileId) -> FileResult<Bytes> {
        let path = id.vpath().get_with_slash();
        self.files.get(path).cloned().ok_or_else(|| FileError::NotFound(path.into()))
    }
    fn font(&self, index: usize) -> Option<Font> {
        FONTS.fonts.get(index).cloned()
    }
    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}
