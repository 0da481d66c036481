//! Every kind of signal as a stream of complex samples about its own centre, at its own rate,
//! mean power 1 while on (AM: carrier 1; OOK: pulses 1).

mod keyed;
mod kind;
mod simple;

pub use kind::{Direction, Lines, Signal, Sound};

use crate::audio::Stage;
use crate::draw;
use keyed::{Cpfsk, OOK_OVERSAMPLING, OokWords, Psk, random_levels};
use simple::{Am, Carrier, FlatNoise, Fm, NOISE_OVERSAMPLING, SoundAtRate};
use units::{Band, Iq};

/// A stream of samples. Its own end is the end of its transmission, which the caller keeps.
pub trait Wave: Send {
    /// The next samples.
    fn fill(&mut self, out: &mut [Iq]);
}

/// A stretch of sending without a pause of its own, in scene seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transmission {
    /// Begins.
    pub start_s: f64,
    /// Ends.
    pub stop_s: f64,
    /// Centre, from the emitter's centre.
    pub offset_hz: f64,
    /// Tells it from others of the same emitter, for draws.
    pub id: u64,
}

/// What is asked of a signal when a receiver begins to hear a transmission.
pub struct Order<'a> {
    /// Which.
    pub transmission: Transmission,
    /// First sample at this scene second, not before the transmission's start.
    pub from_s: f64,
    /// Key of the emitter.
    pub emitter: u64,
    /// Part of the spectrum that will be heard, from the transmission's centre: a wide signal
    /// may leave out what lies beyond.
    pub heard: Band,
    /// Sounds.
    pub stage: &'a Stage,
}

/// A running wave and how it is to be placed.
pub struct Opened {
    /// Samples per second.
    pub rate_hz: f64,
    /// Where the wave's zero frequency lies, from the transmission's centre.
    pub offset_hz: f64,
    /// Largest |frequency| of the wave that carries something, hertz.
    pub reach_hz: f64,
    /// The samples.
    pub wave: Box<dyn Wave>,
}

impl Signal {
    /// Half of the width beyond which nothing matters (power under about −60 dB), hertz.
    pub fn reach_hz(&self) -> f64 {
        match self {
            Signal::Cw => 200.0,
            Signal::Noise { width_hz } => 0.55 * width_hz,
            Signal::Am { top_hz, .. } => 1.5 * top_hz,
            Signal::Fm { deviation_hz, top_hz, .. } => 1.2 * (deviation_hz + top_hz) + top_hz,
            Signal::Ook { bit_rate, .. } => 0.25 * OOK_OVERSAMPLING * bit_rate,
            Signal::Fsk { symbol_rate, deviation_hz, bt, .. } => {
                deviation_hz + symbol_rate * if bt.is_some() { 1.0 } else { 3.0 }
            }
            Signal::Psk { symbol_rate, rolloff, .. } => {
                symbol_rate * rolloff.map_or(12.0, |r| 0.5 * (1.0 + r))
            }
            _ => 0.0,
        }
    }
    /// Time that the transmitter takes to come on and to go off, seconds.
    pub fn ramp_s(&self) -> f64 {
        match self {
            Signal::Cw | Signal::Am { .. } | Signal::Fm { .. } => 2e-3,
            Signal::Noise { width_hz } => 4.0 / width_hz,
            Signal::Ook { .. } => 0.0,
            Signal::Fsk { symbol_rate, .. } | Signal::Psk { symbol_rate, .. } => 2.0 / symbol_rate,
            _ => 1e-6,
        }
    }
    /// What it sends inside one on-time of its schedule, as far as it touches `window`.
    pub fn transmissions(
        &self,
        on: (f64, f64),
        id: u64,
        window: (f64, f64),
        _emitter: u64,
    ) -> Vec<Transmission> {
        let whole = Transmission { start_s: on.0, stop_s: on.1, offset_hz: 0.0, id };
        if on.0 < window.1 && on.1 > window.0 { vec![whole] } else { Vec::new() }
    }
    /// Begins to make the samples of a transmission.
    pub fn open(&self, order: &Order<'_>) -> Opened {
        let Transmission { start_s, id, .. } = order.transmission;
        let skip_s = order.from_s - start_s;
        // Endless random symbols may begin anywhere: what came before the receiver looked is
        // nobody's business. Only its own looks must differ.
        let key = draw::key(order.emitter, &[id, order.from_s.to_bits()]);
        let reach_hz = self.reach_hz();
        let sound = |sound: &Sound, top_hz: f64, rate_hz: f64| {
            let audio = order.stage.open(sound, order.emitter, order.from_s, top_hz);
            SoundAtRate::new(audio, None, rate_hz)
        };
        let (rate_hz, wave): (f64, Box<dyn Wave>) = match self {
            Signal::Cw => (4000.0, Box::new(Carrier)),
            Signal::Noise { width_hz } => {
                (NOISE_OVERSAMPLING * width_hz, Box::new(FlatNoise::new(*width_hz, key)))
            }
            Signal::Am { depth, top_hz, sound: what } => {
                let rate = sound_rate(2.0 * top_hz);
                (rate, Box::new(Am::new(sound(what, *top_hz, rate), *depth)))
            }
            Signal::Fm { deviation_hz, top_hz, sound: what } => {
                let rate = sound_rate(reach_hz);
                (rate, Box::new(Fm::new(sound(what, *top_hz, rate), *deviation_hz, rate)))
            }
            Signal::Ook { bit_rate, word_bits, pause_s } => (
                OOK_OVERSAMPLING * bit_rate,
                Box::new(OokWords::new(order.emitter, *word_bits, *bit_rate, *pause_s, skip_s)),
            ),
            Signal::Fsk { levels, symbol_rate, deviation_hz, bt } => {
                let per_symbol = ((4.0 * reach_hz / symbol_rate).ceil() as usize).max(8);
                let rate = per_symbol as f64 * symbol_rate;
                let levels = random_levels(*levels, key);
                (rate, Box::new(Cpfsk::new(levels, per_symbol, deviation_hz / rate, *bt)))
            }
            Signal::Psk { points, symbol_rate, rolloff } => {
                let per_symbol = if rolloff.is_some() { 4 } else { 64 };
                let wave = Psk::new(*points, per_symbol, *rolloff, key);
                (per_symbol as f64 * symbol_rate, Box::new(wave))
            }
            _ => (1.0, Box::new(Carrier)),
        };
        Opened { rate_hz, offset_hz: 0.0, reach_hz, wave }
    }
}

/// A multiple of 16 kHz, at least four times the reach.
fn sound_rate(reach_hz: f64) -> f64 {
    crate::voice::RATE_HZ * (4.0 * reach_hz / crate::voice::RATE_HZ).ceil().max(2.0)
}
