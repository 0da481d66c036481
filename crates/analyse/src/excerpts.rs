//! The second reading of a recording: once, in order, only where something was found.

use crate::{AnalyseError, Progress};
use detect::Found;
use identify::Look;
use rayon::prelude::*;
use units::{Iq, Samples, Segment};

/// Samples looked at side by side, unless one excerpt alone is longer.
const BATCH: u64 = 1 << 21;
/// Samples of one excerpt at most: 64 MiB.
const LONGEST: u64 = 1 << 23;

/// Samples about one emission.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Cut {
    /// Index of what was found.
    found: usize,
    first: u64,
    samples: u64,
    /// Frequency at zero.
    centre_hz: f64,
}

/// Looks at what was found: the looks of each, in order of time. Memory is bounded by the longest
/// excerpt; no sample is read twice.
pub(crate) fn looks(
    samples: &dyn Samples,
    found: &[Found],
    progress: &dyn Progress,
) -> Result<Vec<Vec<Look>>, AnalyseError> {
    let cuts = cuts(samples, found);
    let rate_hz = samples.sample_rate_hz();
    let mut looks = vec![Vec::new(); found.len()];
    let mut window = Window { first: 0, samples: Vec::new() };
    let mut rest = &cuts[..];
    while let Some(next) = rest.first() {
        if progress.cancelled() {
            return Err(AnalyseError::Cancelled);
        }
        let done = (cuts.len() - rest.len()) as u64;
        progress.step(done, cuts.len() as u64, "looking closer");
        let stop = next.first + next.samples.max(BATCH);
        let n = rest.iter().take_while(|cut| cut.first + cut.samples <= stop).count().max(1);
        let (batch, later) = rest.split_at(n);
        let end = batch.iter().map(|cut| cut.first + cut.samples).max().unwrap_or(next.first);
        window.cover(samples, next.first, end)?;
        let seen: Vec<Look> = batch
            .par_iter()
            .map(|cut| {
                let from = (cut.first - window.first) as usize;
                let excerpt = identify::Excerpt {
                    rate_hz,
                    centre_hz: cut.centre_hz,
                    samples: &window.samples[from..from + cut.samples as usize],
                };
                identify::look(&found[cut.found], &excerpt)
            })
            .collect();
        for (cut, look) in batch.iter().zip(seen) {
            looks[cut.found].push(look);
        }
        rest = later;
    }
    Ok(looks)
}

/// What to cut, by first sample: as much as is wanted about the middle of each excerpt, inside its
/// segment.
fn cuts(samples: &dyn Samples, found: &[Found]) -> Vec<Cut> {
    let segments = samples.segments();
    let rate_hz = samples.sample_rate_hz();
    let mut cuts = Vec::new();
    for (index, one) in found.iter().enumerate() {
        let wanted = identify::wanted_samples(one, rate_hz).min(LONGEST);
        if wanted == 0 {
            continue;
        }
        for excerpt in &one.excerpts {
            let Some(segment) = segment_of(segments, excerpt.first_sample) else { continue };
            let middle = excerpt.first_sample + excerpt.samples / 2;
            let samples = wanted.min(segment.samples);
            let last_first = segment.first_sample + segment.samples - samples;
            let first = middle.saturating_sub(samples / 2).clamp(segment.first_sample, last_first);
            let centre_hz = segment.centre_hz.unwrap_or(0.0);
            cuts.push(Cut { found: index, first, samples, centre_hz });
        }
    }
    cuts.sort_by_key(|cut| (cut.first, cut.samples, cut.found));
    // Two excerpts of a short segment may be cut the same: one look is enough.
    cuts.dedup();
    cuts
}

fn segment_of(segments: &[Segment], sample: u64) -> Option<&Segment> {
    let after = segments.partition_point(|s| s.first_sample <= sample);
    let segment = segments.get(after.checked_sub(1)?)?;
    (sample < segment.first_sample + segment.samples).then_some(segment)
}

/// A stretch of samples that only ever moves on.
struct Window {
    first: u64,
    samples: Vec<Iq>,
}

impl Window {
    /// Holds `first..end`, perhaps more before it; reads what it does not hold yet.
    fn cover(&mut self, source: &dyn Samples, first: u64, end: u64) -> Result<(), AnalyseError> {
        let held_to = self.first + self.samples.len() as u64;
        if first >= held_to {
            self.samples.clear();
            self.first = first;
        } else if (first - self.first) as usize > self.samples.len() / 2 {
            self.samples.drain(..(first - self.first) as usize);
            self.first = first;
        }
        let held = self.samples.len();
        let needed = (end - self.first) as usize;
        if needed > held {
            self.samples.resize(needed, Iq::default());
            source.read(self.first + held as u64, &mut self.samples[held..])?;
        }
        Ok(())
    }
}
