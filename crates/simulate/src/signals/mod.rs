//! Every kind of signal as a stream of complex samples about its own centre, at its own rate,
//! mean power 1 while on (AM: carrier 1; OOK: pulses 1).

mod bits;
mod broadcast;
mod chirp;
mod keyed;
mod kind;
mod lte;
mod ofdm;
mod packets;
mod simple;
mod video;
mod wlan;

pub use kind::{Direction, Lines, Signal, Sound};

use crate::audio::Stage;
use crate::draw;
use broadcast::{BROADCAST_RATE_HZ, Broadcast, Rds};
use chirp::{CHIRP_OVERSAMPLING, Chirp};
use keyed::{Cpfsk, OOK_OVERSAMPLING, OokWords, Psk, packet_levels, random_levels};
use simple::{Am, Carrier, FlatNoise, Fm, NOISE_OVERSAMPLING, SoundAtRate};
use units::{Band, Iq};
use video::VideoFm;

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
            Signal::FmBroadcast { .. } => 140e3,
            Signal::Wlan { .. } => 1.15 * 27.0 * wlan::SPACING_HZ,
            Signal::Lte { blocks, .. } => 1.15 * 90e3 * f64::from(*blocks),
            Signal::BleAdvertising { .. } => 1.25e6,
            Signal::Gsm { .. } => 1.25 * packets::GSM_RATE,
            Signal::Dect { .. } => 1.25 * packets::DECT_RATE,
            Signal::Chirp { width_hz, .. } => 0.9 * width_hz,
            Signal::VideoFm { deviation_hz, .. } => deviation_hz + 6e6,
        }
    }
    /// Time that the transmitter takes to come on and to go off, seconds.
    pub fn ramp_s(&self) -> f64 {
        match self {
            Signal::Cw | Signal::Am { .. } | Signal::Fm { .. } => 2e-3,
            Signal::Noise { width_hz } => 4.0 / width_hz,
            Signal::Ook { .. } => 0.0,
            Signal::Fsk { symbol_rate, .. } | Signal::Psk { symbol_rate, .. } => 2.0 / symbol_rate,
            Signal::FmBroadcast { .. } => 1e-3,
            Signal::Chirp { width_hz, .. } => 16.0 / width_hz,
            // TS 45.005 annex B: 28 µs from off to on; a raised cosine of 10 µs lies inside.
            Signal::Gsm { .. } => 10e-6,
            Signal::Dect { .. } => 5e-6,
            Signal::BleAdvertising { .. } => 3e-6,
            Signal::Wlan { .. } | Signal::Lte { .. } => 0.2e-6,
            Signal::VideoFm { .. } => 1e-4,
        }
    }
    /// What it sends inside one on-time of its schedule, as far as it touches `window`.
    pub fn transmissions(
        &self,
        on: (f64, f64),
        id: u64,
        window: (f64, f64),
        emitter: u64,
    ) -> Vec<Transmission> {
        match self {
            Signal::BleAdvertising { interval_s, data_bytes, .. } => {
                packets::ble_events(on, id, window, emitter, *interval_s, *data_bytes)
            }
            Signal::Gsm { direction: Direction::Up } => packets::gsm_slots(on, id, window, emitter),
            Signal::Dect { slot, call } => packets::dect_slots(on, id, window, *slot, *call),
            Signal::Wlan { load } => wlan::frames(on, id, window, emitter, *load),
            Signal::Lte { direction: Direction::Up, .. } => lte::subframes(on, id, window, emitter),
            _ if on.0 < window.1 && on.1 > window.0 => {
                vec![Transmission { start_s: on.0, stop_s: on.1, offset_hz: 0.0, id }]
            }
            _ => Vec::new(),
        }
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
            Signal::FmBroadcast { rds_pi, rds_name, stereo } => {
                let channel = |k: u64| {
                    let own = draw::key(order.emitter, &[k]);
                    order.stage.open(&Sound::Programme, own, order.from_s, 7000.0)
                };
                let sound = SoundAtRate::new(channel(0), Some(channel(1)), BROADCAST_RATE_HZ);
                let rds = rds_pi.map(|pi| Rds::new(pi, rds_name));
                (BROADCAST_RATE_HZ, Box::new(Broadcast::new(sound, *stereo, rds)))
            }
            Signal::BleAdvertising { address, data_bytes, .. } => {
                let data = packets::ble_data(order.emitter, *data_bytes);
                let channel = packets::BLE_CHANNELS
                    .iter()
                    .find(|c| c.1 == order.transmission.offset_hz)
                    .map_or(37, |c| c.0);
                let bits = packets::ble_packet(channel, *address, &data);
                gaussian(packet_levels(bits), packets::BLE_RATE, 250e3, 0.5, skip_s)
            }
            Signal::Gsm { direction } => {
                let levels = match direction {
                    Direction::Up => {
                        let burst = packets::gsm_burst(draw::key(order.emitter, &[id]));
                        (packets::gsm_levels(burst.into_iter()), skip_s)
                    }
                    Direction::Down => {
                        let slot = (order.from_s / packets::GSM_SLOT_S).max(0.0);
                        // Slots of four different lengths repeat: begin at the first of four.
                        let first = (slot / 4.0).floor() * 4.0;
                        let bits = packets::gsm_carrier(order.emitter, first as u64);
                        (packets::gsm_levels(bits), order.from_s - first * packets::GSM_SLOT_S)
                    }
                };
                let rate = packets::GSM_RATE;
                gaussian(levels.0, rate, 0.25 * rate, 0.3, levels.1)
            }
            Signal::Dect { call, .. } => {
                let bits = packets::dect_burst(draw::key(order.emitter, &[id]), *call);
                // EN 300 175-2 clause 5: 288 kHz, BT 0.5.
                gaussian(packet_levels(bits), packets::DECT_RATE, 288e3, 0.5, skip_s)
            }
            Signal::Chirp { spreading, width_hz } => {
                let rate = CHIRP_OVERSAMPLING * width_hz;
                let mut wave = Chirp::new(*spreading, draw::key(order.emitter, &[id]));
                skip(&mut wave, skip_s * rate);
                (rate, Box::new(wave))
            }
            Signal::VideoFm { system, deviation_hz, sound_hz, sound: what } => {
                let rate = system.rate_hz();
                let sound = sound_hz.map(|hz| (sound(what, 7000.0, rate), hz));
                let start = (order.from_s * rate).round() as u64;
                (rate, Box::new(VideoFm::new(*system, *deviation_hz, start, sound)))
            }
            Signal::Wlan { .. } => return sliced(wlan::open(order).map(|(s, w)| (s, w, 0.0))),
            Signal::Lte { blocks, direction } => {
                return sliced(lte::open(order, *blocks, *direction));
            }
        };
        Opened { rate_hz, offset_hz: 0.0, reach_hz, wave }
    }
}

/// A multiple of 16 kHz, at least four times the reach.
fn sound_rate(reach_hz: f64) -> f64 {
    crate::voice::RATE_HZ * (4.0 * reach_hz / crate::voice::RATE_HZ).ceil().max(2.0)
}

/// A Gaussian-filtered FSK wave, its first `skip_s` left out.
fn gaussian(
    levels: keyed::Levels,
    symbol_rate: f64,
    deviation_hz: f64,
    bt: f64,
    skip_s: f64,
) -> (f64, Box<dyn Wave>) {
    const PER_SYMBOL: usize = 8;
    let rate = PER_SYMBOL as f64 * symbol_rate;
    let mut wave = Cpfsk::new(levels, PER_SYMBOL, deviation_hz / rate, Some(bt));
    skip(&mut wave, skip_s * rate);
    (rate, Box::new(wave))
}

/// Runs a wave for some samples that nobody hears.
fn skip(wave: &mut dyn Wave, samples: f64) {
    let mut left = samples.round().max(0.0) as usize;
    let mut unheard = [Iq::default(); 1024];
    while left > 0 {
        let n = left.min(unheard.len());
        wave.fill(&mut unheard[..n]);
        left -= n;
    }
}

/// An OFDM wave with its place; silence where nothing of it is heard.
fn sliced(made: Option<(ofdm::Slice, ofdm::Ofdm, f64)>) -> Opened {
    match made {
        Some((slice, wave, shift_hz)) => Opened {
            rate_hz: slice.rate_hz(),
            offset_hz: slice.offset_hz() + shift_hz,
            reach_hz: slice.reach_hz(),
            wave: Box::new(wave),
        },
        None => Opened { rate_hz: 1e6, offset_hz: 0.0, reach_hz: 1.0, wave: Box::new(Silence) },
    }
}

/// Nothing.
struct Silence;

impl Wave for Silence {
    fn fill(&mut self, out: &mut [Iq]) {
        out.fill(Iq::default());
    }
}
