//! Writing WAV: IQ as two channels with an `auxi` chunk, or sound. Room for a `ds64` chunk is kept,
//! so that a file past 4 GiB becomes RF64 (EBU Tech 3306, 'on the fly' conversion).

use super::StagedFile;
use crate::number::{Number, NumberKind};
use crate::wav::auxi::Auxi;
use crate::{CaptureError, Place};
use std::io::{Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use units::{Iq, Utc};

/// A WAV file being written. Dropped without `finish`, nothing of it stays.
#[derive(Debug)]
pub struct WavWriter {
    file: StagedFile,
    number: Number,
    channels: u16,
    rate_hz: u32,
    aux: Option<Auxi>,
    header_bytes: u64,
    data_bytes: u64,
    stored: Vec<u8>,
}

impl WavWriter {
    /// Begins a two-channel recording of I and Q. A centre beyond 32 bits of hertz cannot be
    /// stored in a WAV and is left out.
    ///
    /// # Errors
    /// If WAV has no such number or rate, or the folder cannot be written to.
    pub fn iq(
        path: &Path,
        kind: NumberKind,
        rate_hz: f64,
        centre_hz: Option<f64>,
        start: Option<Utc>,
    ) -> Result<Self, CaptureError> {
        WavWriter::create(path, kind, 2, rate_hz, Some(Auxi { start, centre_hz }))
    }

    /// Begins a sound file.
    ///
    /// # Errors
    /// As [`WavWriter::iq`].
    pub fn sound(
        path: &Path,
        kind: NumberKind,
        channels: u16,
        rate_hz: f64,
    ) -> Result<Self, CaptureError> {
        WavWriter::create(path, kind, channels, rate_hz, None)
    }

    fn create(
        path: &Path,
        kind: NumberKind,
        channels: u16,
        rate_hz: f64,
        aux: Option<Auxi>,
    ) -> Result<Self, CaptureError> {
        let refuse = |found: String, expected: &str| {
            let remedy = "Write SigMF instead.";
            Err(CaptureError::refused(path, Place::Whole, found, expected, remedy))
        };
        let number = Number::little(kind);
        if matches!(kind, NumberKind::U8 | NumberKind::I8 | NumberKind::U16 | NumberKind::U32) {
            let found = format!("WAV cannot hold {}", number.complex_name());
            return refuse(found, "U8Wav, I16, I24, I32, F32 or F64");
        }
        if channels == 0 || rate_hz.fract() != 0.0 || !(1.0..4_294_967_296.0).contains(&rate_hz) {
            let found = format!("WAV cannot hold {channels} channels at {rate_hz} Hz");
            return refuse(found, "a channel or more, and a whole number of hertz below 2^32");
        }
        let rate_hz = rate_hz as u32;
        let mut writer = WavWriter {
            file: StagedFile::create(path)?,
            number,
            channels,
            rate_hz,
            aux,
            header_bytes: 0,
            data_bytes: 0,
            stored: Vec::new(),
        };
        let header = writer.header();
        writer.header_bytes = header.len() as u64;
        writer.write(&header)?;
        Ok(writer)
    }

    /// Appends samples of I and Q.
    ///
    /// # Errors
    /// If the disk is full or refuses.
    pub fn push_iq(&mut self, samples: &[Iq]) -> Result<(), CaptureError> {
        self.push(bytemuck::cast_slice(samples))
    }

    /// Appends numbers, channels interleaved. Integers are rounded and clipped at full scale.
    ///
    /// # Errors
    /// If the disk is full or refuses.
    pub fn push(&mut self, numbers: &[f32]) -> Result<(), CaptureError> {
        for block in numbers.chunks(32 * 1024) {
            let mut stored = std::mem::take(&mut self.stored);
            stored.clear();
            self.number.store(block, &mut stored);
            self.write(&stored)?;
            self.data_bytes += stored.len() as u64;
            self.stored = stored;
        }
        Ok(())
    }

    /// Completes the header and puts the file in place.
    ///
    /// # Errors
    /// If the disk is full or refuses; then nothing stands under the name that did not before.
    pub fn finish(mut self) -> Result<PathBuf, CaptureError> {
        if self.data_bytes % 2 == 1 {
            self.write(&[0])?;
        }
        let header = self.header();
        let path = self.file.path().to_owned();
        self.file
            .seek(SeekFrom::Start(0))
            .map_err(|e| CaptureError::disk(&path, "write its header", e))?;
        self.write(&header)?;
        self.file.commit()?;
        Ok(path)
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), CaptureError> {
        let path = self.file.path().to_owned();
        self.file.write_all(bytes).map_err(|e| CaptureError::disk(&path, "write it", e))
    }

    /// The header for the samples so far; its length never changes.
    fn header(&self) -> Vec<u8> {
        let frame = self.number.bytes() as u16 * self.channels;
        let frames = self.data_bytes / u64::from(frame);
        let riff_bytes =
            (self.header_bytes + self.data_bytes + self.data_bytes % 2).saturating_sub(8);
        let large = riff_bytes > u64::from(u32::MAX);
        let short = |n: u64| if large { u32::MAX } else { n as u32 };
        let mut out = Vec::with_capacity(192);
        out.extend(if large { b"RF64" } else { b"RIFF" });
        out.extend(short(riff_bytes).to_le_bytes());
        out.extend(b"WAVE");
        let mut ds64 = [0; 28];
        if large {
            ds64[..8].copy_from_slice(&riff_bytes.to_le_bytes());
            ds64[8..16].copy_from_slice(&self.data_bytes.to_le_bytes());
            ds64[16..24].copy_from_slice(&frames.to_le_bytes());
        }
        chunk(&mut out, if large { b"ds64" } else { b"JUNK" }, &ds64);
        let tag: u16 = if self.number.is_float() { 3 } else { 1 };
        let mut format = Vec::with_capacity(16);
        format.extend(tag.to_le_bytes());
        format.extend(self.channels.to_le_bytes());
        format.extend(self.rate_hz.to_le_bytes());
        format.extend(self.rate_hz.wrapping_mul(u32::from(frame)).to_le_bytes());
        format.extend(frame.to_le_bytes());
        format.extend((8 * self.number.bytes() as u16).to_le_bytes());
        chunk(&mut out, b"fmt ", &format);
        if self.number.is_float() {
            chunk(&mut out, b"fact", &short(frames).to_le_bytes());
        }
        if let Some(aux) = &self.aux {
            let rate_hz = f64::from(self.rate_hz);
            let stop = aux.start.map(|at| at.plus_seconds(frames as f64 / rate_hz));
            chunk(&mut out, b"auxi", &aux.to_bytes(stop, rate_hz));
        }
        out.extend(b"data");
        out.extend(short(self.data_bytes).to_le_bytes());
        out
    }
}

fn chunk(out: &mut Vec<u8>, id: &[u8; 4], body: &[u8]) {
    out.extend(id);
    out.extend((body.len() as u32).to_le_bytes());
    out.extend(body);
}
