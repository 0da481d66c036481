//! Counts of powers in buckets of a sixteenth of an octave, found from the bits of the number.

/// Mantissa bits kept: 16 buckets an octave.
const SHIFT: u32 = 19;
/// Bits of 2^−80, below which a power counts as silence: far under the quantisation of any format.
const LOWEST: u32 = (127 - 80) << 23;
/// Bits of 2^40: floats scaled to 32-bit integers still fit.
const HIGHEST: u32 = (127 + 40) << 23;
const BUCKETS: usize = ((HIGHEST - LOWEST) >> SHIFT) as usize;

/// Counts of cell powers.
#[derive(Debug, Clone)]
pub(crate) struct Histogram {
    counts: Box<[u32; BUCKETS]>,
    /// Powers too small to be anything but digital silence.
    silent: u64,
}

impl Default for Histogram {
    fn default() -> Self {
        Histogram { counts: Box::new([0; BUCKETS]), silent: 0 }
    }
}

/// One bucket: lower and upper edge and how many powers fell between.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Bucket {
    pub low: f64,
    pub high: f64,
    pub count: f64,
}

impl Histogram {
    /// Counts one power.
    pub fn add(&mut self, power: f32) {
        let bits = power.to_bits();
        if bits < LOWEST {
            self.silent += 1;
        } else {
            let bucket = ((bits - LOWEST) >> SHIFT) as usize;
            let count = &mut self.counts[bucket.min(BUCKETS - 1)];
            *count = count.saturating_add(1);
        }
    }
    /// Powers counted, silence left out.
    pub fn count(&self) -> u64 {
        self.counts.iter().map(|c| u64::from(*c)).sum()
    }
    /// Powers that were digital silence.
    pub fn silent(&self) -> u64 {
        self.silent
    }
    /// The buckets from the lowest used one on, rising.
    pub fn buckets(&self) -> impl Iterator<Item = Bucket> + '_ {
        let edge = |i: usize| f64::from(f32::from_bits(LOWEST + ((i as u32) << SHIFT)));
        let first = self.counts.iter().position(|c| *c > 0).unwrap_or(BUCKETS);
        (first..BUCKETS).map(move |i| Bucket {
            low: edge(i),
            high: edge(i + 1),
            count: f64::from(self.counts[i]),
        })
    }
}
