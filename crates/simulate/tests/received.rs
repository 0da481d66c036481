//! What the receiver records against the link budget, the noise formula and the definitions.

mod common;

use common::{band_power, power, samples};
use num_complex::Complex64;
use simulate::{Scene, Simulation};

fn scene(body: &str) -> Scene {
    let head = r#"
        name = "bench"
        start = "2026-03-01T20:00:00Z"
        [[positions]]
        name = "desk"
        place = { at_m = [0.0, 0.0], height_m = 1.0 }
        [[visits]]
        name = "one"
        chain = "rx"
        position = "desk"
        role = "room"
        start = "2026-03-01T20:00:10Z"
        duration_s = 0.5
    "#;
    toml::from_str(&format!("{head}{body}")).expect("a scene")
}

const CHAIN: &str = r#"
    [[chains]]
    name = "rx"
    sample_rate_hz = 2.4e6
    centres_hz = [433.92e6]
    noise_figure_db = 8.0
    gain_db = 30.0
    full_scale_dbm = 0.0
    adc_bits = 16
"#;

fn emitter(more: &str) -> String {
    format!("[[emitters]]\nname = \"it\"\ncentre_hz = 434.02e6\n{more}\n")
}

#[test]
fn the_noise_floor_is_ktbf() {
    // SEN-002 form: kT0 −173.975 dBm/Hz + 10 log B + F; full scale 0 dBm, gain 30 dB.
    let sim = Simulation::new(&scene(CHAIN), 1).expect("valid");
    let x = samples(&sim, 0);
    assert_eq!(x.len(), 1_200_000);
    let expected = -173.97519 + 10.0 * 2.4e6f64.log10() + 8.0 + 30.0;
    let got = units::db_from_ratio(power(&x));
    assert!((got - expected).abs() < 0.02, "{got} dBFS, expected {expected}");
    let density = sim.truth().visits[0].noise_dbfs_per_hz;
    assert!((density - (-173.97519 + 38.0)).abs() < 0.02, "{density}");
}

#[test]
fn coarse_converters_raise_the_floor_as_the_truth_says() {
    // SCL-006: full-scale tone over quantisation noise is 49.93 dB at 8 bits.
    let chain =
        CHAIN.replace("adc_bits = 16", "adc_bits = 8").replace("gain_db = 30.0", "gain_db = 62.0");
    let sim = Simulation::new(&scene(&chain), 1).expect("valid");
    let x = samples(&sim, 0);
    let visit = &sim.truth().visits[0];
    let expected = visit.noise_dbfs_per_hz + 10.0 * 2.4e6f64.log10();
    let thermal = -173.97519 + 10.0 * 2.4e6f64.log10() + 8.0 + 62.0;
    assert!(expected > thermal + 0.2, "{expected} against {thermal}");
    let got = units::db_from_ratio(power(&x));
    assert!((got - expected).abs() < 0.05, "{got} dBFS, expected {expected}");
    assert!(x.iter().all(|z| (z.re * 128.0).fract() == 0.0 && (z.im * 128.0).fract() == 0.0));
}

#[test]
fn levels_keep_to_the_link_budget_within_a_fifth_of_a_decibel() {
    // PRP-001: 434 MHz over 3 m loses 34.74 dB at 433.92 MHz (ITU-R P.525); here 434.02 MHz.
    let loss = 20.0 * (4.0 * std::f64::consts::PI * 3.0 * 434.02e6 / 299_792_458.0).log10();
    assert!((loss - 34.738_402).abs() < 0.01);
    let kinds = [
        r#"signal = { kind = "cw" }"#,
        r#"signal = { kind = "noise", width_hz = 100e3 }"#,
        r#"signal = { kind = "fm", deviation_hz = 2500, sound = "programme" }"#,
        r#"signal = { kind = "fsk", levels = 2, symbol_rate = 4800, deviation_hz = 2400 }"#,
        r#"signal = { kind = "fsk", levels = 4, symbol_rate = 4800, deviation_hz = 1944, bt = 0.5 }"#,
        r#"signal = { kind = "psk", points = 4, symbol_rate = 18000, rolloff = 0.35 }"#,
        r#"signal = { kind = "psk", points = 2, symbol_rate = 1e6, rolloff = 0.22 }"#,
    ];
    for kind in kinds {
        let place = "place = { at_m = [0.0, 3.0], height_m = 1.0 }\neirp_dbm = -20.0";
        let sim =
            Simulation::new(&scene(&format!("{CHAIN}{}", emitter(&format!("{place}\n{kind}")))), 4)
                .expect("valid");
        let x = samples(&sim, 0);
        let expected = -20.0 - loss + 30.0;
        let noise = -173.97519 + 10.0 * 2.4e6f64.log10() + 38.0;
        let got = power(&x) - units::ratio_from_db(noise);
        let got = units::db_from_ratio(got);
        assert!((got - expected).abs() < 0.2, "{kind}: {got} dBFS, expected {expected}");
        let heard = &sim.truth().visits[0].emitters[0];
        assert!((heard.level_dbfs - expected).abs() < 0.2, "{kind}: truth {}", heard.level_dbfs);
        assert!((heard.level_dbm - (expected - 30.0)).abs() < 0.2);
    }
}

#[test]
fn stated_signal_to_noise_ratios_are_met() {
    for (snr, kind) in [
        (10.0, r#"signal = { kind = "psk", points = 4, symbol_rate = 100e3, rolloff = 0.35 }"#),
        (3.0, r#"signal = { kind = "fsk", levels = 2, symbol_rate = 50e3, deviation_hz = 25e3 }"#),
        (20.0, r#"signal = { kind = "am", depth = 0.8, sound = "programme" }"#),
    ] {
        let text = format!("{CHAIN}{}", emitter(&format!("snr_db = {snr}\n{kind}")));
        let sim = Simulation::new(&scene(&text), 9).expect("valid");
        let truth = sim.truth();
        let width = truth.emitters[0].bandwidth_hz;
        let x = samples(&sim, 0);
        let half = width / 2.0;
        let total = band_power(&x, 2.4e6, 100e3 - half, 100e3 + half);
        let noise = units::ratio_from_db(truth.visits[0].noise_dbfs_per_hz) * width;
        // 99 % of the signal lies inside.
        let got = units::db_from_ratio((total - noise) / noise);
        assert!((got - snr).abs() < 0.4, "{kind}: {got} dB");
        assert!((truth.visits[0].emitters[0].snr_db - snr).abs() < 1e-6);
    }
}

#[test]
fn occupied_bandwidths_are_the_published_and_computed_ones() {
    let width = |kind: &str| {
        let text = format!("{CHAIN}{}", emitter(&format!("snr_db = 10\nsignal = {kind}")));
        Simulation::new(&scene(&text), 2).expect("valid").truth().emitters[0].bandwidth_hz
    };
    for (id, kind, expected, tolerance) in [
        // EST-014 (integral of the MSK spectrum), tolerance of a finite run.
        (
            "EST-014",
            r#"{ kind = "fsk", levels = 2, symbol_rate = 1e4, deviation_hz = 2.5e3 }"#,
            11_818.0,
            150.0,
        ),
        // EST-016…018: integral of the raised-cosine spectrum.
        (
            "EST-016",
            r#"{ kind = "psk", points = 4, symbol_rate = 1e4, rolloff = 0.22 }"#,
            10_849.0,
            60.0,
        ),
        (
            "EST-017",
            r#"{ kind = "psk", points = 2, symbol_rate = 1e4, rolloff = 0.35 }"#,
            11_667.0,
            60.0,
        ),
        (
            "EST-018",
            r#"{ kind = "psk", points = 4, symbol_rate = 1e4, rolloff = 0.5 }"#,
            12_680.0,
            60.0,
        ),
        // EST-027…030: Gaussian FSK, tolerance abs 0.02 of the bit rate.
        (
            "EST-027",
            r#"{ kind = "fsk", levels = 2, symbol_rate = 270833.333, deviation_hz = 67708.333, bt = 0.3 }"#,
            0.91 * 270_833.333,
            0.02 * 270_833.333,
        ),
        (
            "EST-028",
            r#"{ kind = "fsk", levels = 2, symbol_rate = 1e6, deviation_hz = 250e3, bt = 0.5 }"#,
            1.03e6,
            0.02e6,
        ),
        (
            "EST-029",
            r#"{ kind = "fsk", levels = 2, symbol_rate = 1e6, deviation_hz = 250e3, bt = 0.25 }"#,
            0.855e6,
            0.02e6,
        ),
        (
            "EST-030",
            r#"{ kind = "fsk", levels = 2, symbol_rate = 1e6, deviation_hz = 160e3, bt = 0.5 }"#,
            0.861e6,
            0.02e6,
        ),
        // EST-020: a flat band, 0.99 of its width; ours has edges of a tenth.
        ("EST-020", r#"{ kind = "noise", width_hz = 1e5 }"#, 99e3, 2.5e3),
    ] {
        let got = width(kind);
        assert!((got - expected).abs() < tolerance, "{id}: {got} Hz, expected {expected}");
    }
    // EST-013: 20.57 symbol rates for rectangular pulses. The tail of 1/f² is cut by the
    // waveform's own band of 64 symbol rates: 19.3 there (scipy: integral of sinc² to 32).
    let got = width(r#"{ kind = "psk", points = 2, symbol_rate = 1e4 }"#) / 1e4;
    assert!((18.0..21.0).contains(&got), "EST-013: {got}");
    // EST-021, 022 (Carson): speech at full deviation stays under Carson's width, and over half.
    for (deviation, carson) in [(2500.0, 11e3), (5000.0, 16e3)] {
        let kind = format!(r#"{{ kind = "fm", deviation_hz = {deviation}, sound = "programme" }}"#);
        let got = width(&kind);
        assert!((0.4 * carson..carson).contains(&got), "Carson {carson}: {got}");
    }
}

#[test]
fn a_sine_in_fm_puts_its_power_where_bessel_functions_say() {
    // EST-025: β = 5: 0.99356 of the power in lines −6…6; EST-026: no carrier at β = 2.4048.
    for (deviation, tone, check) in [(5000.0, 1000.0, 0), (2_404.825_557_7, 1000.0, 1)] {
        let signal = format!(
            r#"signal = {{ kind = "fm", deviation_hz = {deviation}, sound = {{ tone-hz = {tone} }} }}"#
        );
        let text = format!("{CHAIN}{}", emitter(&format!("snr_db = 60\n{signal}")));
        let x = samples(&Simulation::new(&scene(&text), 3).expect("valid"), 0);
        let total = band_power(&x, 2.4e6, 60e3, 140e3);
        if check == 0 {
            let inner = band_power(&x, 2.4e6, 100e3 - 6500.0, 100e3 + 6500.0);
            assert!((inner / total - 0.993_558_9).abs() < 5e-4, "{}", inner / total);
        } else {
            let carrier = band_power(&x, 2.4e6, 99.9e3, 100.1e3);
            assert!(carrier / total < 1e-4, "{}", carrier / total);
        }
    }
}

#[test]
fn symbol_rates_show_as_lines() {
    // A line of |x[n] x*[n−1]|-type non-linearities stands at the symbol rate (textbook): here
    // |x|² of a root-raised-cosine signal.
    let kind = r#"signal = { kind = "psk", points = 4, symbol_rate = 48000, rolloff = 0.35 }"#;
    let text = format!("{CHAIN}{}", emitter(&format!("snr_db = 40\n{kind}")));
    let x = samples(&Simulation::new(&scene(&text), 3).expect("valid"), 0);
    let line = |hz: f64| {
        let sum: Complex64 = x
            .iter()
            .enumerate()
            .map(|(n, z)| {
                let (s, c) = (std::f64::consts::TAU * hz * n as f64 / 2.4e6).sin_cos();
                Complex64::new(c, -s) * f64::from(z.norm_sqr())
            })
            .sum();
        sum.norm()
    };
    let at = line(48_000.0);
    for off in [-40.0, -8.0, 8.0, 40.0, 1000.0] {
        assert!(at > 5.0 * line(48_000.0 + off), "{off}: {at} against {}", line(48_000.0 + off));
    }
}

#[test]
fn the_same_seed_gives_the_same_bits_at_any_number_of_threads() {
    let text = format!(
        "{CHAIN}{}\n[fading]\nk_db = 3.0\ncoherence_s = 0.05\n",
        emitter(
            "snr_db = 20\nsignal = { kind = \"fsk\", levels = 2, symbol_rate = 9600, deviation_hz = 4800 }"
        ) + "schedule = { kind = \"periodic\", period_s = 0.1, on_s = 0.03 }"
    );
    let scene = scene(&text);
    let run = |threads: usize, seed: u64| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
        pool.install(|| samples(&Simulation::new(&scene, seed).expect("valid"), 0))
    };
    let one = run(1, 5);
    assert_eq!(one, run(2, 5));
    assert_eq!(one, run(7, 5));
    assert_ne!(one, run(1, 6));
}

#[test]
fn bursts_lie_where_the_truth_says() {
    let text = format!(
        "{CHAIN}{}",
        emitter("snr_db = 80\nsignal = { kind = \"cw\" }")
            + "schedule = { kind = \"periodic\", period_s = 0.1, on_s = 0.03, first_s = 0.013 }"
    );
    let sim = Simulation::new(&scene(&text), 5).expect("valid");
    let x = samples(&sim, 0);
    let heard = sim.truth().visits[0].emitters[0].clone();
    assert_eq!(heard.burst_count, 5);
    let level = heard.level_dbfs;
    for b in &heard.bursts {
        assert!(((b.stop_s - b.start_s) - 0.03).abs() < 1e-9 && !b.cut);
        let at = |s: f64| (s * 2.4e6).round() as usize;
        // Ramps take 2 ms at each end.
        let inside = power(&x[at(b.start_s + 2e-3)..at(b.stop_s - 2e-3)]);
        assert!((units::db_from_ratio(inside) - level).abs() < 0.2);
        let before = power(&x[at(b.start_s - 2e-3)..at(b.start_s)]);
        let after = power(&x[at(b.stop_s)..at(b.stop_s + 2e-3)]);
        assert!(units::db_from_ratio(before.max(after)) < level - 6.0);
    }
}

#[test]
fn dc_image_and_lines_are_where_the_chain_says() {
    // RX-001: 0.1 dB and 1° give an image 39.6 dB down.
    let chain = CHAIN.replace(
        "adc_bits = 16",
        "adc_bits = 16\ndc_dbfs = -50\nimbalance = { gain_db = 0.1, phase_deg = 1.0 }\nlines = [{ hz = 434.5e6, level_dbfs = -60 }, { offset_hz = -300e3, level_dbfs = -70 }]",
    );
    let text = format!("{chain}{}", emitter("snr_db = 70\nsignal = { kind = \"cw\" }"));
    let sim = Simulation::new(&scene(&text), 5).expect("valid");
    let x = samples(&sim, 0);
    let level = |hz: f64| units::db_from_ratio(band_power(&x, 2.4e6, hz - 50.0, hz + 50.0));
    let tone = sim.truth().visits[0].emitters[0].level_dbfs;
    assert!((level(0.0) + 50.0).abs() < 0.2, "{}", level(0.0));
    assert!((level(580e3) + 60.0).abs() < 0.2, "{}", level(580e3));
    assert!((level(-300e3) + 70.0).abs() < 0.2, "{}", level(-300e3));
    assert!((level(-100e3) - (tone - 39.6)).abs() < 0.2, "{} of {tone}", level(-100e3));
}

#[test]
fn a_signal_over_the_edge_of_the_band_is_cut_not_folded() {
    let text = format!(
        "{CHAIN}[[emitters]]\nname = \"it\"\ncentre_hz = 435.12e6\nsnr_db = 40\nsignal = {{ kind = \"noise\", width_hz = 400e3 }}\n"
    );
    let sim = Simulation::new(&scene(&text), 5).expect("valid");
    let x = samples(&sim, 0);
    let heard = &sim.truth().visits[0].emitters[0];
    assert!((heard.share_in_band - 0.5).abs() < 0.01, "{}", heard.share_in_band);
    let density = |a: f64, z: f64| units::db_from_ratio(band_power(&x, 2.4e6, a, z) / (z - a));
    let floor = sim.truth().visits[0].noise_dbfs_per_hz;
    assert!((density(1.05e6, 1.07e6) - (floor + 40.0)).abs() < 0.5);
    // The receiver's edge, a tenth of its rate wide, may fold; not more.
    assert!(density(-1.07e6, -0.9e6) < floor + 0.5, "{}", density(-1.07e6, -0.9e6) - floor);
}

#[test]
fn nothing_wraps_round_to_the_other_edge_of_the_band() {
    // A root-raised-cosine transmitter 0.25 MHz from the upper edge: its pulse is cut to 24 symbols,
    // so side lobes some 60 dB down reach past that edge. A receiver's own filter keeps them from
    // folding to the lower one: there is noise alone.
    let chain = CHAIN.replace("gain_db = 30.0", "gain_db = 12.0");
    let at = "place = { at_m = [3.0, 0.0], height_m = 1.0 }\neirp_dbm = 10.0\n";
    let psk = r#"signal = { kind = "psk", points = 4, symbol_rate = 150e3, rolloff = 0.35 }"#;
    let it = emitter(&format!("{at}{psk}")).replace("434.02e6", "434.87e6");
    let sim = Simulation::new(&scene(&format!("{chain}{it}")), 1).expect("valid");
    let mut x = samples(&sim, 0);
    // A Hann window, of mean square 1, keeps the transmitter out of the other bins.
    let n = x.len() as f64;
    for (k, z) in x.iter_mut().enumerate() {
        let turn = std::f64::consts::TAU * k as f64 / n;
        *z *= ((1.0 - turn.cos()) * (2.0f64 / 3.0).sqrt()) as f32;
    }
    let edge = |low: f64| units::db_from_ratio(band_power(&x, 2.4e6, low, low + 150e3));
    let noise = sim.truth().visits[0].noise_dbfs_per_hz + units::db_from_ratio(150e3);
    let over = edge(-1.15e6) - noise;
    assert!(over < 1.0, "{over} dB over the noise at the lower edge");
    let own = units::db_from_ratio(band_power(&x, 2.4e6, 0.85e6, 1.05e6));
    assert!(own > noise + 50.0, "the transmitter itself: {own} dBFS");
}
