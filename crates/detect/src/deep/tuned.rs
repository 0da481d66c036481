//! The parts of a recording that lie at one centre frequency, and frames of samples on one time
//! line over all of them: what lies in a gap does not exist.

use crate::samples::places;
use crate::stitch::Place;
use units::{Iq, ReadError, Samples};

/// A gap so long may stand between segments that are searched together, seconds; a longer one may
/// where what came before it is as long.
const GAP_S: f64 = 60.0;

/// All segments of one centre that lie near enough in time.
#[derive(Clone)]
pub(super) struct Tuned<'a> {
    samples: &'a dyn Samples,
    pub rate_hz: f64,
    /// 0 where nobody states it.
    pub centre_hz: f64,
    pub centre_known: bool,
    places: Vec<Place>,
}

/// One frame of samples.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Frame {
    /// Place on the time line, in hops from the first frame of all.
    pub row: usize,
    /// First sample in the recording.
    pub first_sample: u64,
    /// Time of that sample, seconds from the recording's first.
    pub start_s: f64,
    /// Whether the frame before it is the one a hop earlier in the same segment.
    pub joined: bool,
}

/// The recording by centre and time, so that gaps are at most about half of each part.
pub(super) fn tunings(samples: &dyn Samples) -> Vec<Tuned<'_>> {
    let mut all: Vec<Tuned<'_>> = Vec::new();
    let mut places: Vec<_> = places(samples).into_iter().zip(samples.segments()).collect();
    places.sort_by(|a, b| a.0.start_s.total_cmp(&b.0.start_s));
    for (place, segment) in places {
        let goes_on = |t: &&mut Tuned<'_>| {
            t.centre_known == segment.centre_hz.is_some()
                && t.centre_hz == place.centre_hz
                && place.start_s - t.span_s().1 <= GAP_S.max(t.looked_s())
        };
        match all.iter_mut().rev().find(goes_on) {
            Some(tuned) => tuned.places.push(place),
            None => all.push(Tuned {
                samples,
                rate_hz: place.rate_hz,
                centre_hz: place.centre_hz,
                centre_known: segment.centre_hz.is_some(),
                places: vec![place],
            }),
        }
    }
    all
}

impl Tuned<'_> {
    /// Seconds of samples.
    pub fn looked_s(&self) -> f64 {
        self.places.iter().map(|p| p.samples).sum::<u64>() as f64 / self.rate_hz
    }
    /// First sample in the recording and number of samples of each segment, in order of time.
    pub fn stretches(&self) -> impl Iterator<Item = (u64, u64)> {
        self.places.iter().map(|p| (p.first_sample, p.samples))
    }
    /// Samples of the longest segment.
    pub fn longest(&self) -> u64 {
        self.places.iter().map(|p| p.samples).max().unwrap_or(0)
    }
    /// First and last time.
    pub fn span_s(&self) -> (f64, f64) {
        let stop = |p: &Place| p.start_s + p.samples as f64 / self.rate_hz;
        let first = self.places.first().map_or(0.0, |p| p.start_s);
        (first, self.places.iter().map(stop).fold(first, f64::max))
    }
    /// Frames of `n` samples, `hop` apart, no frame over a gap; rows rise.
    pub fn frames(&self, n: usize, hop: usize) -> Vec<Frame> {
        let (n, hop) = (n as u64, hop as u64);
        let hop_s = hop as f64 / self.rate_hz;
        let start_s = self.span_s().0;
        let mut frames: Vec<Frame> = Vec::new();
        for place in self.places.iter().filter(|p| p.samples >= n) {
            let free = frames.last().map_or(0, |f| f.row + 1);
            let row = ((place.start_s - start_s) / hop_s).round() as usize;
            let row = row.max(free);
            for i in 0..=(place.samples - n) / hop {
                frames.push(Frame {
                    row: row + i as usize,
                    first_sample: place.first_sample + i * hop,
                    start_s: place.start_s + i as f64 * hop_s,
                    joined: i > 0,
                });
            }
        }
        frames
    }
    /// Fills `out` from a sample of the recording on.
    pub fn read(&self, first_sample: u64, out: &mut [Iq]) -> Result<(), ReadError> {
        self.samples.read(first_sample, out)
    }
}

/// How many frames stand in each run of joined ones.
pub(super) fn runs(frames: &[Frame]) -> Vec<usize> {
    let mut runs: Vec<usize> = Vec::new();
    for frame in frames {
        match runs.last_mut() {
            Some(run) if frame.joined => *run += 1,
            _ => runs.push(1),
        }
    }
    runs
}
