//! AM, on-off keying and the wireless LAN's prefix as they are received, against closed forms and
//! standards.

mod common;

use common::{band_power, samples};
use num_complex::Complex64;
use simulate::{Scene, Simulation};
use units::Iq;

/// One emitter, strong, in the middle of a receiver of the given rate.
fn receive(rate: f64, duration_s: f64, emitter: &str) -> (Vec<Iq>, Simulation) {
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
        centres_hz = [433.92e6]
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
        duration_s = {duration_s}
        [[emitters]]
        name = "it"
        centre_hz = 433.92e6
        snr_db = 40
        {emitter}
    "#
    );
    let scene: Scene = toml::from_str(&text).expect("a scene");
    let sim = Simulation::new(&scene, 3).expect("valid");
    (samples(&sim, 0), sim)
}

#[test]
fn the_sidebands_of_am_hold_a_quarter_of_the_square_of_the_depth() {
    // (1 + m cos ωt) has lines of amplitude m/2: m²/4 of the carrier's power each (closed form;
    // any textbook). Nothing in the second ones: the modulator is linear.
    for depth in [0.3, 0.8, 1.0] {
        let am =
            format!(r#"signal = {{ kind = "am", depth = {depth}, sound = {{ tone-hz = 1000 }} }}"#);
        let (x, _) = receive(48e3, 1.0, &am);
        let at = |hz: f64| band_power(&x, 48e3, hz - 60.0, hz + 60.0);
        let carrier = at(0.0);
        let noise = band_power(&x, 48e3, 5000.0, 5120.0);
        for side in [-1000.0, 1000.0] {
            let got = (at(side) - noise) / (carrier - noise);
            let expected = depth * depth / 4.0;
            assert!((got / expected - 1.0).abs() < 0.01, "m {depth}, {side} Hz: {got}");
            let second = (at(2.0 * side) - noise) / (carrier - noise);
            assert!(second < 1e-4, "m {depth}: {second} in a second one");
        }
    }
}

#[test]
fn pulses_of_on_off_keying_are_a_third_or_two_thirds_of_a_bit() {
    // What the scene's format promises: a pulse a bit, one third or two thirds of it long (common
    // practice of remote controls, no source). Edges take a thirtieth of a bit: half way up they
    // are as long as the whole pulse less that, to the receiver's sample and its noise.
    let (rate, bit_rate) = (1e6, 1000.0);
    let ook = format!(
        r#"signal = {{ kind = "ook", bit_rate = {bit_rate}, word_bits = 24, pause_s = 0.01 }}"#
    );
    let (x, _) = receive(rate, 0.3, &ook);
    // Smoothed over 9 µs against noise; a bit's edge takes 33 µs.
    let smooth: Vec<f64> =
        x.windows(9).map(|w| f64::from(w.iter().sum::<Iq>().norm()) / 9.0).collect();
    let mut sorted = smooth.clone();
    sorted.sort_by(f64::total_cmp);
    let full = sorted[(0.95 * sorted.len() as f64) as usize];
    let on: Vec<bool> = smooth.iter().map(|a| *a > 0.5 * full).collect();
    let edges: Vec<usize> = (1..on.len()).filter(|k| on[*k] != on[k - 1]).collect();
    let first = usize::from(!on[edges[0]]);
    let pulses: Vec<(f64, f64)> = edges[first..]
        .chunks_exact(2)
        .map(|e| (e[0] as f64 / rate, (e[1] - e[0]) as f64 / rate))
        .collect();
    assert!(pulses.len() > 150, "{}", pulses.len());
    let bit_s = 1.0 / bit_rate;
    let edge_s = bit_s / 30.0;
    let (mut short, mut long) = (0, 0);
    for (_, length_s) in &pulses {
        let thirds = (length_s + edge_s) / (bit_s / 3.0);
        assert!((thirds - 1.0).abs() < 0.03 || (thirds - 2.0).abs() < 0.03, "{thirds} thirds");
        *(if thirds < 1.5 { &mut short } else { &mut long }) += 1;
    }
    assert!(short > 20 && long > 20, "{short} short, {long} long");
    // Starts are a bit apart; between words, the pause more.
    for pair in pulses.windows(2) {
        let apart_s = pair[1].0 - pair[0].0;
        let bit = (apart_s - bit_s).abs() < 0.01 * bit_s;
        let word = (apart_s - bit_s - 0.01).abs() < 0.01 * bit_s;
        assert!(bit || word, "{apart_s} s");
    }
    // Every word of 24 bits is the same: 34 ms later the same again.
    let word_s = 24.0 * bit_s + 0.01;
    let again = pulses.iter().filter(|(at, length_s)| {
        pulses.iter().any(|p| {
            (p.0 - at - word_s).abs() < 0.01 * bit_s && (p.1 - length_s).abs() < 0.01 * bit_s
        })
    });
    assert!(again.count() + 30 > pulses.len());
}

#[test]
fn symbols_of_a_wireless_lan_repeat_their_end() {
    // IEEE 802.11-2020 clause 17, table 17-5: guard interval 0.8 µs of a symbol of 4 µs, FFT period
    // 3.2 µs. Of each data symbol, a fifth repeats 3.2 µs later: |R(3.2 µs)| is 0.2 of the power,
    // with the long training's repeat somewhat more; at other lags there is none.
    let rate = 40e6;
    let (x, sim) = receive(rate, 0.1, r#"signal = { kind = "wlan", load = 0.8 }"#);
    let frames = sim.truth().visits[0].emitters[0].bursts.clone();
    // Data symbols alone: past the 20 µs of training and SIGNAL.
    let data: Vec<&[Iq]> = (frames.iter())
        .filter(|b| !b.cut)
        .map(|b| &x[((b.start_s + 20e-6) * rate) as usize..(b.stop_s * rate) as usize])
        .collect();
    assert!(data.len() > 50);
    let correlation = |lag: usize| {
        let (mut sum, mut all) = (Complex64::default(), 0.0);
        for frame in &data {
            for (a, b) in frame.iter().zip(&frame[lag..]) {
                sum += Complex64::new(f64::from(a.re), -f64::from(a.im))
                    * Complex64::new(f64::from(b.re), f64::from(b.im));
                all += f64::from(a.norm_sqr());
            }
        }
        sum.norm() / all
    };
    let useful = (3.2e-6 * rate).round() as usize;
    let peak = correlation(useful);
    assert!((peak - 0.2).abs() < 0.02, "{peak} at 3.2 µs");
    // The next lags follow the spectrum's shape (16.6 MHz wide: first zero 2.4 samples off).
    for lag in (60..200usize).filter(|lag| lag.abs_diff(useful) > 4) {
        assert!(correlation(lag) < 0.3 * peak, "{} at lag {lag}", correlation(lag));
    }
}
