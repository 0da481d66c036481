//! 99 % occupied bandwidth (ITU-R SM.328: 0.5 % of the power below, 0.5 % above) and mean power
//! of a signal, measured on its own noise-free waveform.

use crate::audio::Stage;
use crate::signals::{Order, Signal};
use rustfft::FftPlanner;
use units::{Band, Iq};

/// What the waveform shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Occupied {
    /// Edges of the 99 % bandwidth, from the channel's centre. Equal for a carrier.
    pub band: Band,
    /// Mean power while on, where the nominal power is 1.
    pub mean_power: f64,
}

/// Frames averaged at most: of speech (about 16 s at 48 kHz), of others; and their length.
const SPEECH_FRAMES: usize = 48;
const FRAMES: usize = 20;
const LENGTH: usize = 16_384;

/// Measures the first transmissions of a signal at or after `from_s`.
pub fn occupied(signal: &Signal, key: u64, stage: &Stage, on: (f64, f64)) -> Occupied {
    let mut spectrum = vec![0f64; LENGTH];
    let (mut power, mut samples, mut frames) = (0.0, 0usize, 0);
    let (mut rate, mut offset) = (1.0, 0.0);
    let speech = matches!(signal, Signal::Am { .. } | Signal::Fm { .. });
    let most = if speech { SPEECH_FRAMES } else { FRAMES };
    let fft = FftPlanner::new().plan_fft_forward(LENGTH);
    let window = hann(LENGTH);
    let everything = Band { low_hz: f64::NEG_INFINITY, high_hz: f64::INFINITY };
    'enough: for tx in signal.transmissions(on, 0, on, key) {
        let order =
            Order { transmission: tx, from_s: tx.start_s, emitter: key, heard: everything, stage };
        let mut opened = signal.open(&order);
        (rate, offset) = (opened.rate_hz, opened.offset_hz);
        let mut left = ((tx.stop_s - tx.start_s) * rate).round().max(1.0) as usize;
        while left > 0 {
            let mut block = vec![Iq::default(); LENGTH];
            let n = left.min(LENGTH);
            opened.wave.fill(&mut block[..n]);
            power += block.iter().map(|z| f64::from(z.norm_sqr())).sum::<f64>();
            samples += n;
            // A short burst stands in zeros; a long one is windowed against leakage.
            if left >= LENGTH {
                block.iter_mut().zip(&window).for_each(|(z, w)| *z *= w);
            }
            if n == LENGTH || left == ((tx.stop_s - tx.start_s) * rate).round().max(1.0) as usize {
                fft.process(&mut block);
                spectrum.iter_mut().zip(&block).for_each(|(s, z)| *s += f64::from(z.norm_sqr()));
            }
            left -= n;
            frames += 1;
            if frames == most {
                break 'enough;
            }
        }
    }
    spectrum.rotate_left(LENGTH / 2);
    let total: f64 = spectrum.iter().sum();
    let at = |share: f64| {
        let mut sum = 0.0;
        for (k, s) in spectrum.iter().enumerate() {
            if sum + s >= share * total {
                return k as f64 - 0.5 + (share * total - sum) / s.max(1e-300);
            }
            sum += s;
        }
        LENGTH as f64
    };
    let hz = |bin: f64| (bin - (LENGTH / 2) as f64) * rate / LENGTH as f64 + offset;
    let band = match signal {
        Signal::Cw => Band::around(0.0, 0.0),
        _ => Band { low_hz: hz(at(0.005)), high_hz: hz(at(0.995)) },
    };
    Occupied { band, mean_power: power / samples.max(1) as f64 }
}

fn hann(n: usize) -> Vec<f32> {
    (0..n)
        .map(|k| (0.5 - 0.5 * (std::f64::consts::TAU * k as f64 / n as f64).cos()) as f32)
        .collect()
}
