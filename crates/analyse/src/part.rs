//! A part of a recording, as if it were the whole: its samples and times count from its start.

use capture::IqRecording;
use units::{Iq, ReadError, Samples, Segment, Trace, Traces};

/// The samples of a recording from one time to another.
pub(crate) struct Part<'a> {
    whole: &'a dyn Samples,
    first: u64,
    segments: Vec<Segment>,
}

impl<'a> Part<'a> {
    /// From `range_s.0` up to `range_s.1`, seconds from the recording's first sample: by the
    /// segments' times where each has one, else by sample count over rate. May hold nothing.
    pub(crate) fn new(whole: &'a dyn Samples, range_s: (f64, f64)) -> Self {
        let (first, segments) = within(whole, range_s);
        Part { whole, first, segments }
    }
}

/// A recording or a part of it, that stays open.
#[derive(Debug)]
pub(crate) struct OwnedPart {
    whole: IqRecording,
    first: u64,
    segments: Vec<Segment>,
}

impl OwnedPart {
    /// As [`Part::new`]; the whole without a range.
    pub(crate) fn new(whole: IqRecording, range_s: Option<(f64, f64)>) -> Self {
        let (first, segments) = match range_s {
            None => (0, whole.segments().to_vec()),
            Some(range_s) => within(&whole, range_s),
        };
        OwnedPart { whole, first, segments }
    }
}

/// The first sample from a time on up to another, and the segments counted from there.
fn within(whole: &dyn Samples, range_s: (f64, f64)) -> (u64, Vec<Segment>) {
    let rate_hz = whole.sample_rate_hz();
    let mut segments = Vec::new();
    let mut first = 0;
    for (segment, start_s) in whole.segments().iter().zip(starts_s(whole)) {
        // The first sample at or after a time; a hair of slack for rounding.
        let at = |s: f64| {
            let n = ((s - start_s) * rate_hz - 1e-6).ceil();
            n.clamp(0.0, segment.samples as f64) as u64
        };
        let (from, until) = (at(range_s.0), at(range_s.1));
        if from >= until {
            continue;
        }
        if segments.is_empty() {
            first = segment.first_sample + from;
        }
        segments.push(Segment {
            first_sample: segment.first_sample + from - first,
            samples: until - from,
            centre_hz: segment.centre_hz,
            start: segment.start.map(|at| at.plus_seconds(from as f64 / rate_hz)),
        });
    }
    (first, segments)
}

/// When each segment starts, seconds from the recording's first sample.
pub(crate) fn starts_s(samples: &dyn Samples) -> Vec<f64> {
    let segments = samples.segments();
    let rate_hz = samples.sample_rate_hz();
    let stated: Option<Vec<_>> = segments.iter().map(|s| s.start).collect();
    match stated.as_deref() {
        Some([first, rest @ ..]) => {
            let later = rest.iter().map(|at| at.seconds_since(*first));
            std::iter::once(0.0).chain(later).collect()
        }
        _ => segments.iter().map(|s| s.first_sample as f64 / rate_hz).collect(),
    }
}

impl Samples for Part<'_> {
    fn sample_rate_hz(&self) -> f64 {
        self.whole.sample_rate_hz()
    }
    fn segments(&self) -> &[Segment] {
        &self.segments
    }
    fn rail_limits(&self) -> Option<(f32, f32)> {
        self.whole.rail_limits()
    }
    fn read(&self, first: u64, out: &mut [Iq]) -> Result<(), ReadError> {
        self.whole.read(self.first + first, out)
    }
}

impl Samples for OwnedPart {
    fn sample_rate_hz(&self) -> f64 {
        self.whole.sample_rate_hz()
    }
    fn segments(&self) -> &[Segment] {
        &self.segments
    }
    fn rail_limits(&self) -> Option<(f32, f32)> {
        self.whole.rail_limits()
    }
    fn read(&self, first: u64, out: &mut [Iq]) -> Result<(), ReadError> {
        self.whole.read(self.first + first, out)
    }
}

/// The traces of a recording from one time to another.
pub(crate) struct PartOfTraces<'a> {
    whole: &'a mut dyn Traces,
    range_s: (f64, f64),
}

impl<'a> PartOfTraces<'a> {
    /// Those that begin from `range_s.0` up to `range_s.1`, seconds from the recording's first.
    pub(crate) fn new(whole: &'a mut dyn Traces, range_s: (f64, f64)) -> Self {
        PartOfTraces { whole, range_s }
    }
}

impl Traces for PartOfTraces<'_> {
    fn unit(&self) -> units::LevelUnit {
        self.whole.unit()
    }
    fn next_trace(&mut self) -> Result<Option<Trace>, ReadError> {
        while let Some(mut trace) = self.whole.next_trace()? {
            if trace.start_s >= self.range_s.0 && trace.start_s < self.range_s.1 {
                trace.start_s -= self.range_s.0;
                return Ok(Some(trace));
            }
        }
        Ok(None)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use units::Utc;

    /// Samples that say their own index.
    struct Counted(Vec<Segment>);
    impl Samples for Counted {
        fn sample_rate_hz(&self) -> f64 {
            10.0
        }
        fn segments(&self) -> &[Segment] {
            &self.0
        }
        fn rail_limits(&self) -> Option<(f32, f32)> {
            None
        }
        fn read(&self, first: u64, out: &mut [Iq]) -> Result<(), ReadError> {
            for (x, n) in out.iter_mut().zip(first..) {
                *x = Iq::new(n as f32, 0.0);
            }
            Ok(())
        }
    }

    #[test]
    fn a_part_counts_from_its_own_start_across_a_gap_in_time() {
        let start = Utc(1_000_000_000);
        let at = |s: f64| Some(start.plus_seconds(s));
        let segment = |first_sample, samples, start| Segment {
            first_sample,
            samples,
            centre_hz: Some(1e6),
            start,
        };
        // Ten samples a second: 0 to 2 s, and 10 to 12 s.
        let whole = Counted(vec![segment(0, 20, at(0.0)), segment(20, 20, at(10.0))]);
        let part = Part::new(&whole, (1.5, 11.0));
        assert_eq!(part.segments(), &[segment(0, 5, at(1.5)), segment(5, 10, at(10.0))]);
        assert_eq!(starts_s(&part), [0.0, 8.5]);
        let mut all = vec![Iq::default(); part.len() as usize];
        part.read(0, &mut all).expect("samples");
        let read: Vec<f32> = all.iter().map(|x| x.re).collect();
        let expected: Vec<f32> = (15..30).map(|n| n as f32).collect();
        assert_eq!(read, expected);
        assert!(Part::new(&whole, (3.0, 9.0)).is_empty());
        // Two neighbouring parts share no sample and leave none out.
        let (a, b) = (Part::new(&whole, (0.0, 1.23)), Part::new(&whole, (1.23, 99.0)));
        assert_eq!(a.len() + b.len(), 40);
    }
}
