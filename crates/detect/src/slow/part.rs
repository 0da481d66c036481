//! The mean spectrum of a stretch of time, of what nothing clear explains.

/// Bins to either side of one that tell what it would be by noise alone.
const BESIDE: usize = 64;
/// Part of its rows that must be left of a bin for its mean to count.
const LEFT: f32 = 0.25;

/// Means over some rows of the finest resolution, over the noise of each bin.
#[derive(Debug, Clone)]
pub(crate) struct Part {
    /// Samples that the rows stand for.
    pub start: u64,
    pub stop: u64,
    /// Rows.
    pub frames: f64,
    /// Of every bin.
    pub mean: Vec<f32>,
}

impl Part {
    /// From the sum and the number of the unexplained cells of each bin in `rows` rows. A bin of
    /// which much is explained counts the less, as it knows less: its noise is that of the others.
    pub fn of(sum: &[f32], count: &[f32], rows: usize, start: u64, stop: u64) -> Part {
        let beside = beside(sum, count);
        let mean = sum
            .iter()
            .zip(count)
            .zip(&beside)
            .map(|((s, c), b)| {
                let part = c / rows as f32;
                if part < LEFT { *b } else { b + (s / c - b) * part.sqrt() }
            })
            .collect();
        Part { start, stop, frames: rows as f64, mean }
    }

    /// Both in one.
    pub fn with(mut self, next: &Part) -> Part {
        let frames = self.frames + next.frames;
        let (a, b) = ((self.frames / frames) as f32, (next.frames / frames) as f32);
        self.mean.iter_mut().zip(&next.mean).for_each(|(x, y)| *x = a * *x + b * y);
        Part { start: self.start.min(next.start), stop: self.stop.max(next.stop), frames, ..self }
    }
}

/// Mean of the cells of the bins about each.
fn beside(sum: &[f32], count: &[f32]) -> Vec<f32> {
    let n = sum.len();
    let (sums, counts) = (cumulated(sum), cumulated(count));
    let mean = |k: usize| {
        let (a, z) = (k.saturating_sub(BESIDE), (k + BESIDE + 1).min(n));
        let count = counts[z] - counts[a];
        if count > 0.0 { ((sums[z] - sums[a]) / count) as f32 } else { 1.0 }
    };
    (0..n).map(mean).collect()
}

/// Sums up to each place, 0 first.
pub(crate) fn cumulated(x: &[f32]) -> Vec<f64> {
    let mut all = 0.0;
    let next = x.iter().map(|x| {
        all += f64::from(*x);
        all
    });
    std::iter::once(0.0).chain(next).collect()
}
