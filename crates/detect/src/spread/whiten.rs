//! White noise out of a band's noise: each frequency divided by its own mean level, what stands
//! out of its neighbours or was left out by the caller taken away, frame by frame with sine windows
//! half overlapped (their squares add up to one).

use dsp::Fft;
use std::f64::consts::PI;
use units::{Band, Iq};

/// Bins are about so wide, hertz: narrow enough to cut a line out without its neighbourhood.
const BIN_HZ: f64 = 600.0;
/// Frames of which the level is learnt before the first is whitened, and the fewest that will do.
const LEARN: usize = 64;
const LEAST: usize = 8;
/// The level follows the mean of about so many frames.
const MEMORY: f64 = 512.0;
/// Over the median of its neighbours by this a bin belongs to an emission that stands above the
/// noise; two bins either side go with it.
const STANDS_OUT: f64 = 2.0;
const BESIDE: usize = 2;
/// A bin of noise exceeds so many times its mean once in a million: a burst is cut.
const BURST: f32 = 14.0;

/// Whitens a stream of samples, block by block.
#[derive(Debug)]
pub(super) struct Whitener {
    forward: Fft,
    back: Fft,
    scratch: (Vec<Iq>, Vec<Iq>),
    window: Vec<f32>,
    left_out: Vec<bool>,
    /// Mean power of each bin, and of how many frames.
    level: Vec<f64>,
    frames: f64,
    gain: Vec<f32>,
    /// Samples that wait for a whole frame, or for the level to be learnt.
    waiting: Vec<Iq>,
    /// Second half of the last frame, waiting for the first of the next.
    tail: Vec<Iq>,
}

impl Whitener {
    /// `leave_out`: bands as offsets from the centre.
    pub fn new(rate_hz: f64, leave_out: &[Band]) -> Self {
        let n = ((rate_hz / BIN_HZ) as usize).next_power_of_two().clamp(256, 16384);
        let (forward, back) = (Fft::forward(n), Fft::inverse(n));
        let left_out = |k: usize| {
            let hz = ((k + n / 2) % n) as f64 - (n / 2) as f64;
            leave_out.iter().any(|b| b.contains(hz * rate_hz / n as f64))
        };
        Whitener {
            scratch: (forward.scratch(), back.scratch()),
            forward,
            back,
            window: (0..n).map(|i| (PI * (i as f64 + 0.5) / n as f64).sin() as f32).collect(),
            left_out: (0..n).map(left_out).collect(),
            level: vec![0.0; n],
            frames: 0.0,
            gain: Vec::new(),
            waiting: Vec::new(),
            tail: vec![Iq::default(); n / 2],
        }
    }

    /// Fraction of the band that is left in.
    pub fn kept(&self) -> f64 {
        self.gain.iter().filter(|g| **g > 0.0).count() as f64 / self.level.len() as f64
    }

    /// Appends what is white of a block.
    pub fn push(&mut self, block: &[Iq], out: &mut Vec<Iq>) {
        self.waiting.extend_from_slice(block);
        let n = self.level.len();
        if self.gain.is_empty() && self.waiting.len() < (LEARN + 1) * n / 2 {
            return;
        }
        self.drain(out);
    }

    /// Whitens what waits, as far as it goes, and forgets the rest: samples are missing now.
    pub fn gap(&mut self, out: &mut Vec<Iq>) {
        if !self.gain.is_empty() || self.waiting.len() >= (LEAST + 1) * self.level.len() / 2 {
            self.drain(out);
        }
        self.waiting.clear();
        self.tail.fill(Iq::default());
    }

    fn drain(&mut self, out: &mut Vec<Iq>) {
        let n = self.level.len();
        let waiting = std::mem::take(&mut self.waiting);
        if self.gain.is_empty() {
            for at in (0..=waiting.len() - n).step_by(n / 2) {
                let mut frame = self.spectrum(&waiting[at..at + n]);
                self.learn(&mut frame);
            }
            self.set_gain();
        }
        let mut at = 0;
        while at + n <= waiting.len() {
            let mut frame = self.spectrum(&waiting[at..at + n]);
            self.learn(&mut frame);
            if (self.frames as usize).is_multiple_of(LEARN) {
                self.set_gain();
            }
            self.whiten(&mut frame, out);
            at += n / 2;
        }
        self.waiting = waiting[at..].to_vec();
    }

    fn spectrum(&mut self, samples: &[Iq]) -> Vec<Iq> {
        let mut frame: Vec<Iq> = samples.iter().zip(&self.window).map(|(x, w)| x * w).collect();
        self.forward.in_place(&mut frame, &mut self.scratch.0);
        frame
    }

    fn learn(&mut self, frame: &mut [Iq]) {
        self.frames += 1.0;
        let weight = 1.0 / self.frames.min(MEMORY);
        for (level, x) in self.level.iter_mut().zip(frame) {
            *level += (f64::from(x.norm_sqr()) - *level) * weight;
        }
    }

    /// One over the root of the level, smoothed over what does not stand out; zero where it does.
    fn set_gain(&mut self) {
        let n = self.level.len();
        let reach = n / 32;
        let mut stands_out = self.left_out.clone();
        let mut near = Vec::with_capacity(2 * reach + 1);
        // The median changes slowly: one for every few bins.
        let stride = (reach / 8).max(1);
        for first in (0..n).step_by(stride) {
            near.clear();
            let around = (0..=2 * reach).map(|i| (first + stride / 2 + n + i - reach) % n);
            near.extend(around.filter(|k| !self.left_out[*k]).map(|k| self.level[k]));
            if near.is_empty() {
                continue;
            }
            let middle = near.len() / 2;
            let median = *near.select_nth_unstable_by(middle, f64::total_cmp).1;
            for k in first..(first + stride).min(n) {
                if self.level[k] > STANDS_OUT * median {
                    (0..=2 * BESIDE).for_each(|i| stands_out[(k + n + i - BESIDE) % n] = true);
                }
            }
        }
        let gain = |k: usize| {
            if stands_out[k] {
                return 0.0;
            }
            let around = (0..17).map(|i| (k + n + i - 8) % n).filter(|k| !stands_out[*k]);
            let (count, sum) = around.fold((0.0, 0.0), |(c, s), k| (c + 1.0, s + self.level[k]));
            if sum > 0.0 { (count / sum).sqrt() as f32 } else { 0.0 }
        };
        self.gain = (0..n).map(gain).collect();
    }

    fn whiten(&mut self, frame: &mut [Iq], out: &mut Vec<Iq>) {
        for (x, gain) in frame.iter_mut().zip(&self.gain) {
            *x *= gain;
            if x.norm_sqr() > BURST {
                *x = Iq::default();
            }
        }
        self.back.in_place(frame, &mut self.scratch.1);
        let scale = 1.0 / (frame.len() as f32).sqrt();
        for (x, w) in frame.iter_mut().zip(&self.window) {
            *x *= w * scale;
        }
        let (first, second) = frame.split_at(self.tail.len());
        out.extend(first.iter().zip(&self.tail).map(|(a, b)| a + b));
        self.tail.copy_from_slice(second);
    }
}
