//! Power spectra of frames of samples in memory.

use crate::Resolution;
use dsp::Fft;
use rayon::prelude::*;
use std::sync::Mutex;
use units::Iq;

/// Consecutive power spectra of one resolution.
#[derive(Debug, Clone, Copy)]
pub struct Rows<'a> {
    /// Number of the first row's frame in its segment.
    pub first_frame: u64,
    /// Bins of a row.
    pub bins: usize,
    /// Power, row after row, `bins` each, in order of frequency.
    pub power: &'a [f32],
}

impl<'a> Rows<'a> {
    /// Number of rows.
    pub fn len(&self) -> usize {
        self.power.len() / self.bins
    }
    /// Whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.power.is_empty()
    }
    /// The rows with their frame numbers.
    pub fn iter(&self) -> impl Iterator<Item = (u64, &'a [f32])> + use<'a> {
        (self.first_frame..).zip(self.power.chunks_exact(self.bins))
    }
}

/// A planned power spectrum, safe to share between threads.
#[derive(Debug, Clone)]
pub struct Stft {
    resolution: Resolution,
    /// Window over its sum, so that |X|² is power.
    window: Vec<f32>,
    fft: Fft,
    scratch: usize,
}

/// What one thread needs while transforming; made once, used for any resolution not longer.
#[derive(Debug, Clone, Default)]
pub struct Workspace {
    windowed: Vec<Iq>,
    transformed: Vec<Iq>,
    scratch: Vec<Iq>,
}

impl Workspace {
    fn fit(&mut self, n: usize, scratch: usize) {
        let grow = |v: &mut Vec<Iq>, n| {
            if v.len() < n {
                v.resize(n, Iq::default());
            }
        };
        grow(&mut self.windowed, n);
        grow(&mut self.transformed, n);
        grow(&mut self.scratch, scratch);
    }
}

/// One workspace a rayon thread.
pub(crate) fn workspaces() -> Vec<Mutex<Workspace>> {
    (0..rayon::current_num_threads().max(1)).map(|_| Mutex::default()).collect()
}

impl Stft {
    /// Plans a resolution.
    pub fn new(resolution: Resolution) -> Self {
        let w = resolution.window().samples(resolution.bins());
        let sum: f64 = w.iter().sum();
        let window = w.iter().map(|w| (w / sum) as f32).collect();
        let fft = Fft::forward(resolution.bins());
        let scratch = fft.scratch_out_of_place().len();
        Stft { resolution, window, fft, scratch }
    }
    /// What was planned.
    pub fn resolution(&self) -> &Resolution {
        &self.resolution
    }
    /// Power spectrum of one frame: `iq` and `row` of length N.
    ///
    /// # Panics
    /// If lengths differ from N.
    pub fn row(&self, iq: &[Iq], row: &mut [f32], work: &mut Workspace) {
        let n = self.resolution.bins();
        work.fit(n, self.scratch);
        let (windowed, transformed) = (&mut work.windowed[..n], &mut work.transformed[..n]);
        dsp::windowed(iq, &self.window, windowed);
        self.fft.out_of_place(windowed, transformed, &mut work.scratch);
        let (upper, lower) = row.split_at_mut(n / 2);
        dsp::power(&transformed[n / 2..], 1.0, upper);
        dsp::power(&transformed[..n / 2], 1.0, lower);
    }
    /// Power spectra of all whole frames of `iq`, spread over rayon's threads; `power` gets
    /// frames × N values.
    ///
    /// # Panics
    /// If `power` is no such length.
    pub fn rows(&self, iq: &[Iq], power: &mut [f32]) {
        self.rows_with(iq, power, &workspaces());
    }
    /// The same with workspaces kept from call to call, one a thread.
    pub(crate) fn rows_with(&self, iq: &[Iq], power: &mut [f32], work: &[Mutex<Workspace>]) {
        let (n, hop) = (self.resolution.bins(), self.resolution.hop());
        let frames = self.resolution.frames(iq.len() as u64) as usize;
        assert_eq!(power.len(), frames * n, "Stft::rows: {frames} frames of {n} bins");
        let per_task = (FRAME_SAMPLES_PER_TASK / n).max(1);
        power.par_chunks_mut(per_task * n).enumerate().for_each(|(task, out)| {
            // A task does not call rayon, so its thread's workspace is free: the lock never waits.
            let mine = rayon::current_thread_index().unwrap_or(0);
            let mut work = match work[mine].lock() {
                Ok(work) => work,
                Err(poisoned) => poisoned.into_inner(),
            };
            for (i, row) in out.chunks_exact_mut(n).enumerate() {
                let start = (task * per_task + i) * hop;
                self.row(&iq[start..start + n], row, &mut work);
            }
        });
    }
}

/// Work of one rayon task: some 50 µs, long against the cost of handing it out.
const FRAME_SAMPLES_PER_TASK: usize = 1 << 14;
