//! Packets and slots of cordless and mobile systems: Bluetooth LE advertising, GSM, DECT. When
//! they are sent, and their bits.

use super::Transmission;
use super::bits::{ble_crc, ble_whitening, dect_r_crc, lsb_first, msb_first};
use crate::draw;
use rand::RngExt;

/// Bits per second of Bluetooth LE 1M (NUM-015).
pub const BLE_RATE: f64 = 1e6;
/// Advertising channels: index, hertz (NUM-014).
pub const BLE_CHANNELS: [(u8, f64); 3] = [(37, 2402e6), (38, 2426e6), (39, 2480e6)];
/// Access address of advertising (FRM-031).
const BLE_ACCESS: u32 = 0x8e89_bed6;

/// Bits per second of GSM (NUM-011).
pub const GSM_RATE: f64 = 1_625_000.0 / 6.0;
/// A slot: 156.25 bits, 576.9 µs.
pub const GSM_SLOT_S: f64 = 156.25 / GSM_RATE;
/// Eight slots: 4.615 ms.
pub const GSM_FRAME_S: f64 = 8.0 * GSM_SLOT_S;
/// Training sequence 0 (FRM-033).
const GSM_TRAINING: u64 = 0b00_1001_0111_0000_1000_1001_0111;

/// Bits per second of DECT (NUM-013).
pub const DECT_RATE: f64 = 1.152e6;
/// Frame of 24 slots.
pub const DECT_FRAME_S: f64 = 0.01;

/// Bits on the air of an advertising packet on one channel: preamble, access address, whitened
/// PDU and check word. Header type 2 is a non-connectable advertisement.
pub fn ble_packet(channel: u8, address: [u8; 6], data: &[u8]) -> Vec<bool> {
    let mut pdu = vec![0x02, 6 + data.len() as u8];
    // Least significant octet first.
    pdu.extend(address.iter().rev());
    pdu.extend(data);
    let pdu = lsb_first(&pdu);
    let crc = ble_crc(&pdu);
    let body = pdu.into_iter().chain(crc).zip(ble_whitening(channel)).map(|(b, w)| b != w);
    lsb_first(&[0xaa]).into_iter().chain(lsb_first(&BLE_ACCESS.to_le_bytes())).chain(body).collect()
}

/// Advertising data: flags, then one manufacturer field of invented octets.
pub fn ble_data(key: u64, bytes: usize) -> Vec<u8> {
    let mut rng = draw::rng(key, &[0xb1e]);
    let mut data = vec![0x02, 0x01, 0x06];
    if bytes > 5 {
        data.extend([bytes as u8 - 4, 0xff]);
    }
    while data.len() < bytes {
        data.push(rng.random());
    }
    data.truncate(bytes);
    data
}

/// Length of a packet with that many bytes of data, seconds.
pub fn ble_packet_s(data_bytes: usize) -> f64 {
    8.0 * (1 + 4 + 2 + 6 + data_bytes + 3) as f64 / BLE_RATE
}

/// Events per group: a group of events has a fixed length, so that any moment can be reached
/// without drawing all delays before it.
const BLE_GROUP: usize = 64;
/// Mean of the random delay between events; 0 to 10 ms (Vol 6 Part B 4.4.2.2).
const BLE_DELAY_S: f64 = 4e-3;

/// Packets of advertising events that touch a window: one on each channel, 0.4 ms apart.
pub fn ble_events(
    on: (f64, f64),
    id: u64,
    window: (f64, f64),
    emitter: u64,
    interval_s: f64,
    data_bytes: usize,
) -> Vec<Transmission> {
    let group_s = BLE_GROUP as f64 * (interval_s + BLE_DELAY_S);
    let packet_s = ble_packet_s(data_bytes);
    let from = window.0.max(on.0);
    let until = window.1.min(on.1);
    let mut sent = Vec::new();
    if from >= until {
        return sent;
    }
    let group = |s: f64| ((s - on.0) / group_s).floor().max(0.0) as u64;
    for g in group(from - 0.01)..=group(until) {
        let mut rng = draw::rng(emitter, &[0xb1f, id, g]);
        let delays: Vec<f64> = (0..BLE_GROUP).map(|_| rng.random::<f64>()).collect();
        let scale = BLE_GROUP as f64 * BLE_DELAY_S / delays.iter().sum::<f64>();
        let mut t = on.0 + g as f64 * group_s;
        for (k, delay) in delays.iter().enumerate() {
            for (c, (_, hz)) in BLE_CHANNELS.iter().enumerate() {
                let start_s = t + c as f64 * (packet_s + 0.4e-3);
                let stop_s = start_s + packet_s;
                if stop_s > window.0 && start_s < until {
                    let id = (id << 32) ^ (g << 8) ^ (k << 2 | c) as u64;
                    sent.push(Transmission { start_s, stop_s, offset_hz: *hz, id });
                }
            }
            t += interval_s + (delay * scale).min(10e-3);
        }
    }
    sent
}

/// Normal burst: 3 tail, 57 data, flag, 26 training, flag, 57 data, 3 tail bits.
pub fn gsm_burst(key: u64) -> Vec<bool> {
    let mut rng = draw::rng(key, &[0x65]);
    let mut data = |n: usize| (0..n).map(|_| rng.random()).collect::<Vec<bool>>();
    let (first, second) = (data(57), data(57));
    let tail = vec![false; 3];
    [tail.clone(), first, vec![false], msb_first(GSM_TRAINING, 26), vec![false], second, tail]
        .concat()
}

/// Differential precoding (3GPP TS 45.004 clause 2.3): bits into levels, 1 − 2 (d_i ⊕ d_{i−1}),
/// with ones before the burst.
pub fn gsm_levels(mut bits: impl Iterator<Item = bool> + Send + 'static) -> super::keyed::Levels {
    let mut before = true;
    Box::new(move || {
        let bit = bits.next()?;
        let level = if bit != before { -1.0 } else { 1.0 };
        before = bit;
        Some(level)
    })
}

/// A mast's carrier without end from slot `first` (counted from scene second 0): frequency
/// correction bursts in slot 0 of frames 0, 10, 20, 30, 40 of 51, all else normal bursts; slots
/// of 157, 156, 156, 156 bits (TS 45.010 clause 5.7).
pub fn gsm_carrier(key: u64, first: u64) -> impl Iterator<Item = bool> + Send + 'static {
    (first..).flat_map(move |slot| {
        let frame = slot / 8;
        let correction = slot % 8 == 0 && frame % 51 % 10 == 0 && frame % 51 < 50;
        let mut bits =
            if correction { vec![false; 148] } else { gsm_burst(draw::key(key, &[slot])) };
        // The guard period keeps on with zeros: a broadcast carrier has no gaps.
        bits.resize(if slot % 4 == 0 { 157 } else { 156 }, false);
        bits
    })
}

/// Slots of a terminal: one a frame, none in frame 25 of 26 (NUM-012).
pub fn gsm_slots(on: (f64, f64), id: u64, window: (f64, f64), emitter: u64) -> Vec<Transmission> {
    let slot = emitter % 8;
    let burst_s = 148.0 / GSM_RATE;
    frames(on, window, GSM_FRAME_S)
        .filter(|frame| frame % 26 != 25)
        .map(|frame| {
            let start_s = frame as f64 * GSM_FRAME_S + slot as f64 * GSM_SLOT_S;
            let id = (id << 32) ^ frame;
            Transmission { start_s, stop_s: start_s + burst_s, offset_hz: 0.0, id }
        })
        .filter(|t| t.stop_s > window.0 && t.start_s < window.1 && t.start_s >= on.0)
        .collect()
}

/// Bits of a DECT burst: 16 preamble, 16 synchronisation, 48 header and tail with 16 check bits,
/// and in a full slot 320 + 4 of data (EN 300 175-3).
pub fn dect_burst(key: u64, full: bool) -> Vec<bool> {
    let mut rng = draw::rng(key, &[0xdec]);
    let mut a_field: Vec<bool> = (0..48).map(|_| rng.random()).collect();
    let check = dect_r_crc(&a_field);
    a_field.extend(msb_first(check, 16));
    // FRM-032: AAAA E98A from the fixed part.
    let mut bits = [msb_first(0xaaaa_e98a, 32), a_field].concat();
    if full {
        bits.extend((0..324).map(|_| rng.random::<bool>()));
    }
    bits
}

/// Length of a burst, seconds: 96 bits (a short one) or 420 and 4 more.
pub fn dect_burst_s(full: bool) -> f64 {
    if full { 420.0 / DECT_RATE } else { 96.0 / DECT_RATE }
}

/// Bursts in one slot of every frame.
pub fn dect_slots(
    on: (f64, f64),
    id: u64,
    window: (f64, f64),
    slot: u32,
    full: bool,
) -> Vec<Transmission> {
    frames(on, window, DECT_FRAME_S)
        .map(|frame| {
            let start_s = (frame as f64 + f64::from(slot) / 24.0) * DECT_FRAME_S;
            let stop_s = start_s + dect_burst_s(full);
            Transmission { start_s, stop_s, offset_hz: 0.0, id: (id << 32) ^ frame }
        })
        .filter(|t| t.stop_s > window.0 && t.start_s < window.1 && t.start_s >= on.0)
        .collect()
}

/// Frames, counted from scene second 0, that can touch a window inside an on-time.
fn frames(on: (f64, f64), window: (f64, f64), frame_s: f64) -> impl Iterator<Item = u64> {
    let from = ((on.0.max(window.0) / frame_s).floor() - 1.0).max(0.0) as u64;
    let until = (on.1.min(window.1) / frame_s).ceil().max(0.0) as u64;
    from..until
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slots_and_frames_keep_the_standards_times() {
        // NUM-011: slot 576.923 µs, frame 4.615385 ms; NUM-012: 26 frames are 120 ms.
        assert!((GSM_SLOT_S - 576.923e-6).abs() < 1e-9);
        assert!((GSM_FRAME_S - 4.615_385e-3).abs() < 1e-9);
        assert!((26.0 * GSM_FRAME_S - 0.12).abs() < 1e-12);
        let slots = gsm_slots((0.0, 1.2), 0, (0.0, 1.2), 3);
        // 10 multiframes of 25 bursts (120 ms, 26th frame idle).
        assert_eq!(slots.len(), 250);
        let gaps: Vec<f64> = slots.windows(2).map(|w| w[1].start_s - w[0].start_s).collect();
        let near = |g: f64, x: f64| (g - x).abs() < 1e-9;
        assert!(gaps.iter().all(|g| near(*g, GSM_FRAME_S) || near(*g, 2.0 * GSM_FRAME_S)));
        assert!(slots.iter().all(|t| ((t.stop_s - t.start_s) - 546.46e-6).abs() < 1e-7));
        // NUM-013: 24 slots of 416.67 µs in 10 ms.
        let slots = dect_slots((0.0, 1.0), 0, (0.0, 1.0), 5, true);
        assert_eq!(slots.len(), 100);
        assert!((slots[0].start_s - 5.0 * 416.666_7e-6).abs() < 1e-9);
        assert_eq!(dect_burst(1, true).len(), 420);
        assert_eq!(gsm_burst(1).len(), 148);
    }

    #[test]
    fn advertising_events_follow_their_interval_in_any_window() {
        let whole = ble_events((0.0, 60.0), 0, (0.0, 60.0), 7, 0.1, 22);
        let first: Vec<f64> =
            whole.iter().filter(|t| t.offset_hz == 2402e6).map(|t| t.start_s).collect();
        for w in first.windows(2) {
            assert!((0.1..0.110_001).contains(&(w[1] - w[0])), "{}", w[1] - w[0]);
        }
        assert_eq!(whole.len(), 3 * first.len());
        for k in 0..60 {
            let w = (f64::from(k), f64::from(k + 1));
            let part = ble_events((0.0, 60.0), 0, w, 7, 0.1, 22);
            let same: Vec<_> =
                whole.iter().filter(|t| t.stop_s > w.0 && t.start_s < w.1).copied().collect();
            assert_eq!(part, same);
        }
        // 80 bits of preamble, address and header, 48 of device address, data, 24 check bits.
        assert!((ble_packet_s(22) - 304e-6).abs() < 1e-9);
        assert_eq!(ble_packet(37, [1, 2, 3, 4, 5, 6], &[0; 22]).len(), 304);
    }
}
