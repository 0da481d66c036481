//! Powers in cells of time and frequency: the frames of one block at one resolution.

use crate::config::Level;
use dsp::{Fft, Window};
use rayon::prelude::*;
use units::Iq;

/// Powers of one block at one resolution, rows of time by bins of rising frequency. Scaled so
/// that the bins of a row sum to the mean power of its frame: |X|²/(N Σw²) (methods: Parseval).
#[derive(Debug)]
pub(crate) struct Cells {
    /// The resolution.
    pub level: Level,
    /// Number of rows.
    pub rows: usize,
    /// Rows × bins.
    pub power: Vec<f32>,
}

impl Cells {
    /// One row.
    pub fn row(&self, r: usize) -> &[f32] {
        &self.power[r * self.level.n..(r + 1) * self.level.n]
    }
}

/// Makes the cells of blocks, with plan and window made once.
#[derive(Debug)]
pub(crate) struct Maker {
    level: Level,
    fft: Fft,
    window: Vec<f32>,
    scale: f32,
}

impl Maker {
    pub fn new(level: Level) -> Self {
        let window = Window::Hann.samples_f32(level.n);
        let square: f64 = window.iter().map(|w| f64::from(w * w)).sum();
        let scale = (1.0 / (level.n as f64 * square)) as f32;
        Maker { level, fft: Fft::forward(level.n), window, scale }
    }

    /// The resolution.
    pub fn level(&self) -> Level {
        self.level
    }

    /// Buffers for [`Maker::frame`].
    pub fn buffers(&self) -> (Vec<Iq>, Vec<Iq>) {
        (vec![Iq::default(); self.level.n], self.fft.scratch())
    }

    /// The cells of a block; `spare` is reused for them.
    pub fn cells(&self, block: &[Iq], spare: Vec<f32>) -> Cells {
        let n = self.level.n;
        let rows = self.level.rows(block.len());
        let mut power = spare;
        power.resize(rows * n, 0.0);
        // Rows in batches, so that a thread's buffers serve many of them.
        let batch = (1 << 14usize).div_ceil(n);
        power.par_chunks_mut(batch * n).enumerate().for_each_init(
            || self.buffers(),
            |(frame, scratch), (b, out)| {
                for (i, out) in out.chunks_exact_mut(n).enumerate() {
                    self.frame(block, b * batch + i, frame, scratch);
                    let (upper, lower) = frame.split_at(n / 2);
                    dsp::power(lower, self.scale, &mut out[..n / 2]);
                    dsp::power(upper, self.scale, &mut out[n / 2..]);
                }
            },
        );
        Cells { level: self.level, rows, power }
    }

    /// The complex spectrum of one row, in the transform's own order (bin 0 first).
    pub fn frame(&self, block: &[Iq], row: usize, frame: &mut [Iq], scratch: &mut [Iq]) {
        let from = row * self.level.hop;
        dsp::windowed(&block[from..from + self.level.n], &self.window, frame);
        self.fft.in_place(frame, scratch);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::ladder;

    #[test]
    fn the_bins_of_a_row_sum_to_its_mean_power() {
        // Parseval, closed form; a tone of amplitude 0.5 has mean power 0.25 wherever it lies.
        let level = ladder(1e6, 1 << 20)[2];
        for turn in [0.1, 0.123, -0.4] {
            let x: Vec<Iq> = (0..512)
                .map(|i| Iq::from_polar(0.5, (std::f64::consts::TAU * turn * f64::from(i)) as f32))
                .collect();
            let cells = Maker::new(level).cells(&x, Vec::new());
            assert_eq!(cells.rows, 15);
            for r in 0..cells.rows {
                let sum: f32 = cells.row(r).iter().sum();
                assert!((sum - 0.25).abs() < 1e-5, "{turn}: {sum}");
            }
            let peak = cells.row(3).iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
            let at = peak.map_or(0, |p| p.0) as f64;
            assert!((level.offset_hz(at) / 1e6 - turn).abs() < 0.01);
        }
    }
}
