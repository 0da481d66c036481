//! Writing SigMF: `NAME.sigmf-data` grows as samples are pushed; `finish` puts data, then
//! metadata, in place. Without metadata under their name there is no recording.

use super::{StagedFile, write_whole};
use crate::number::{Number, NumberKind};
use crate::sigmf::Metadata;
use crate::{Annotation, CaptureError, Place, hash::hex};
use serde_json::{Map, Value, json};
use sha2::{Digest, Sha512};
use std::io::Write;
use std::path::{Path, PathBuf};
use units::{Iq, Utc};

/// What to write beside the samples.
#[derive(Debug, Clone)]
pub struct SigmfMeta {
    /// Samples a second.
    pub sample_rate_hz: f64,
    /// How numbers are stored; any but the two of WAV alone (`I24`, `U8Wav`).
    pub number: Number,
    /// `core:description`.
    pub description: Option<String>,
    /// `core:hw`, the chain.
    pub hardware: Option<String>,
    /// `core:recorder`, the program.
    pub recorder: Option<String>,
    /// `core:author`.
    pub author: Option<String>,
    /// Further fields of `global`, with their namespace.
    pub more: Map<String, Value>,
}

impl SigmfMeta {
    /// With a rate and a number, and nothing else said.
    pub fn new(sample_rate_hz: f64, number: Number) -> Self {
        SigmfMeta {
            sample_rate_hz,
            number,
            description: None,
            hardware: None,
            recorder: None,
            author: None,
            more: Map::new(),
        }
    }
}

/// A SigMF recording being written. Dropped without `finish`, nothing of it stays.
#[derive(Debug)]
pub struct SigmfWriter {
    data: StagedFile,
    metadata_path: PathBuf,
    meta: SigmfMeta,
    hash: Sha512,
    samples: u64,
    captures: Vec<Map<String, Value>>,
    annotations: Vec<Map<String, Value>>,
    stored: Vec<u8>,
}

impl SigmfWriter {
    /// Begins `folder/NAME.sigmf-data` and `.sigmf-meta`.
    ///
    /// # Errors
    /// If the number is none of SigMF's, the name is no plain name, or the folder cannot be
    /// written to.
    pub fn create(folder: &Path, name: &str, meta: SigmfMeta) -> Result<Self, CaptureError> {
        let data_path = folder.join(format!("{name}.sigmf-data"));
        let refuse = |found: String, expected: &str| {
            let remedy = "Choose another and write anew.";
            Err(CaptureError::refused(&data_path, Place::Whole, found, expected, remedy))
        };
        if name.is_empty() || name.contains(['/', '\\', ':', '*', '?', '"', '<', '>', '|']) {
            return refuse(format!("'{name}' is no name for a recording"), "a plain name");
        }
        if matches!(meta.number.kind, NumberKind::I24 | NumberKind::U8Wav) {
            let found = format!("SigMF has no datatype for {}", meta.number.complex_name());
            return refuse(found, "cu8 ci8 cu16 ci16 cu32 ci32 cf32 or cf64");
        }
        if !crate::limits::is_rate(meta.sample_rate_hz) {
            return refuse(format!("the rate is {}", meta.sample_rate_hz), "a positive rate");
        }
        Ok(SigmfWriter {
            metadata_path: folder.join(format!("{name}.sigmf-meta")),
            data: StagedFile::create(&data_path)?,
            meta,
            hash: Sha512::new(),
            samples: 0,
            captures: Vec::new(),
            annotations: Vec::new(),
            stored: Vec::new(),
        })
    }

    /// Begins a segment at the next sample: its centre and the time of its first sample, where
    /// known. Without any, the recording is one segment of which nothing is known.
    pub fn segment(&mut self, centre_hz: Option<f64>, start: Option<Utc>) {
        let mut capture = Map::new();
        capture.insert("core:sample_start".into(), self.samples.into());
        if let Some(hz) = centre_hz {
            capture.insert("core:frequency".into(), json!(hz));
        }
        if let Some(at) = start {
            capture.insert("core:datetime".into(), at.to_string().into());
        }
        self.captures.push(capture);
    }

    /// Appends samples. Integers are rounded to the nearest step and clipped at full scale.
    ///
    /// # Errors
    /// If the disk is full or refuses.
    pub fn push(&mut self, samples: &[Iq]) -> Result<(), CaptureError> {
        for block in samples.chunks(16 * 1024) {
            self.stored.clear();
            self.meta.number.store(bytemuck::cast_slice(block), &mut self.stored);
            self.hash.update(&self.stored);
            let path = self.data.path().to_owned();
            self.data
                .write_all(&self.stored)
                .map_err(|e| CaptureError::disk(&path, "write it", e))?;
            self.samples += block.len() as u64;
        }
        Ok(())
    }

    /// Adds a claim about the samples.
    pub fn annotate(&mut self, claim: &Annotation) {
        let mut map = Map::new();
        map.insert("core:sample_start".into(), claim.first_sample.into());
        let mut put = |key: &str, value: Option<Value>| {
            if let Some(value) = value {
                map.insert(key.into(), value);
            }
        };
        put("core:sample_count", claim.samples.map(Value::from));
        put("core:freq_lower_edge", claim.low_hz.map(Value::from));
        put("core:freq_upper_edge", claim.high_hz.map(Value::from));
        put("core:label", claim.label.clone().map(Value::from));
        put("core:comment", claim.comment.clone().map(Value::from));
        put("core:generator", claim.generator.clone().map(Value::from));
        self.annotations.push(map);
    }

    /// Number of samples so far.
    pub fn samples(&self) -> u64 {
        self.samples
    }

    /// Puts data and metadata in place; gives the metadata's path.
    ///
    /// # Errors
    /// If the disk is full or refuses. Data without metadata may then stand, which is no recording.
    pub fn finish(mut self) -> Result<PathBuf, CaptureError> {
        if self.captures.is_empty() {
            self.segment(None, None);
        }
        let mut global = self.meta.more;
        let mut put = |key: &str, value: Option<Value>| {
            if let Some(value) = value {
                global.insert(key.into(), value);
            }
        };
        put("core:datatype", Some(self.meta.number.complex_name().into()));
        put("core:sample_rate", Some(json!(self.meta.sample_rate_hz)));
        put("core:version", Some("1.2.0".into()));
        put("core:sha512", Some(hex(&self.hash.finalize()).into()));
        put("core:description", self.meta.description.map(Value::from));
        put("core:hw", self.meta.hardware.map(Value::from));
        put("core:recorder", self.meta.recorder.map(Value::from));
        put("core:author", self.meta.author.map(Value::from));
        self.annotations.sort_by_key(|a| a.get("core:sample_start").and_then(Value::as_u64));
        let metadata = Metadata {
            global,
            captures: self.captures,
            annotations: self.annotations,
            other: Map::new(),
        };
        self.data.commit()?;
        write_whole(&self.metadata_path, metadata.to_json().as_bytes())?;
        Ok(self.metadata_path)
    }
}
