//! Powers in cells of time and frequency: the frames of one block at one resolution.

use crate::config::Level;
use dsp::{Fft, Window};
use spectrum::{Resolution, Rows, Stft};
use units::Iq;

/// Equivalent noise bandwidth of the Hann window, bins: the bins of a row sum to this many times
/// the mean power of its frame.
pub(crate) const ENBW_BINS: f64 = 1.5;

/// Powers of one block at one resolution, rows of time by bins of rising frequency, as
/// [`spectrum`] scales them.
#[derive(Debug)]
pub(crate) struct Cells {
    /// The resolution.
    pub level: Level,
    /// Number of rows.
    pub rows: usize,
    /// Rows × bins.
    pub power: Vec<f32>,
    /// Noise of each row as a multiple of the floor.
    pub gain: Vec<f32>,
}

impl Cells {
    /// One row.
    pub fn row(&self, r: usize) -> &[f32] {
        &self.power[r * self.level.n..(r + 1) * self.level.n]
    }
    /// All of them for `spectrum`, as frames from `first_frame` of the segment on.
    pub fn rows_from(&self, first_frame: u64) -> Rows<'_> {
        Rows { first_frame, bins: self.level.n, power: &self.power }
    }
}

/// Makes the cells of blocks, with plan and window made once.
#[derive(Debug, Clone)]
pub(crate) struct Maker {
    level: Level,
    stft: Stft,
    fft: Fft,
    window: Vec<f32>,
}

impl Maker {
    pub fn new(level: Level) -> Self {
        Maker {
            level,
            stft: Stft::new(Resolution::hann(level.n)),
            fft: Fft::forward(level.n),
            window: Window::Hann.samples_f32(level.n),
        }
    }

    /// The resolution.
    pub fn level(&self) -> Level {
        self.level
    }

    /// The cells of a block; `spare` is reused for them.
    pub fn cells(&self, block: &[Iq], spare: Vec<f32>) -> Cells {
        let rows = self.level.rows(block.len());
        let mut power = spare;
        power.resize(rows * self.level.n, 0.0);
        self.stft.rows(block, &mut power);
        Cells { level: self.level, rows, power, gain: vec![1.0; rows] }
    }

    /// Buffers for [`Maker::frame`].
    pub fn buffers(&self) -> (Vec<Iq>, Vec<Iq>) {
        (vec![Iq::default(); self.level.n], self.fft.scratch())
    }

    /// The complex spectrum of one row, in the transform's own order (bin 0 first).
    pub fn frame(&self, block: &[Iq], row: usize, frame: &mut [Iq], scratch: &mut [Iq]) {
        let from = row * self.level.hop;
        dsp::windowed(&block[from..from + self.level.n], &self.window, frame);
        self.fft.in_place(frame, scratch);
    }
}
