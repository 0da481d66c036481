//! Msps of streamed spectra beside the bare transform of the same samples and lengths:
//! `cargo run --release -p spectrum --example speed`.
#![allow(clippy::disallowed_methods, reason = "a bench reads the clock")]

use dsp::Fft;
use spectrum::{FloorEstimator, Overview, Resolution, stream};
use std::time::Instant;
use units::{Iq, ReadError, Samples, Segment};

/// The same block of noise over and over: reading costs one memcpy.
struct Noise {
    block: Vec<Iq>,
    segments: [Segment; 1],
}

impl Samples for Noise {
    fn sample_rate_hz(&self) -> f64 {
        20e6
    }
    fn segments(&self) -> &[Segment] {
        &self.segments
    }
    fn rail_limits(&self) -> Option<(f32, f32)> {
        None
    }
    fn read(&self, first: u64, out: &mut [Iq]) -> Result<(), ReadError> {
        let mut at = first as usize % self.block.len();
        let mut out = out;
        while !out.is_empty() {
            let n = out.len().min(self.block.len() - at);
            let (now, rest) = out.split_at_mut(n);
            now.copy_from_slice(&self.block[at..at + n]);
            (out, at) = (rest, 0);
        }
        Ok(())
    }
}

fn noise(samples: usize) -> Vec<Iq> {
    let mut state = 1u64;
    let mut draw = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (state >> 40) as f32 / 8_388_608.0 - 1.0
    };
    (0..samples).map(|_| Iq::new(draw(), draw())).collect()
}

/// Seconds that all threads of this process have run (ticks of 10 ms).
fn cpu_s() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after_name = stat.rsplit(')').next().unwrap_or_default();
    let ticks = |i: usize| after_name.split_whitespace().nth(i).and_then(|t| t.parse::<f64>().ok());
    (ticks(11).unwrap_or(0.0) + ticks(12).unwrap_or(0.0)) / 100.0
}

/// Msps as the clock on the wall has it, and for each second of processor time.
fn msps(samples: usize, run: impl FnOnce()) -> (f64, f64) {
    let (start, cpu) = (Instant::now(), cpu_s());
    run();
    let rate = |s: f64| (samples as f64 / s / 1e6).round();
    (rate(start.elapsed().as_secs_f64()), rate(cpu_s() - cpu))
}

fn main() -> Result<(), ReadError> {
    let samples = 1usize << 25;
    let segment =
        Segment { first_sample: 0, samples: samples as u64, centre_hz: None, start: None };
    let source = Noise { block: noise(1 << 20), segments: [segment.clone()] };
    println!("{} threads, {samples} samples", rayon::current_num_threads());
    for ladder in [&[1024usize][..], &[4096], &[65536], &[256, 2048, 16384, 131072]] {
        // Bare: one core, no window, no power, no overlap: every sample transformed once.
        let bare = msps(samples, || {
            for n in ladder {
                let fft = Fft::forward(*n);
                let mut out = vec![Iq::default(); *n];
                let mut scratch = fft.scratch_out_of_place();
                for i in 0..samples / n {
                    let at = (i * n) % source.block.len();
                    fft.out_of_place(&source.block[at..at + n], &mut out, &mut scratch);
                }
            }
        });
        let resolutions: Vec<Resolution> = ladder.iter().map(|n| Resolution::hann(*n)).collect();
        let mut rows = 0;
        let mut failed = Ok(());
        let spectra = msps(samples, || {
            failed = stream::<ReadError>(&source, &segment, &resolutions, &mut |block| {
                rows += (0..resolutions.len()).map(|l| block.rows(l).len()).sum::<usize>();
                Ok(())
            });
        });
        failed?;
        let mut floor = FloorEstimator::new(resolutions[0]);
        let mut overview = Overview::new(resolutions[0], 4.0);
        let mut failed = Ok(());
        let all = msps(samples, || {
            failed = stream::<ReadError>(&source, &segment, &resolutions, &mut |block| {
                floor.push(&block.rows(0));
                overview.push(&block.rows(0), &mut |_| ());
                Ok(())
            });
        });
        failed?;
        let start = Instant::now();
        let estimate = floor.estimate();
        let took = start.elapsed().as_secs_f64() * 1e3;
        println!(
            "{ladder:?}, Msps by the clock and a core: bare transforms {bare:?}; streamed Hann spectra, \
             half overlapped, {spectra:?} ({rows} rows); with floor and overview {all:?}; one estimate {took:.1} ms over {} cells",
            estimate.cells
        );
    }
    Ok(())
}
