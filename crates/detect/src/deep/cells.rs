//! Cells for folding: short frames, each over the floor of its bin, clipped, a byte each, in order
//! of time for each bin. A stretch of frequency that stands up as a whole for a moment holds a burst
//! much wider than a bin: its cells are made mean noise there.

use super::tuned::{Frame, Tuned};
use dsp::{Fft, Window};
use rayon::prelude::*;
use units::{Iq, ReadError};

/// One step of a cell: mean noise is 28, and the clip at 255 stands 8 sd over it.
const UNIT: f32 = 28.0;
/// Frames whose median is the floor of a bin, at least, and cells of a chunk of them, at most.
const FRAMES: usize = 64;
const CHUNK: usize = 1 << 22;
/// Seconds of them, where so many cells hold them.
const FLOOR_S: f64 = 0.5;
/// Bins that are looked at together for what is wide.
const GROUP: usize = 64;
/// Cells count up to this there.
const CAPPED: f32 = 3.0;
/// Mean of 64 capped cells from which on they hold something wide: 1 − e⁻³ is the mean of noise,
/// 0.15 its scatter (neighbouring bins of a Hann frame correlate), so noise reaches it about once
/// in 100 000 frames.
const RAISED: f32 = 1.6;
/// A cell so many times its floor is a burst that shows by itself. While one is on anywhere in the
/// band, and [`AROUND`] frames before and after, its splatter and what the receiver makes of it may
/// lie everywhere: nothing else is believed.
const LOUD: f32 = 50.0;
const AROUND: usize = 2;
/// Mean over median of exponential powers, 1/ln 2.
const MEDIAN: f32 = std::f32::consts::LOG2_E;

/// Frames of one transform length on the time line, in chunks of joined ones.
pub(super) struct Cells<'a> {
    tuned: &'a Tuned<'a>,
    pub n: usize,
    frames: Vec<Frame>,
    /// First and one past the last frame of each chunk.
    chunks: Vec<(usize, usize)>,
    window: Vec<f32>,
    fft: Fft,
    /// Length of the time line, frames.
    pub rows: usize,
}

impl<'a> Cells<'a> {
    /// `None` where there is no frame of `n` samples.
    pub fn new(tuned: &'a Tuned<'a>, n: usize) -> Option<Self> {
        let frames = tuned.frames(n, n / 2);
        let rows = frames.last()?.row + 1;
        let wanted = (FLOOR_S * tuned.rate_hz / (n / 2) as f64) as usize;
        let length = wanted.max(8 * FRAMES).min(CHUNK / n).max(FRAMES);
        let mut chunks: Vec<(usize, usize)> = Vec::new();
        let mut first = 0;
        for run in super::tuned::runs(&frames) {
            // Equal parts of a run, none much shorter than wanted.
            let parts = (run / length).max(1);
            let edge = |i: usize| first + run * i / parts;
            chunks.extend((0..parts).map(|i| (edge(i), edge(i + 1))));
            first += run;
        }
        let window = Window::Hann.samples_f32(n);
        Some(Cells { tuned, n, frames, chunks, window, fft: Fft::forward(n), rows })
    }
    /// Seconds from one frame to the next.
    pub fn hop_s(&self) -> f64 {
        0.5 * self.n as f64 / self.tuned.rate_hz
    }
    /// Spans of the time line that hold frames.
    pub fn spans(&self) -> Vec<(usize, usize)> {
        let mut spans: Vec<(usize, usize)> = Vec::new();
        for (first, last) in &self.chunks {
            let (from, to) = (self.frames[*first].row, self.frames[last - 1].row + 1);
            match spans.last_mut() {
                Some(span) if span.1 == from => span.1 = to,
                _ => spans.push((from, to)),
            }
        }
        spans
    }
    /// The cells of `width` bins from `first` on (counted from −rate/2), each bin's `rows` in a
    /// row, 0 where there is no frame; and the noise power of a sample in each bin.
    pub fn fill<E: From<ReadError>>(
        &self,
        first: usize,
        width: usize,
        mut step: impl FnMut(f64) -> Result<(), E>,
    ) -> Result<(Vec<u8>, Vec<f64>), E> {
        let mut cells = vec![0u8; width * self.rows];
        let mut noise = vec![0.0f64; width];
        let together = rayon::current_num_threads().max(1);
        let mut done = 0;
        for batch in self.chunks.chunks(together) {
            let made: Vec<Result<Made, ReadError>> =
                batch.par_iter().map(|chunk| self.chunk(*chunk, first, width)).collect();
            for ((from, to), made) in batch.iter().zip(made) {
                let made = made?;
                let (row, count) = (self.frames[*from].row, to - from);
                let share = count as f64 / self.frames.len() as f64;
                let each = cells.par_chunks_mut(self.rows).zip(made.cells.par_chunks(count));
                each.for_each(|(line, cells)| line[row..row + count].copy_from_slice(cells));
                for (noise, floor) in noise.iter_mut().zip(&made.floor) {
                    *noise += share * f64::from(*floor);
                }
            }
            done += batch.len();
            step(done as f64 / self.chunks.len() as f64)?;
        }
        Ok((cells, noise))
    }
    fn chunk(&self, chunk: (usize, usize), first: usize, width: usize) -> Result<Made, ReadError> {
        let (n, hop, count) = (self.n, self.n / 2, chunk.1 - chunk.0);
        let mut iq = vec![Iq::default(); (count - 1) * hop + n];
        self.tuned.read(self.frames[chunk.0].first_sample, &mut iq)?;
        let mut power = vec![0.0f32; n * count];
        let mut frame = vec![Iq::default(); n];
        let mut scratch = self.fft.scratch();
        // Of a sample, so that sums over bands mean something: |X|²/Σw².
        let scale = 1.0 / (n as f64 * Window::Hann.noise_gain()) as f32;
        for i in 0..count {
            dsp::windowed(&iq[i * hop..i * hop + n], &self.window, &mut frame);
            self.fft.in_place(&mut frame, &mut scratch);
            for k in 0..n {
                power[k * count + i] = frame[(k + n / 2) % n].norm_sqr() * scale;
            }
        }
        drop(iq);
        let mut sorted = vec![0.0f32; count];
        let mut floor = Vec::with_capacity(n);
        let mut loudest = vec![0.0f32; count];
        for line in power.chunks_exact_mut(count) {
            sorted.copy_from_slice(line);
            let middle = *sorted.select_nth_unstable_by(count / 2, f32::total_cmp).1;
            let mean = (MEDIAN * middle).max(f32::MIN_POSITIVE);
            floor.push(mean);
            for (loudest, p) in loudest.iter_mut().zip(line) {
                *p /= mean;
                *loudest = loudest.max(*p);
            }
        }
        let power = &power[first * count..(first + width) * count];
        let mut cells: Vec<u8> = power.iter().map(|r| (r * UNIT + 0.5).max(1.0) as u8).collect();
        blank(power, &mut cells, count);
        for i in (0..count).filter(|i| loudest[*i] > LOUD) {
            let around = i.saturating_sub(AROUND)..(i + AROUND + 1).min(count);
            for line in cells.chunks_exact_mut(count) {
                line[around.clone()].fill(UNIT as u8);
            }
        }
        Ok(Made { cells, floor: floor[first..first + width].to_vec() })
    }
}

/// The cells of a chunk, bin after bin, and the floor of each bin.
struct Made {
    cells: Vec<u8>,
    floor: Vec<f32>,
}

/// Makes mean noise of groups of bins in moments in which they stand up together.
fn blank(power: &[f32], cells: &mut [u8], count: usize) {
    let bins = power.len() / count;
    if bins < GROUP / 2 {
        return;
    }
    let groups = (bins / GROUP).max(1);
    for g in 0..groups {
        let (low, high) = (bins * g / groups, bins * (g + 1) / groups);
        let mut sums = vec![0.0f32; count];
        for line in power[low * count..high * count].chunks_exact(count) {
            for (sum, r) in sums.iter_mut().zip(line) {
                *sum += r.min(CAPPED);
            }
        }
        let most = RAISED * (high - low) as f32;
        let raised: Vec<usize> = (0..count).filter(|i| sums[*i] > most).collect();
        for line in cells[low * count..high * count].chunks_exact_mut(count) {
            raised.iter().for_each(|i| line[*i] = UNIT as u8);
        }
    }
}
