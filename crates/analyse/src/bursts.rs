//! Every burst of a recording, however many: beyond a bound they wait in a temporary file until
//! it is known which emission each belongs to.

use crate::analyse::id_of;
use crate::{AnalyseError, BurstRow, round};
use capture::scratch_file;
use detect::Burst;
use serde::ser::{Error as _, SerializeSeq};
use serde::{Serialize, Serializer};
use std::fs::File;
use std::io::{BufWriter, Read, Write};
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};

/// Bursts kept in memory: 2.5 MiB of them.
const IN_MEMORY: usize = 65_536;
/// Bytes of one in the file: group and five numbers.
const BYTES: usize = 4 + 5 * 8;

/// Takes bursts as they are found.
#[derive(Debug)]
pub(crate) struct Keeper {
    /// The temporary file lies beside this.
    near: PathBuf,
    recent: Vec<Burst>,
    file: Option<BufWriter<File>>,
    spilled: u64,
    failed: Option<AnalyseError>,
}

impl Keeper {
    /// Keeps none yet; what memory does not hold goes into a file beside `near`.
    pub(crate) fn beside(near: &Path) -> Self {
        let near = near.to_owned();
        Keeper { near, recent: Vec::new(), file: None, spilled: 0, failed: None }
    }

    /// Keeps one; a disk that will not is told of by [`Keeper::finish`].
    pub(crate) fn push(&mut self, burst: &Burst) {
        self.recent.push(*burst);
        if self.recent.len() >= IN_MEMORY
            && self.failed.is_none()
            && let Err(error) = self.spill()
        {
            self.failed = Some(error);
        }
        if self.failed.is_some() {
            self.recent.clear();
        }
    }

    fn spill(&mut self) -> Result<(), AnalyseError> {
        if self.file.is_none() {
            self.file = Some(BufWriter::new(scratch_file(&self.near)?));
        }
        if let Some(file) = &mut self.file {
            for burst in &self.recent {
                file.write_all(&stored(burst)).map_err(AnalyseError::Scratch)?;
            }
        }
        self.spilled += self.recent.len() as u64;
        self.recent.clear();
        Ok(())
    }

    /// All of them; `rows[group]` is the row that a group became.
    pub(crate) fn finish(self, rows: &[Option<u32>]) -> Result<BurstList, AnalyseError> {
        if let Some(error) = self.failed {
            return Err(error);
        }
        let file = self.file.map(|file| file.into_inner().map_err(|e| e.into_error())).transpose();
        Ok(BurstList {
            file: file.map_err(AnalyseError::Scratch)?,
            spilled: self.spilled,
            recent: self.recent,
            rows: rows.to_vec(),
            listed: Vec::new(),
        })
    }
}

/// Every burst that belongs to an emission, in the order in which they were found.
#[derive(Debug)]
pub struct BurstList {
    file: Option<File>,
    spilled: u64,
    recent: Vec<Burst>,
    rows: Vec<Option<u32>>,
    listed: Vec<BurstRow>,
}

impl BurstList {
    /// Of bursts whose emissions are known, in order.
    pub(crate) fn listed(listed: Vec<BurstRow>) -> Self {
        BurstList { file: None, spilled: 0, recent: Vec::new(), rows: Vec::new(), listed }
    }

    /// Hands each to `sink`.
    ///
    /// # Errors
    /// If the temporary file cannot be read, and the first error of `sink`, which ends it.
    pub fn each<E: From<std::io::Error>>(
        &self,
        mut sink: impl FnMut(BurstRow) -> Result<(), E>,
    ) -> Result<(), E> {
        if let Some(file) = &self.file {
            // Read by place, not by the file's own position: many may read at once.
            let mut reader = std::io::BufReader::with_capacity(1 << 16, At { file, byte: 0 });
            let mut bytes = [0; BYTES];
            for _ in 0..self.spilled {
                reader.read_exact(&mut bytes)?;
                if let Some(row) = self.row(&read(&bytes)) {
                    sink(row)?;
                }
            }
        }
        self.recent.iter().filter_map(|burst| self.row(burst)).try_for_each(&mut sink)?;
        self.listed.iter().cloned().try_for_each(sink)
    }

    fn row(&self, burst: &Burst) -> Option<BurstRow> {
        let row = (*self.rows.get(burst.group as usize)?)?;
        Some(BurstRow {
            emission: id_of(row as usize),
            start_s: round::seconds(burst.start_s),
            stop_s: round::seconds(burst.stop_s),
            centre_hz: round::hertz(burst.centre_hz),
            bandwidth_hz: Some(round::hertz(burst.bandwidth_hz)),
            snr_db: Some(round::decibels(burst.snr_db)),
        })
    }
}

/// As a list, burst by burst.
impl Serialize for BurstList {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut list = serializer.serialize_seq(None)?;
        let mut failed = None;
        let ended = self.each(|row| {
            list.serialize_element(&row).map_err(|error| {
                failed = Some(error);
                std::io::Error::other("stopped")
            })
        });
        match (failed, ended) {
            (Some(error), _) => Err(error),
            (None, Err(error)) => Err(S::Error::custom(error)),
            (None, Ok(())) => list.end(),
        }
    }
}

struct At<'a> {
    file: &'a File,
    byte: u64,
}

impl Read for At<'_> {
    fn read(&mut self, out: &mut [u8]) -> std::io::Result<usize> {
        let n = self.file.read_at(out, self.byte)?;
        self.byte += n as u64;
        Ok(n)
    }
}

fn stored(burst: &Burst) -> [u8; BYTES] {
    let mut bytes = [0; BYTES];
    bytes[..4].copy_from_slice(&burst.group.to_le_bytes());
    let numbers = [burst.start_s, burst.stop_s, burst.centre_hz, burst.bandwidth_hz, burst.snr_db];
    for (place, number) in bytes[4..].chunks_exact_mut(8).zip(numbers) {
        place.copy_from_slice(&number.to_le_bytes());
    }
    bytes
}

fn read(bytes: &[u8; BYTES]) -> Burst {
    let number = |k: usize| {
        let mut eight = [0; 8];
        eight.copy_from_slice(&bytes[4 + 8 * k..12 + 8 * k]);
        f64::from_le_bytes(eight)
    };
    let mut four = [0; 4];
    four.copy_from_slice(&bytes[..4]);
    Burst {
        group: u32::from_le_bytes(four),
        start_s: number(0),
        stop_s: number(1),
        centre_hz: number(2),
        bandwidth_hz: number(3),
        snr_db: number(4),
        level_dbfs: f64::NAN,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_bursts_than_memory_keeps_come_back_whole_and_in_order() {
        let count = 2 * IN_MEMORY + 17;
        let folder = tempfile::tempdir().expect("a folder");
        let mut keeper = Keeper::beside(&folder.path().join("bursts.csv"));
        let mut nowhere = Keeper::beside(&folder.path().join("gone/bursts.csv"));
        for k in 0..count {
            let burst = Burst {
                group: (k % 3) as u32,
                start_s: k as f64,
                stop_s: k as f64 + 0.25,
                centre_hz: 433.92e6,
                bandwidth_hz: 12_500.0,
                snr_db: 20.0,
                level_dbfs: -30.0,
            };
            keeper.push(&burst);
            nowhere.push(&burst);
        }
        let said = nowhere.finish(&[]).expect_err("no folder");
        assert!(said.to_string().contains("/gone: "), "{said}");
        // The file lies there without a name.
        assert!(keeper.spilled > 0);
        assert!(!folder.path().join("bursts.csv").exists());
        // Group 1 was dropped in the end; group 2 became the first row.
        let list = keeper.finish(&[Some(1), None, Some(0)]).expect("kept");
        let mut at = Vec::new();
        let mut ids = std::collections::BTreeMap::new();
        list.each(|row| -> Result<(), std::io::Error> {
            at.push(row.start_s);
            *ids.entry(row.emission).or_insert(0usize) += 1;
            Ok(())
        })
        .expect("read");
        let expected: Vec<f64> = (0..count).filter(|k| k % 3 != 1).map(|k| k as f64).collect();
        assert_eq!(at, expected);
        let of = |group: usize| (0..count).filter(|k| k % 3 == group).count();
        assert_eq!(ids["R1"], of(2));
        assert_eq!(ids["R2"], of(0));
    }
}
