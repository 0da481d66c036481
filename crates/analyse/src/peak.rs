//! Float samples have no known limit; the largest rail met says whether they were scaled to 1.

use std::sync::atomic::{AtomicU32, Ordering};
use units::{Iq, ReadError, Samples, Segment};

/// A recording that remembers the largest magnitude of a rail that was read from it.
pub(crate) struct Peaked<'a> {
    whole: &'a dyn Samples,
    /// Bits of a float that is never negative: those order as the floats do.
    peak: AtomicU32,
}

impl<'a> Peaked<'a> {
    pub(crate) fn new(whole: &'a dyn Samples) -> Self {
        Peaked { whole, peak: AtomicU32::new(0) }
    }
    pub(crate) fn peak(&self) -> f32 {
        f32::from_bits(self.peak.load(Ordering::Relaxed))
    }
}

impl Samples for Peaked<'_> {
    fn sample_rate_hz(&self) -> f64 {
        self.whole.sample_rate_hz()
    }
    fn segments(&self) -> &[Segment] {
        self.whole.segments()
    }
    fn rail_limits(&self) -> Option<(f32, f32)> {
        self.whole.rail_limits()
    }
    fn read(&self, first: u64, out: &mut [Iq]) -> Result<(), ReadError> {
        self.whole.read(first, out)?;
        if self.rail_limits().is_none() {
            let peak = out.iter().fold(0f32, |peak, x| peak.max(x.re.abs()).max(x.im.abs()));
            self.peak.fetch_max(peak.to_bits(), Ordering::Relaxed);
        }
        Ok(())
    }
}
