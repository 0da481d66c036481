//! A spread signal under the noise, by [`crate::Spread`], as a row.

use super::known::Known;
use super::tuned::Tuned;
use super::{DeepFound, DeepOptions, said};
use crate::{
    BandwidthIs, BurstSummary, DetectError, Found, Shape, Spread, SpreadFound, Uncertainty,
};
use dsp::{Fft, Window};
use units::{Band, Dbfs, Dbm, Iq, Reason, ratio_from_db};

/// Samples read at once.
const BLOCK: usize = 1 << 18;

/// The spread signal that stands out most, if there is one. `family` is the number of rows that
/// noise may make.
pub(super) fn search(
    tuned: &Tuned<'_>,
    known: &Known,
    family: f64,
    options: &DeepOptions,
    on_progress: &mut dyn FnMut(f64) -> bool,
) -> Result<Option<DeepFound>, DetectError> {
    let band = |(low_hz, high_hz)| Band { low_hz, high_hz };
    let leave_out: Vec<Band> = known.taken(0.0).into_iter().map(band).collect();
    let mut spread = Spread::new(tuned.rate_hz, &leave_out, family);
    let mut block = vec![Iq::default(); BLOCK];
    let total: u64 = tuned.stretches().map(|(_, samples)| samples).sum();
    let mut done = 0;
    let mut density = Density::new();
    for (first, samples) in tuned.stretches() {
        for from in (0..samples).step_by(BLOCK) {
            let block = &mut block[..BLOCK.min((samples - from) as usize)];
            tuned.read(first + from, block)?;
            spread.push(block);
            density.push(block);
            done += block.len() as u64;
            if !on_progress(done as f64 / total as f64) {
                return Err(DetectError::Stopped);
            }
        }
        spread.gap();
    }
    // Over the noise it is no spread signal, or one that the ordinary search finds.
    let found = spread.finish().filter(|found| found.snr_db < 0.0);
    Ok(found.map(|found| {
        let density = density.middle(found.low_hz, found.high_hz, tuned.rate_hz);
        row(&found, density, tuned, options)
    }))
}

/// Mean power over frequency, by one frame of each block.
struct Density {
    window: Vec<f32>,
    fft: Fft,
    sums: Vec<f64>,
    count: usize,
}

impl Density {
    /// Bins.
    const BINS: usize = 4096;

    fn new() -> Self {
        let window = Window::Hann.samples_f32(Self::BINS);
        Density { window, fft: Fft::forward(Self::BINS), sums: vec![0.0; Self::BINS], count: 0 }
    }
    fn push(&mut self, block: &[Iq]) {
        let Some(frame) = block.get(..Self::BINS) else { return };
        let mut x = vec![Iq::default(); Self::BINS];
        dsp::windowed(frame, &self.window, &mut x);
        self.fft.in_place(&mut x, &mut self.fft.scratch());
        for (k, sum) in self.sums.iter_mut().enumerate() {
            *sum += f64::from(x[(k + Self::BINS / 2) % Self::BINS].norm_sqr());
        }
        self.count += 1;
    }
    /// Power per hertz in a band, the median over its bins.
    fn middle(&self, low_hz: f64, high_hz: f64, rate_hz: f64) -> f64 {
        let bins = Self::BINS as f64;
        let bin = |hz: f64| ((hz / rate_hz + 0.5) * bins).clamp(0.0, bins - 1.0) as usize;
        let mut own = self.sums[bin(low_hz)..=bin(high_hz)].to_vec();
        let at = own.len() / 2;
        let middle = *own.select_nth_unstable_by(at, f64::total_cmp).1;
        let scale = bins * Window::Hann.noise_gain() * rate_hz * self.count.max(1) as f64;
        middle / scale
    }
}

fn row(s: &SpreadFound, density: f64, tuned: &Tuned<'_>, options: &DeepOptions) -> DeepFound {
    let (first_s, last_s) = tuned.span_s();
    let width = s.high_hz - s.low_hz;
    // The density is that of both.
    let snr = ratio_from_db(s.snr_db);
    let level = Dbfs::from_power((density * width * snr / (1.0 + snr)).max(1e-30));
    let found = Found {
        centre_hz: tuned.centre_hz + s.centre_hz,
        low_hz: tuned.centre_hz + s.low_hz,
        high_hz: tuned.centre_hz + s.high_hz,
        bandwidth_hz: Some(width),
        bandwidth_is: BandwidthIs::Measured,
        first_s,
        last_s,
        shape: Shape::Continuous,
        channels_hz: None,
        bursts: BurstSummary {
            count: 1,
            median_s: Some(last_s - first_s),
            period_s: None,
            on_fraction: 1.0,
        },
        level_dbfs: Some(level),
        level_dbm: options.full_scale.map(|full| Dbm(full.0 + level.0)),
        snr_db: Some(s.snr_db),
        strength: None,
        u: Uncertainty {
            centre_hz: Some(s.u_edge_hz / 2f64.sqrt()),
            bandwidth_hz: Some(s.u_edge_hz * 2f64.sqrt()),
            ..Uncertainty::default()
        },
        excerpts: Vec::new(),
    };
    let chips = match s.chip_rate_hz.zip(s.chips) {
        Some((rate, chips)) => format!(", {chips} chips at {:.4} a microsecond", 1e-6 * rate),
        None => String::new(),
    };
    let text = format!(
        "A signal spread by a code that begins anew every {:.4} us{chips}, {:.1} dB under the noise \
         of its band, by {} repetitions in its correlation over {:.1} s. Noise alone shows as much \
         anywhere in this search with probability {}.",
        1e6 * s.symbol_s,
        -s.snr_db,
        s.multiples,
        s.looked_s,
        said(s.p),
    );
    let mut why = Reason::new("deep_spread", text)
        .with("false_alarm", s.p)
        .with("symbol_s", s.symbol_s)
        .with("u_symbol_s", s.u_symbol_s)
        .with("snr_db", s.snr_db)
        .with("looked_s", s.looked_s)
        .with("left_out", s.left_out);
    let more = [
        ("chip_rate_hz", s.chip_rate_hz),
        ("u_chip_rate_hz", s.u_chip_rate_hz),
        ("chips", s.chips.map(f64::from)),
    ];
    for (key, value) in more {
        if let Some(value) = value {
            why = why.with(key, value);
        }
    }
    DeepFound { found, false_alarm: s.p, why }
}
