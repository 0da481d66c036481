//! A segment in blocks: where each lies, and its samples with what their rails say.

use crate::receiver::Rails;
use units::{Iq, ReadError, Samples};

/// Where a block lies in its segment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Span {
    pub first: u64,
    /// Samples of the block.
    pub length: usize,
    /// Those before the next block's first: each sample of a segment is fresh in one block.
    pub fresh: usize,
}

/// The blocks of a segment of `samples` samples, `step` apart and `overlap` longer; the last takes
/// what is left, up to half a step more.
pub(crate) fn spans(samples: u64, step: usize, overlap: usize) -> impl Iterator<Item = Span> {
    let span = move |first: u64| {
        let left = samples - first;
        if left <= (step + step / 2) as u64 {
            Span { first, length: left as usize, fresh: left as usize }
        } else {
            Span { first, length: step + overlap, fresh: step }
        }
    };
    std::iter::successors((samples > 0).then(|| span(0)), move |s| {
        let next = s.first + s.fresh as u64;
        (next < samples).then(|| span(next))
    })
}

/// Where the samples of a segment come from.
#[derive(Clone, Copy)]
pub(crate) struct Source<'a> {
    pub samples: &'a dyn Samples,
    /// First sample of the segment in the recording.
    pub first_sample: u64,
    /// Values of a rail at the converter's limits.
    pub limits: Option<(f32, f32)>,
}

/// The samples of one block.
#[derive(Debug)]
pub(crate) struct Block {
    pub span: Span,
    pub iq: Vec<Iq>,
    /// Of the fresh samples.
    pub rails: Rails,
}

impl Block {
    /// An empty one.
    fn new() -> Self {
        let span = Span { first: 0, length: 0, fresh: 0 };
        Block { span, iq: Vec::new(), rails: Rails::default() }
    }
    /// Becomes the block at `span`.
    fn read(&mut self, source: &Source<'_>, span: Span) -> Result<(), ReadError> {
        self.span = span;
        self.iq.resize(span.length, Iq::default());
        source.samples.read(source.first_sample + span.first, &mut self.iq)?;
        self.rails = Rails::of(self.fresh(), source.limits);
        Ok(())
    }
    /// The samples that no later block holds.
    pub fn fresh(&self) -> &[Iq] {
        &self.iq[..self.span.fresh]
    }
    /// Fraction of the fresh samples at the converter's limits.
    pub fn clipped_fraction(&self) -> f64 {
        self.rails.clipped as f64 / self.span.fresh.max(1) as f64
    }
}

/// Blocks worked on side by side.
#[derive(Debug, Default)]
pub(crate) struct Batch {
    blocks: Vec<Block>,
    filled: usize,
}

impl Batch {
    /// Reads up to `most` of the blocks that come next; `hear` takes each as it is read.
    pub fn read(
        &mut self,
        most: usize,
        source: &Source<'_>,
        spans: &mut dyn Iterator<Item = Span>,
        hear: &mut dyn FnMut(&Block),
    ) -> Result<(), ReadError> {
        self.filled = 0;
        for span in spans.take(most) {
            if self.filled == self.blocks.len() {
                self.blocks.push(Block::new());
            }
            let block = &mut self.blocks[self.filled];
            block.read(source, span)?;
            hear(block);
            self.filled += 1;
        }
        Ok(())
    }
    /// Those that were read, in order.
    pub fn blocks(&mut self) -> &mut [Block] {
        &mut self.blocks[..self.filled]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_give_each_sample_once_and_overlap_the_next() {
        for (samples, count) in [(0u64, 0), (9, 1), (150, 1), (151, 2), (1000, 10), (1049, 10)] {
            let all: Vec<Span> = spans(samples, 100, 30).collect();
            assert_eq!(all.len(), count, "{samples}");
            let mut at = 0;
            for s in &all {
                assert_eq!(s.first, at);
                at += s.fresh as u64;
                assert!(s.first + s.length as u64 <= samples, "{s:?} in {samples}");
            }
            assert_eq!(at, samples);
        }
    }
}
