//! Complex samples out of a file: any range, from any thread, with one `pread` a block into a
//! small buffer that each thread keeps, and no other allocation. Nothing is ever loaded whole.

use crate::number::{Number, NumberKind, first_not_finite, swap_floats};
use crate::source::ByteSource;
use crate::{CaptureError, Place};
use std::cell::RefCell;
use std::fmt;
use std::path::PathBuf;
use std::sync::Arc;
use units::{Iq, ReadError, Samples, Segment, Utc};

/// Bytes read at a time: fits beside its converted samples in a core's second-level cache.
const BLOCK_BYTES: usize = 48 * 1024;

thread_local! {
    // u64, so that every stored number is aligned.
    static BLOCK: RefCell<Vec<u64>> = const { RefCell::new(Vec::new()) };
}

/// Numbers of one kind in stretches of a file.
#[derive(Clone)]
pub(crate) struct Rails {
    pub(crate) source: Arc<dyn ByteSource>,
    pub(crate) file: PathBuf,
    pub(crate) number: Number,
    /// In order; each begins where the one before ends, counted in numbers.
    pub(crate) stretches: Vec<Stretch>,
}

/// Numbers that follow each other in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Stretch {
    pub(crate) first: u64,
    pub(crate) count: u64,
    pub(crate) byte: u64,
}

impl fmt::Debug for Rails {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} of {}", self.number.complex_name(), self.file.display())
    }
}

impl Rails {
    fn len(&self) -> u64 {
        self.stretches.last().map_or(0, |s| s.first + s.count)
    }

    /// Fills `out` with the numbers from `first` on.
    pub(crate) fn read(&self, first: u64, out: &mut [f32]) -> Result<(), CaptureError> {
        let end = first.checked_add(out.len() as u64).filter(|&end| end <= self.len());
        if end.is_none() {
            return Err(CaptureError::refused(
                &self.file,
                Place::Whole,
                format!("numbers {first} to {} were asked for", first as u128 + out.len() as u128),
                format!("at most {}", self.len()),
                "This is a defect of the program: please report it.",
            ));
        }
        let mut at = first;
        let mut rest = out;
        let mut index = self.stretches.partition_point(|s| s.first + s.count <= first);
        while !rest.is_empty() {
            let Some(stretch) = self.stretches.get(index) else { break };
            let offset = at - stretch.first;
            let n = (stretch.count - offset).min(rest.len() as u64) as usize;
            let (now, later) = std::mem::take(&mut rest).split_at_mut(n);
            self.read_bytes(stretch.byte + offset * self.number.bytes() as u64, now)?;
            at += n as u64;
            rest = later;
            index += 1;
        }
        Ok(())
    }

    fn read_bytes(&self, byte: u64, out: &mut [f32]) -> Result<(), CaptureError> {
        if self.number.kind == NumberKind::F32 {
            self.fill(byte, bytemuck::cast_slice_mut(out))?;
            if self.number.big_endian != cfg!(target_endian = "big") {
                swap_floats(out);
            }
            return self.check_finite(byte, out);
        }
        let width = self.number.bytes();
        let per_block = BLOCK_BYTES / width;
        BLOCK.with_borrow_mut(|block| {
            block.resize(BLOCK_BYTES / 8, 0);
            let block: &mut [u8] = bytemuck::cast_slice_mut(block);
            let mut byte = byte;
            for part in out.chunks_mut(per_block) {
                let stored = &mut block[..part.len() * width];
                self.fill(byte, stored)?;
                self.number.convert(stored, part);
                if self.number.is_float() {
                    self.check_finite(byte, part)?;
                }
                byte += stored.len() as u64;
            }
            Ok(())
        })
    }

    fn fill(&self, byte: u64, out: &mut [u8]) -> Result<(), CaptureError> {
        match self.source.read_full(byte, out) {
            Ok(n) if n == out.len() => Ok(()),
            Ok(n) => Err(CaptureError::refused(
                &self.file,
                Place::Byte(byte + n as u64),
                "the file ends here",
                format!("{} bytes more, which it had when it was opened", out.len() - n),
                "Something shortened it meanwhile: copy it anew from where it came.",
            )),
            Err(e) => Err(CaptureError::disk(&self.file, &format!("read it at byte {byte}"), e)),
        }
    }

    fn check_finite(&self, byte: u64, values: &[f32]) -> Result<(), CaptureError> {
        match first_not_finite(values) {
            None => Ok(()),
            Some(index) => Err(CaptureError::refused(
                &self.file,
                Place::Byte(byte + (index * self.number.bytes()) as u64),
                match values[index] {
                    x if x.is_nan() => "a sample is not a number (NaN)".to_owned(),
                    x if x > 0.0 => "a sample is infinite, or too large for 32 bits".to_owned(),
                    _ => "a sample is minus infinite, or too large for 32 bits".to_owned(),
                },
                "finite samples",
                "Check the sample format; if it is right, the recorder wrote rubbish here.",
            )),
        }
    }
}

/// A recording of complex samples in a file.
#[derive(Debug, Clone)]
pub struct IqRecording {
    pub(crate) rails: Rails,
    pub(crate) rate_hz: f64,
    pub(crate) segments: Vec<Segment>,
}

impl IqRecording {
    /// How its samples are stored, `ci16_le`.
    pub fn sample_format(&self) -> String {
        self.rails.number.complex_name()
    }

    /// Bytes that a complex sample takes.
    pub fn bytes_per_sample(&self) -> usize {
        2 * self.rails.number.bytes()
    }

    /// Whether samples are floats, whose scale nobody guarantees.
    pub fn is_float(&self) -> bool {
        self.rails.number.is_float()
    }

    /// Seconds from the first sample to the last: from the segments' times where each has one,
    /// else number of samples over rate.
    pub fn duration_s(&self) -> f64 {
        let starts: Option<Vec<Utc>> = self.segments.iter().map(|s| s.start).collect();
        match (starts.as_deref(), self.segments.last()) {
            (Some([first, .., last]), Some(segment)) => {
                last.seconds_since(*first) + segment.samples as f64 / self.rate_hz
            }
            _ => self.len() as f64 / self.rate_hz,
        }
    }
}

impl Samples for IqRecording {
    fn sample_rate_hz(&self) -> f64 {
        self.rate_hz
    }
    fn segments(&self) -> &[Segment] {
        &self.segments
    }
    fn rail_limits(&self) -> Option<(f32, f32)> {
        self.rails.number.limits()
    }
    fn read(&self, first: u64, out: &mut [Iq]) -> Result<(), ReadError> {
        Ok(self.rails.read(first.saturating_mul(2), bytemuck::cast_slice_mut(out))?)
    }
}
