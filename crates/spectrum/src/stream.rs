//! One segment, read once, block by block, into power spectra at several resolutions.

use crate::stft::{Workspace, workspaces};
use crate::{Resolution, Rows, Stft};
use std::sync::Mutex;
use units::{Iq, ReadError, Samples, Segment};

/// A block of a segment: its samples and the spectra that end in it.
#[derive(Debug, Clone, Copy)]
pub struct Block<'a> {
    /// Number of its first sample in the segment.
    pub first_sample: u64,
    /// The samples, each handed up in exactly one block.
    pub iq: &'a [Iq],
    levels: &'a [Level],
}

impl<'a> Block<'a> {
    /// The new rows of resolution number `level` of the ladder; possibly none.
    pub fn rows(&self, level: usize) -> Rows<'a> {
        let level = &self.levels[level];
        Rows { first_frame: level.first_frame, bins: level.bins, power: &level.power[..level.used] }
    }
}

/// Rows of one resolution in one block.
#[derive(Debug)]
struct Level {
    first_frame: u64,
    bins: usize,
    /// Values of `power` that belong to this block.
    used: usize,
    power: Vec<f32>,
}

/// One block's buffers. The samples kept from before (`carried`) come first, then the block's own.
#[derive(Debug)]
struct Slot {
    iq: Vec<Iq>,
    carried: usize,
    new: usize,
    /// Number in the segment of the block's first own sample.
    first_sample: u64,
    levels: Vec<Level>,
}

impl Slot {
    fn new(ladder: &[Stft], carry: usize, block: usize) -> Slot {
        let level = |stft: &Stft| {
            let r = stft.resolution();
            let rows = block / r.hop() + 1;
            Level { first_frame: 0, bins: r.bins(), used: 0, power: vec![0.0; rows * r.bins()] }
        };
        Slot {
            iq: vec![Iq::default(); carry + block],
            carried: 0,
            new: 0,
            first_sample: 0,
            levels: ladder.iter().map(level).collect(),
        }
    }
    fn block(&self) -> Block<'_> {
        let iq = &self.iq[self.carried..self.carried + self.new];
        Block { first_sample: self.first_sample, iq, levels: &self.levels }
    }
    /// Reads `new` samples after `before` and transforms what has become whole.
    fn fill(&mut self, before: &Slot, new: usize, source: &Source<'_>) -> Result<(), ReadError> {
        let seen = before.carried + before.new;
        self.carried = seen.min(source.carry);
        self.new = new;
        self.first_sample = before.first_sample + before.new as u64;
        let (old, fresh) = self.iq.split_at_mut(self.carried);
        old.copy_from_slice(&before.iq[seen - self.carried..seen]);
        source.samples.read(source.segment.first_sample + self.first_sample, &mut fresh[..new])?;
        let held_from = self.first_sample - self.carried as u64;
        let held = &self.iq[..self.carried + new];
        for (level, stft) in self.levels.iter_mut().zip(source.ladder) {
            let (r, n) = (stft.resolution(), level.bins);
            level.first_frame = r.frames(self.first_sample);
            let last_frame = r.frames(self.first_sample + new as u64);
            let rows = (last_frame - level.first_frame) as usize;
            level.used = rows * n;
            if rows > 0 {
                let start = (level.first_frame * r.hop() as u64 - held_from) as usize;
                let iq = &held[start..start + (rows - 1) * r.hop() + n];
                stft.rows_with(iq, &mut level.power[..level.used], source.work);
            }
        }
        Ok(())
    }
}

/// What stays the same from block to block.
struct Source<'a> {
    samples: &'a dyn Samples,
    segment: &'a Segment,
    ladder: &'a [Stft],
    carry: usize,
    work: &'a [Mutex<Workspace>],
}

/// Fewest samples of a block: enough to keep all cores busy, few enough to stay in their caches.
const LEAST_BLOCK: usize = 1 << 18;

/// Reads `segment` once and calls `visit` with every block in order. While `visit` works on one
/// block the next is read and transformed on rayon's threads. Rows are the same bits at any number
/// of threads. Memory: two blocks of max(2^18, longest transform) samples with their rows.
///
/// # Errors
/// If reading fails, or what `visit` returns (so it can also stop the reading).
pub fn stream<E: From<ReadError>>(
    samples: &dyn Samples,
    segment: &Segment,
    ladder: &[Resolution],
    visit: &mut dyn FnMut(&Block<'_>) -> Result<(), E>,
) -> Result<(), E> {
    let ladder: Vec<Stft> = ladder.iter().map(|r| Stft::new(*r)).collect();
    let carry = ladder.iter().map(|s| s.resolution().bins()).max().unwrap_or(0);
    let block = (carry.max(LEAST_BLOCK) as u64).min(segment.samples) as usize;
    let work = workspaces();
    let source = Source { samples, segment, ladder: &ladder, carry, work: &work };
    let mut now = Slot::new(&ladder, carry, block);
    let mut next = Slot::new(&ladder, carry, block);
    let size = |at: u64| (segment.samples - at).min(block as u64) as usize;
    next.fill(&now, size(0), &source)?;
    while next.new > 0 {
        std::mem::swap(&mut now, &mut next);
        let after = size(now.first_sample + now.new as u64);
        let (mut read, mut visited) = (Ok(()), Ok(()));
        rayon::in_place_scope(|scope| {
            scope.spawn(|_| read = next.fill(&now, after, &source));
            visited = visit(&now.block());
        });
        visited?;
        read?;
    }
    Ok(())
}
