//! Wireless LAN frames in 20 MHz (IEEE 802.11-2020 clause 17): training symbols, SIGNAL, data
//! symbols with pilots, and when a station sends them.

use super::bits::msb_first;
use super::ofdm::{Ofdm, Slice, Symbol, Symbols};
use super::{Order, Transmission};
use crate::draw;
use rand::RngExt;
use units::Iq;

/// Subcarrier spacing (NUM-001), outermost subcarrier.
pub const SPACING_HZ: f64 = 312_500.0;
/// Outermost subcarrier.
pub const OUTER: i64 = 26;
const SYMBOL_S: f64 = 4e-6;
const GUARD_S: f64 = 0.8e-6;
/// Beacon interval (NUM-004).
const BEACON_S: f64 = 0.1024;
/// Training symbols 16 µs, SIGNAL 4 µs.
const HEAD_S: f64 = 20e-6;

/// Long training symbol, subcarriers −26 to 26 (equation 17-8).
const LONG: [i8; 53] = [
    1, 1, -1, -1, 1, 1, -1, 1, -1, 1, 1, 1, 1, 1, 1, -1, -1, 1, 1, -1, 1, -1, 1, 1, 1, 1, 0, 1, -1,
    -1, 1, 1, -1, 1, -1, 1, -1, -1, -1, -1, -1, 1, 1, -1, -1, 1, -1, 1, -1, 1, 1, 1, 1,
];
/// Short training symbol: every fourth subcarrier times (1 + j) √(13/6) (equation 17-6).
const SHORT: [(i64, f32); 12] = [
    (-24, 1.0),
    (-20, -1.0),
    (-16, 1.0),
    (-12, -1.0),
    (-8, -1.0),
    (-4, 1.0),
    (4, -1.0),
    (8, -1.0),
    (12, 1.0),
    (16, 1.0),
    (20, 1.0),
    (24, 1.0),
];

/// The scrambler's sequence from all ones (x^7 + x^4 + 1), also the polarity of the pilots.
pub fn scrambler() -> impl Iterator<Item = bool> {
    let mut state = 0x7fu8;
    std::iter::from_fn(move || {
        let out = (state >> 6 ^ state >> 3) & 1;
        state = state << 1 & 0x7f | out;
        Some(out == 1)
    })
}

/// SIGNAL: rate, length, parity, tail; then coded at rate 1/2 (133, 171 octal) and interleaved.
fn signal_bits(rate: u64, length: u64) -> Vec<bool> {
    let mut bits = msb_first(rate, 4);
    bits.push(false);
    bits.extend((0..12).map(|k| length >> k & 1 == 1));
    let parity = bits.iter().filter(|b| **b).count() % 2 == 1;
    bits.push(parity);
    bits.resize(24, false);
    bits
}

fn coded(bits: &[bool]) -> Vec<bool> {
    let mut state = 0u32;
    let odd = |x: u32| x.count_ones() % 2 == 1;
    bits.iter()
        .flat_map(|b| {
            state = state << 1 & 0x7f | u32::from(*b);
            // Generator 133 octal reads the newest bit first.
            let newest_first = state.reverse_bits() >> 25;
            [odd(newest_first & 0o133), odd(newest_first & 0o171)]
        })
        .collect()
}

/// Data subcarriers in order, pilots and centre left out.
fn data_carriers() -> impl Iterator<Item = i64> {
    (-OUTER..=OUTER).filter(|k| ![-21, -7, 0, 7, 21].contains(k))
}

fn place(k: i64) -> usize {
    (k + OUTER) as usize
}

fn pilots(carriers: &mut [Iq], polarity: f32) {
    for (k, sign) in [(-21, 1.0), (-7, 1.0), (7, 1.0), (21, -1.0)] {
        carriers[place(k)] = Iq::new(sign * polarity, 0.0);
    }
}

/// One frame of the transmission's length: symbols until it ends.
fn frame(key: u64, symbols: usize) -> Symbols {
    let mut rng = draw::rng(key, &[0x3f]);
    let mut polarity = scrambler().map(|b| if b { -1.0f32 } else { 1.0 });
    let bits_per_point = [1, 2, 4][rng.random_range(0..3)];
    let mut at = 0;
    Box::new(move || {
        let mut carriers = vec![Iq::default(); 53];
        let mut prefix_s = GUARD_S;
        match at {
            // Ten repetitions of 0.8 µs: two symbols of 4 µs without a seam.
            0 | 1 => SHORT.iter().for_each(|(k, sign)| {
                carriers[place(*k)] = Iq::new(1.0, 1.0) * (*sign * (13f32 / 6.0).sqrt());
            }),
            2 | 3 => {
                prefix_s = if at == 2 { 2.0 * GUARD_S } else { 0.0 };
                carriers.iter_mut().zip(LONG).for_each(|(c, l)| *c = Iq::new(f32::from(l), 0.0));
            }
            4 => {
                let coded = coded(&signal_bits(0b1101, 100 + symbols as u64 % 2000));
                // Interleaver of 48 bits (17.3.5.7): bit k goes to 3 (k mod 16) + ⌊k / 16⌋.
                for (i, k) in data_carriers().enumerate() {
                    let bit = coded[16 * (i % 3) + i / 3];
                    carriers[place(k)] = Iq::new(if bit { 1.0 } else { -1.0 }, 0.0);
                }
                pilots(&mut carriers, polarity.next().unwrap_or(1.0));
            }
            k if k < 5 + symbols => {
                for k in data_carriers() {
                    let mut sign = || if rng.random() { 1.0f32 } else { -1.0 };
                    carriers[place(k)] = match bits_per_point {
                        1 => Iq::new(sign(), 0.0),
                        2 => Iq::new(sign(), sign()) * std::f32::consts::FRAC_1_SQRT_2,
                        _ => {
                            let level = |a: f32, b: f32| a * (2.0 + b);
                            let (re, im) = (level(sign(), sign()), level(sign(), sign()));
                            Iq::new(re, im) / 10f32.sqrt()
                        }
                    };
                }
                pilots(&mut carriers, polarity.next().unwrap_or(1.0));
            }
            _ => return None,
        }
        at += 1;
        Some(Symbol { prefix_s, carriers })
    })
}

/// A frame's wave; `None` where nothing of it is heard.
pub fn open(order: &Order<'_>) -> Option<(Slice, Ofdm)> {
    let slice = Slice::new(SPACING_HZ, -OUTER, OUTER, order.heard, 16)?;
    let t = order.transmission;
    let symbols = ((t.stop_s - t.start_s - HEAD_S) / SYMBOL_S).round().max(1.0) as usize;
    let symbols = frame(draw::key(order.emitter, &[t.id]), symbols);
    let gain = 1.0 / 52f64.sqrt();
    Some((slice, Ofdm::new(symbols, slice, -OUTER, gain, order.from_s - t.start_s)))
}

/// Beacons, and data frames that fill `load` of the time between them.
pub fn frames(
    on: (f64, f64),
    id: u64,
    window: (f64, f64),
    emitter: u64,
    load: f64,
) -> Vec<Transmission> {
    let from = ((on.0.max(window.0) / BEACON_S).floor() - 1.0).max(0.0) as u64;
    let until = (on.1.min(window.1) / BEACON_S).ceil().max(0.0) as u64;
    let mut sent = Vec::new();
    let length = |symbols: f64| HEAD_S + SYMBOL_S * symbols;
    for beacon in from..until {
        let start_s = beacon as f64 * BEACON_S;
        let mut rng = draw::rng(emitter, &[0x3f1, id, beacon]);
        let mut push = |start_s: f64, symbols: f64, n: u64| {
            let stop_s = start_s + length(symbols);
            if stop_s > window.0 && start_s < window.1 && start_s >= on.0 && stop_s <= on.1 {
                let id = (id << 40) ^ (beacon << 12) ^ n;
                sent.push(Transmission { start_s, stop_s, offset_hz: 0.0, id });
            }
            stop_s
        };
        // A beacon of some 250 octets at 6 Mbit/s: 24 bits a symbol.
        let mut t = push(start_s, 85.0, 0);
        if load <= 0.0 {
            continue;
        }
        let mean_s = length(150.0);
        for n in 1..4095 {
            t += 34e-6 + draw::exponential(&mut rng, mean_s * (1.0 - load) / load);
            let symbols = draw::between(&mut rng, 20.0, 280.0).round();
            if t + length(symbols) > start_s + BEACON_S - 50e-6 {
                break;
            }
            t = push(t, symbols, n);
        }
    }
    sent
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scrambler_and_signal_are_the_published_ones() {
        // FRM-029.
        let expected = "0000111011110010110010010000001000100110001011101011011000001100110101001110011110110100001010101111101001010001101110001111111";
        let got: String = scrambler().take(127).map(|b| if b { '1' } else { '0' }).collect();
        assert_eq!(got, expected);
        // FRM-030: rate bits 1011, length 100.
        let got: String =
            signal_bits(0b1011, 100).iter().map(|b| if *b { '1' } else { '0' }).collect();
        assert_eq!(got, "101100010011000000000000");
    }

    #[test]
    fn coding_follows_the_generators() {
        // Impulse response of 133, 171 octal: 1011011 and 1111001 (textbook).
        let bits = [true, false, false, false, false, false, false];
        let got = coded(&bits);
        let a: Vec<u8> = got.iter().step_by(2).map(|b| u8::from(*b)).collect();
        let b: Vec<u8> = got.iter().skip(1).step_by(2).map(|b| u8::from(*b)).collect();
        assert_eq!(a, [1, 0, 1, 1, 0, 1, 1]);
        assert_eq!(b, [1, 1, 1, 1, 0, 0, 1]);
    }

    #[test]
    fn beacons_keep_their_interval_and_load_its_share() {
        let all = frames((0.0, 10.0), 0, (0.0, 10.0), 4, 0.4);
        let on: f64 = all.iter().map(|t| t.stop_s - t.start_s).sum();
        assert!((0.3..0.5).contains(&(on / 10.0)), "{on}");
        assert!(all.windows(2).all(|w| w[0].stop_s < w[1].start_s));
        let beacons = frames((0.0, 10.0), 0, (0.0, 10.0), 4, 0.0);
        assert!(beacons.windows(2).all(|w| ((w[1].start_s - w[0].start_s) - 0.1024).abs() < 1e-9));
    }
}
