//! Helpers of the tests: files in memory and in a temporary folder.

#![allow(dead_code, missing_docs)]

use capture::{CaptureError, IqRecording, OpenOptions, Opened, Recording, open_source};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use units::{Iq, Samples};

/// Opens bytes as if they were the file `name`.
pub fn open_bytes(name: &str, bytes: &[u8], options: &OpenOptions) -> Result<Opened, CaptureError> {
    open_source(Arc::new(bytes.to_vec()), Path::new(name), options)
}

/// The complex samples of what was opened.
pub fn iq(opened: &Opened) -> &IqRecording {
    match &opened.recording {
        Recording::Iq(iq) => iq,
        other => panic!("not IQ: {other:?}"),
    }
}

/// All samples.
pub fn samples(opened: &Opened) -> Vec<Iq> {
    let iq = iq(opened);
    let mut out = vec![Iq::default(); iq.len() as usize];
    iq.read(0, &mut out).expect("samples");
    out
}

/// The codes of its warnings.
pub fn codes(opened: &Opened) -> Vec<&str> {
    opened.warnings.iter().map(|w| w.code.as_str()).collect()
}

/// A temporary folder with files in it.
pub struct Folder(pub tempfile::TempDir);

impl Folder {
    pub fn new() -> Self {
        Folder(tempfile::tempdir().expect("a temporary folder"))
    }
    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }
    pub fn put(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        std::fs::write(&path, bytes).expect("written");
        path
    }
    /// Metadata and data of one SigMF recording; gives the metadata's path.
    pub fn sigmf(&self, name: &str, metadata: &str, data: &[u8]) -> PathBuf {
        self.put(&format!("{name}.sigmf-data"), data);
        self.put(&format!("{name}.sigmf-meta"), metadata)
    }
}

/// A RIFF chunk, padded to an even length.
pub fn chunk(id: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let mut out = id.to_vec();
    out.extend((body.len() as u32).to_le_bytes());
    out.extend(body);
    out.resize(out.len() + body.len() % 2, 0);
    out
}

/// A 'fmt ' chunk.
pub fn format(tag: u16, channels: u16, rate: u32, bits: u16) -> Vec<u8> {
    let align = channels * bits.div_ceil(8);
    let mut body = Vec::new();
    body.extend(tag.to_le_bytes());
    body.extend(channels.to_le_bytes());
    body.extend(rate.to_le_bytes());
    body.extend((rate * u32::from(align)).to_le_bytes());
    body.extend(align.to_le_bytes());
    body.extend(bits.to_le_bytes());
    chunk(b"fmt ", &body)
}

/// A RIFF/WAVE file of these chunks.
pub fn riff(chunks: &[Vec<u8>]) -> Vec<u8> {
    let body = chunks.concat();
    let mut out = b"RIFF".to_vec();
    out.extend((body.len() as u32 + 4).to_le_bytes());
    out.extend(b"WAVE");
    out.extend(body);
    out
}
