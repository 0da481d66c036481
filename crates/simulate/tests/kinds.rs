//! Each kind of signal as it is received, against its standard's numbers.

mod common;

use common::{band_power, power, samples};
use simulate::{Scene, Simulation};
use units::{Iq, db_from_ratio};

/// One emitter at a receiver of the given rate, on the emitter's frequency plus an offset.
fn receive(rate: f64, centre: f64, duration: f64, emitter: &str) -> (Vec<Iq>, Simulation) {
    let text = format!(
        r#"
        name = "bench"
        start = "2026-03-01T20:00:00Z"
        [[positions]]
        name = "desk"
        place = {{ at_m = [0.0, 0.0] }}
        [[chains]]
        name = "rx"
        sample_rate_hz = {rate:.1}
        centres_hz = [{centre:.1}]
        noise_figure_db = 8.0
        gain_db = 30.0
        full_scale_dbm = 0.0
        adc_bits = 16
        [[visits]]
        name = "one"
        chain = "rx"
        position = "desk"
        role = "room"
        start = "2026-03-01T20:00:10Z"
        duration_s = {duration}
        [[emitters]]
        name = "it"
        {emitter}
    "#
    );
    let scene: Scene = toml::from_str(&text).expect("a scene");
    let sim = Simulation::new(&scene, 3).expect("valid");
    (samples(&sim, 0), sim)
}

/// Frequency of each sample step, hertz.
fn discriminate(x: &[Iq], rate: f64) -> Vec<f64> {
    let turn = rate / std::f64::consts::TAU;
    x.windows(2).map(|w| f64::from((w[1] * w[0].conj()).arg()) * turn).collect()
}

/// Amplitude of a line in a real sequence.
fn line(x: &[f64], rate: f64, hz: f64) -> f64 {
    let (mut re, mut im) = (0.0, 0.0);
    for (n, v) in x.iter().enumerate() {
        let (s, c) = (std::f64::consts::TAU * (hz * n as f64 / rate).fract()).sin_cos();
        re += v * c;
        im += v * s;
    }
    2.0 * (re * re + im * im).sqrt() / x.len() as f64
}

#[test]
fn levels_in_bursts_are_those_of_the_truth_and_widths_those_of_the_standards() {
    for (emitter, rate, width, tolerance) in [
        // 53 subcarriers of 312.5 kHz are 16.6 MHz (IEEE 802.11-2020 clause 17).
        (
            r#"centre_hz = 2437e6
            snr_db = 30
            signal = { kind = "wlan", load = 0.4 }"#,
            40e6,
            16.6e6,
            0.4e6,
        ),
        // NUM-008: 50 blocks are 9.0 MHz.
        (
            r#"centre_hz = 806e6
            snr_db = 30
            signal = { kind = "lte", blocks = 50, direction = "down" }"#,
            20e6,
            8.93e6,
            0.1e6,
        ),
        (
            r#"centre_hz = 847e6
            snr_db = 30
            signal = { kind = "lte", blocks = 6, direction = "up" }"#,
            5e6,
            1.07e6,
            0.05e6,
        ),
        // EST-027: 0.91 of 270.833 kHz.
        (
            r#"centre_hz = 902e6
            snr_db = 30
            signal = { kind = "gsm", direction = "up" }"#,
            2.4e6,
            0.91 * 270_833.0,
            8e3,
        ),
        (
            r#"centre_hz = 947e6
            snr_db = 30
            signal = { kind = "gsm", direction = "down" }"#,
            2.4e6,
            0.91 * 270_833.0,
            10e3,
        ),
        // EST-028: 1.03 of the bit rate (BT 0.5, index 0.5).
        (
            r#"snr_db = 30
            signal = { kind = "ble-advertising", interval_s = 0.1, address = [1, 2, 3, 4, 5, 6] }"#,
            4e6,
            1.03e6,
            0.05e6,
        ),
        (
            r#"centre_hz = 1890e6
            snr_db = 30
            signal = { kind = "dect", slot = 4, call = true }"#,
            5e6,
            1.03 * 1.152e6,
            0.06e6,
        ),
        // A chirp over B fills B (from memory: 99 % is close to B).
        (
            r#"centre_hz = 868.1e6
            snr_db = 30
            signal = { kind = "chirp", spreading = 9, width_hz = 125e3 }"#,
            1e6,
            125e3,
            5e3,
        ),
    ] {
        let centre = if emitter.contains("ble") {
            2402e6
        } else {
            let at = emitter.find("centre_hz = ").expect("centre") + 12;
            emitter[at..].split_whitespace().next().and_then(|v| v.parse().ok()).expect("number")
        };
        let (x, sim) = receive(rate, centre, 0.3, emitter);
        let truth = sim.truth();
        let heard = &truth.visits[0].emitters[0];
        let got = truth.emitters[0].bandwidth_hz;
        assert!((got - width).abs() < tolerance, "{emitter}: {got} Hz, expected {width}");
        // Energy over the on-time; no burst wanders out of the recording.
        let noise = units::ratio_from_db(truth.visits[0].noise_dbfs_per_hz) * rate;
        let energy = (power(&x) - noise) * 0.3;
        let level = db_from_ratio(energy / heard.on_s);
        assert!((level - heard.level_dbfs).abs() < 0.2, "{emitter}: {level} {}", heard.level_dbfs);
        assert!((heard.snr_db - 30.0).abs() < 1e-6);
        assert!(heard.share_in_band > 0.999);
    }
}

#[test]
fn a_slice_of_a_wide_carrier_has_the_density_of_the_whole() {
    let emitter = r#"centre_hz = 806e6
        snr_db = 30
        signal = { kind = "lte", blocks = 50, direction = "down" }"#;
    let (x, sim) = receive(2.4e6, 808e6, 0.1, emitter);
    let truth = sim.truth();
    let heard = &truth.visits[0].emitters[0];
    let got = db_from_ratio(band_power(&x, 2.4e6, -1e6, 1e6) / 2e6);
    // Mean power over 600 subcarriers of 15 kHz.
    let expected = heard.level_dbfs - db_from_ratio(9e6);
    assert!((got - expected).abs() < 0.2, "{got} dBFS/Hz, expected {expected}");
    assert!((heard.share_in_band - 2.4 / 8.93).abs() < 0.01, "{}", heard.share_in_band);
    // LTE symbols repeat their end: correlation at 66.7 µs (160 samples at 2.4 MHz).
    let correlate = |lag: usize| {
        let sum: Iq = x.iter().zip(&x[lag..]).map(|(a, b)| a.conj() * b).sum();
        f64::from(sum.norm()) / x.iter().map(|z| f64::from(z.norm_sqr())).sum::<f64>()
    };
    // 4.7 of 71.4 µs repeat: 0.066.
    assert!((0.05..0.08).contains(&correlate(160)), "{}", correlate(160));
    assert!(correlate(170) < 0.02 && correlate(150) < 0.02);
}

#[test]
fn bluetooth_packets_can_be_read() {
    let emitter = r#"snr_db = 35
        signal = { kind = "ble-advertising", interval_s = 0.02, address = [0xc0, 0xff, 0xee, 0x12, 0x34, 0x56], data_bytes = 10 }"#;
    let (x, sim) = receive(8e6, 2426e6, 0.1, emitter);
    let bursts = sim.truth().visits[0].emitters[0].bursts.clone();
    assert!(bursts.len() >= 3 && bursts.iter().all(|b| b.centre_hz == 2426e6));
    for b in bursts.iter().filter(|b| !b.cut) {
        let start = (b.start_s * 8e6) as usize;
        let f = discriminate(&x[start..start + 8 * 240], 8e6);
        let bit = |k: usize| f[8 * k + 2..8 * k + 6].iter().sum::<f64>() > 0.0;
        // Preamble and access address 8E89BED6, least significant bit first (FRM-031).
        let word = (0..32).fold(0u32, |w, k| w | u32::from(bit(8 + k)) << k);
        assert_eq!(word, 0x8e89_bed6);
        // FRM-019: the first octets of channel 38's whitening.
        let whitening = [0xd6u8, 0xc5, 0x44, 0x20, 0x59, 0xde, 0xe1, 0x8f];
        let octet = |n: usize| {
            (0..8).fold(0u8, |w, k| w | u8::from(bit(40 + 8 * n + k)) << k) ^ whitening[n]
        };
        let octets: Vec<u8> = (0..8).map(octet).collect();
        assert_eq!(octets, [0x02, 16, 0x56, 0x34, 0x12, 0xee, 0xff, 0xc0]);
        // Deviation ±250 kHz (index 0.5; 185 kHz at least for 0101, Vol 6 Part A 3.1).
        let middle = |k: usize| f[8 * k + 2..8 * k + 6].iter().sum::<f64>() / 4.0;
        let top = (40..200).map(middle).fold(0f64, f64::max);
        assert!((235e3..300e3).contains(&top), "{top}");
    }
}

#[test]
fn gsm_bursts_show_their_training_sequence_and_the_mast_its_tone() {
    let emitter = r#"centre_hz = 902e6
        snr_db = 35
        signal = { kind = "gsm", direction = "up" }"#;
    let rate = 8.0 * 1_625_000.0 / 6.0;
    let (x, sim) = receive(rate, 902e6, 0.1, emitter);
    let bursts = sim.truth().visits[0].emitters[0].bursts.clone();
    for b in bursts.iter().filter(|b| !b.cut).take(5) {
        let start = (b.start_s * rate).round() as usize;
        let f = discriminate(&x[start..start + 8 * 148], rate);
        // Levels follow 1 − 2 (d_i ⊕ d_{i−1}); FRM-033 stands at bits 61 to 86.
        let training = "00100101110000100010010111";
        let bits: Vec<u8> = training.bytes().map(|c| c - b'0').collect();
        for k in 1..26 {
            let up = f[8 * (61 + k) + 3..8 * (61 + k) + 5].iter().sum::<f64>() > 0.0;
            assert_eq!(up, bits[k] == bits[k - 1], "bit {k}");
        }
    }
    let emitter = r#"centre_hz = 947e6
        snr_db = 35
        signal = { kind = "gsm", direction = "down" }"#;
    let (x, _) = receive(rate, 947e6, 0.25, emitter);
    let f = discriminate(&x, rate);
    // 5 frequency corrections in 51 frames of 4.615 ms: 148 bits at +67.7 kHz each.
    // A bit and a half at a time, against noise.
    let bits: Vec<f64> = f.chunks_exact(12).map(|c| c.iter().sum::<f64>() / 12.0).collect();
    let mut runs = Vec::new();
    let mut n = 0;
    while n + 93 < bits.len() {
        if bits[n..n + 93].iter().all(|v| (v - 67_708.0).abs() < 25e3) {
            runs.push(n as f64 * 12.0 / rate);
            n += 600;
        }
        n += 1;
    }
    assert!((4..=6).contains(&runs.len()), "{runs:?}");
    let gaps: Vec<f64> = runs.windows(2).map(|w| w[1] - w[0]).collect();
    let frame = 4.615_385e-3;
    assert!(
        gaps.iter()
            .all(|g| { (g - 10.0 * frame).abs() < 0.1e-3 || (g - 11.0 * frame).abs() < 0.1e-3 }),
        "{gaps:?}"
    );
}

#[test]
fn a_broadcaster_has_pilot_rds_and_deviation() {
    let emitter = r#"centre_hz = 98e6
        snr_db = 45
        signal = { kind = "fm-broadcast", rds_pi = 0xd3a1, rds_name = "HILLTOP" }"#;
    let (x, sim) = receive(480e3, 98e6, 1.0, emitter);
    let f = discriminate(&x, 480e3);
    let pilot = line(&f, 480e3, 19e3);
    assert!((pilot - 6750.0).abs() < 150.0, "{pilot}");
    assert!(line(&f, 480e3, 19.02e3) < 200.0);
    // RDS has no carrier (biphase) and 2 kHz of deviation about 57 kHz.
    assert!(line(&f, 480e3, 57e3) < 150.0, "{}", line(&f, 480e3, 57e3));
    let near: f64 = (1..24)
        .map(|k| {
            let d = 100.0 * f64::from(k);
            line(&f, 480e3, 57e3 + d).powi(2) + line(&f, 480e3, 57e3 - d).powi(2)
        })
        .sum();
    let far: f64 = (1..24).map(|k| line(&f, 480e3, 64e3 + 100.0 * f64::from(k)).powi(2)).sum();
    assert!(near > 10.0 * far, "{near} {far}");
    let peak = f.iter().fold(0f64, |m, v| m.max(v.abs()));
    assert!((50e3..90e3).contains(&peak), "{peak}");
    // EST-023: under Carson's 256 kHz.
    let width = sim.truth().emitters[0].bandwidth_hz;
    assert!((60e3..256e3).contains(&width), "{width}");
}

#[test]
fn pictures_have_the_line_and_field_of_their_system() {
    for (system, line_hz) in [("625", 15_625.0), ("525", 15_734.265_734_3)] {
        let emitter = format!(
            r#"centre_hz = 2414e6
            snr_db = 25
            signal = {{ kind = "video-fm", system = "{system}", deviation_hz = 4e6, sound_hz = 6e6, sound = "programme" }}"#
        );
        let (x, sim) = receive(30e6, 2414e6, 0.1, &emitter);
        let f = discriminate(&x, 30e6);
        let at = line(&f, 30e6, line_hz);
        for off in [-90.0, -25.0, 25.0, 90.0] {
            let beside = line(&f, 30e6, line_hz + off);
            // Lines at multiples of the field rate stand 50 or 60 Hz away, weaker.
            assert!(at > 3.0 * beside, "{system} {off}: {at} {beside}");
        }
        assert!(line(&f, 30e6, 6e6) > 0.1 * at || line(&f, 30e6, 6e6) > 1e3);
        // Carson with the 6 MHz subcarrier is wider still; equipment practice says 17 MHz.
        let width = sim.truth().emitters[0].bandwidth_hz;
        assert!((8e6..20e6).contains(&width), "{system}: {width}");
        let peak = f.iter().map(|v| v.abs()).sum::<f64>() / f.len() as f64;
        assert!((0.5e6..4e6).contains(&peak), "{peak}");
    }
}

#[test]
fn chirps_keep_their_slope_and_symbol_time() {
    let emitter = r#"centre_hz = 868.1e6
        snr_db = 35
        signal = { kind = "chirp", spreading = 8, width_hz = 250e3 }
        schedule = { kind = "periodic", period_s = 0.1, on_s = 0.05, first_s = 0.02 }"#;
    let (x, sim) = receive(1e6, 868.1e6, 0.2, emitter);
    let b = sim.truth().visits[0].emitters[0].bursts[0];
    let f = discriminate(&x, 1e6);
    let start = (b.start_s * 1e6).round() as usize;
    // 2^8 / 250 kHz = 1.024 ms; the sweep rises 250 kHz in that time.
    for k in 1..8 {
        let at = |s: f64| f[start + (k as f64 * 1024.0 + s) as usize];
        assert!((at(512.0) - 0.0).abs() < 12e3, "{k}: {}", at(512.0));
        assert!((at(256.0) + 62.5e3).abs() < 12e3 && (at(768.0) - 62.5e3).abs() < 12e3);
    }
}
