//! Files on their way into a survey: streamed to a folder on its disk, and bounded. What came whole
//! stays until it is brought in or discarded, also over the end of the server; what did not leaves
//! no trace.

use crate::ids::Ids;
use crate::name::plain;
use crate::problem::{Code, Problem};
use axum::body::Body;
use axum::http::StatusCode;
use futures_util::StreamExt;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use survey::{Incoming, Survey, SurveyError};
use tokio::io::AsyncWriteExt;

/// Uploads that one survey holds at once.
const MOST_OPEN: usize = 16;
/// Files in one upload.
const MOST_FILES: usize = 1000;
/// How long a sender may be silent.
const SILENT: Duration = Duration::from_secs(60);
/// Bytes that are written at once.
const BLOCK: usize = 1 << 20;

/// Files that belong together: a recording and its metadata, or several recordings.
#[derive(Debug)]
pub(crate) struct Upload {
    incoming: Incoming,
    held: Mutex<Held>,
    most_bytes: u64,
}

#[derive(Debug, Default)]
struct Held {
    /// Files that are arriving, by name.
    arriving: BTreeSet<String>,
    /// Bytes in all, also of what is arriving.
    bytes: u64,
    /// An import works with it.
    taken: bool,
}

impl Upload {
    fn held(&self) -> MutexGuard<'_, Held> {
        self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Where its files lie.
    pub(crate) fn path(&self) -> &Path {
        self.incoming.path()
    }

    /// Its whole files, with their sizes.
    pub(crate) fn files(&self) -> Vec<(String, u64)> {
        self.incoming.files().into_iter().collect()
    }

    /// Takes one file in. Until it is whole nothing of it is there.
    pub(crate) async fn receive(
        &self,
        name: &str,
        announced: Option<u64>,
        body: Body,
    ) -> Result<u64, Problem> {
        let arriving = Arriving::begin(self, plain(name)?)?;
        if announced.is_some_and(|bytes| bytes > self.most_bytes) {
            return Err(self.too_large());
        }
        let file = tokio::fs::File::create_new(&arriving.partial).await.map_err(disk)?;
        let mut file = tokio::io::BufWriter::with_capacity(BLOCK, file);
        let mut body = body.into_data_stream();
        let mut bytes = 0;
        loop {
            let piece = match tokio::time::timeout(SILENT, body.next()).await {
                Ok(None) => break,
                Ok(Some(Ok(piece))) => piece,
                Ok(Some(Err(_))) => return Err(broken_off("it broke off")),
                Err(_) => return Err(broken_off("nothing came for a minute")),
            };
            arriving.count(piece.len() as u64)?;
            bytes += piece.len() as u64;
            file.write_all(&piece).await.map_err(disk)?;
        }
        file.flush().await.map_err(disk)?;
        if announced.is_some_and(|announced| announced != bytes) {
            return Err(broken_off("fewer bytes came than were announced"));
        }
        drop(file);
        // At one stretch, whatever becomes of the request: a file is whole and listed, or gone.
        tokio::task::block_in_place(|| arriving.whole())
    }

    /// Takes it for an import: no file may arrive meanwhile.
    pub(crate) fn take(self: &Arc<Self>) -> Result<Taken, Problem> {
        let mut held = self.held();
        if held.taken || !held.arriving.is_empty() {
            return Err(Problem::conflict(
                if held.taken { "an import works with this upload" } else { "a file is arriving" },
                "Wait for its end, then ask again.",
            ));
        }
        held.taken = true;
        drop(held);
        Ok(Taken(self.clone()))
    }

    fn too_large(&self) -> Problem {
        Problem::new(
            StatusCode::PAYLOAD_TOO_LARGE,
            Code::Limit,
            format!("more than {} bytes in one upload", self.most_bytes),
            "Send the files in several uploads, or bring them in with `add` on the command line.",
        )
    }
}

/// An upload that an import works with; free again when dropped.
#[derive(Debug)]
pub(crate) struct Taken(Arc<Upload>);

impl std::ops::Deref for Taken {
    type Target = Upload;
    fn deref(&self) -> &Upload {
        &self.0
    }
}

impl Drop for Taken {
    fn drop(&mut self) {
        self.0.held().taken = false;
    }
}

/// A file that arrives; if it does not become whole, nothing of it stays.
struct Arriving<'a> {
    upload: &'a Upload,
    name: &'a str,
    partial: PathBuf,
    bytes: std::cell::Cell<u64>,
    whole: std::cell::Cell<bool>,
}

impl<'a> Arriving<'a> {
    fn begin(upload: &'a Upload, name: &'a str) -> Result<Arriving<'a>, Problem> {
        let mut held = upload.held();
        if held.taken {
            let remedy = "Wait for its end, or begin another upload.";
            return Err(Problem::conflict("an import works with this upload", remedy));
        }
        // Some disks do not tell upper from lower case.
        let whole = upload.incoming.files();
        let mut names = whole.keys().chain(&held.arriving);
        if names.any(|other| other.to_lowercase() == name.to_lowercase()) {
            let remedy = "Give each file its own name, or begin another upload.";
            return Err(Problem::conflict(format!("'{name}' is in this upload already"), remedy));
        }
        if whole.len() + held.arriving.len() >= MOST_FILES {
            let status = StatusCode::PAYLOAD_TOO_LARGE;
            let remedy = "Begin another upload for the rest.";
            return Err(Problem::new(status, Code::Limit, "too many files in one upload", remedy));
        }
        held.arriving.insert(name.to_owned());
        drop(held);
        // No name that comes from outside begins with a dot.
        let partial = upload.path().join(format!(".partial-{name}"));
        let (bytes, whole) = (Default::default(), Default::default());
        Ok(Arriving { upload, name, partial, bytes, whole })
    }
    fn count(&self, bytes: u64) -> Result<(), Problem> {
        let mut held = self.upload.held();
        held.bytes = held.bytes.saturating_add(bytes);
        self.bytes.set(self.bytes.get() + bytes);
        if held.bytes > self.upload.most_bytes { Err(self.upload.too_large()) } else { Ok(()) }
    }
    fn whole(&self) -> Result<u64, Problem> {
        let bytes = self.upload.incoming.whole(&self.partial, self.name)?;
        self.whole.set(true);
        Ok(bytes)
    }
}

impl Drop for Arriving<'_> {
    fn drop(&mut self) {
        let mut held = self.upload.held();
        held.arriving.remove(self.name);
        if !self.whole.get() {
            // What cannot be removed goes with the folder.
            let _ = std::fs::remove_file(&self.partial);
            held.bytes = held.bytes.saturating_sub(self.bytes.get());
        }
    }
}

fn broken_off(why: &str) -> Problem {
    let detail = format!("the file did not come whole: {why}");
    Problem::new(StatusCode::REQUEST_TIMEOUT, Code::Request, detail, "Send it again.")
}

fn disk(error: std::io::Error) -> Problem {
    let full =
        matches!(error.kind(), std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded);
    let status =
        if full { StatusCode::INSUFFICIENT_STORAGE } else { StatusCode::INTERNAL_SERVER_ERROR };
    let remedy = "Make room on the disk and check that it may be written, then send it again.";
    Problem::new(status, Code::Disk, format!("the file could not be written: {error}"), remedy)
}

/// The uploads of one survey.
#[derive(Debug)]
pub(crate) struct Uploads {
    open: Mutex<BTreeMap<String, Arc<Upload>>>,
    ids: Mutex<Ids>,
    most_bytes: u64,
}

impl Uploads {
    /// Those that the end of a server left.
    pub(crate) fn of(survey: &Survey, most_bytes: u64) -> Result<Uploads, SurveyError> {
        let uploads = Uploads { open: Mutex::default(), ids: Mutex::default(), most_bytes };
        for incoming in survey.arrived()? {
            uploads.keep(&mut uploads.open(), incoming);
        }
        Ok(uploads)
    }

    fn open(&self) -> MutexGuard<'_, BTreeMap<String, Arc<Upload>>> {
        self.open.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn keep(&self, open: &mut BTreeMap<String, Arc<Upload>>, incoming: Incoming) {
        let bytes = incoming.files().values().fold(0, |all: u64, one| all.saturating_add(*one));
        let held = Mutex::new(Held { bytes, ..Held::default() });
        let id = incoming.id().to_owned();
        open.insert(id, Arc::new(Upload { incoming, held, most_bytes: self.most_bytes }));
    }

    /// Begins one; gives its id.
    pub(crate) fn begin(&self, survey: &Survey) -> Result<String, Problem> {
        let mut open = self.open();
        if open.len() >= MOST_OPEN {
            return Err(Problem::new(
                StatusCode::TOO_MANY_REQUESTS,
                Code::Limit,
                format!("{MOST_OPEN} uploads are open"),
                "Import or discard one of them first.",
            ));
        }
        let id = self.ids.lock().unwrap_or_else(PoisonError::into_inner).next('U');
        self.keep(&mut open, survey.incoming(&id)?);
        Ok(id)
    }

    /// All ids.
    pub(crate) fn ids(&self) -> Vec<String> {
        self.open().keys().cloned().collect()
    }

    /// One of them.
    pub(crate) fn get(&self, id: &str) -> Result<Arc<Upload>, Problem> {
        self.open().get(id).cloned().ok_or_else(|| {
            Problem::missing(format!("there is no upload {id}"), "Begin one, then send its files.")
        })
    }

    /// Lets one go; its files go when nobody works with them any more.
    pub(crate) fn discard(&self, id: &str) -> Result<(), Problem> {
        let upload = self.open().remove(id).ok_or_else(|| {
            Problem::missing(format!("there is no upload {id}"), "It may be gone already.")
        })?;
        upload.incoming.discard();
        Ok(())
    }
}
