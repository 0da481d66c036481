//! Scenes drawn from a seed, for scoring what finds emissions: one receiver, one visit, 5 to 12
//! emitters of mixed kinds at stated signal-to-noise ratios, none over another in frequency.

use crate::Simulation;
use crate::draw::{between, between_log, choice, rng};
use crate::receiver::thermal_dbm_per_hz;
use crate::scene::{Chain, Emitter, Imbalance, NamedPlace, Place, Role, Scene, Schedule, Visit};
use crate::signals::{Signal, Sound};
use rand_chacha::ChaCha8Rng;
use units::{Utc, db_from_ratio};

/// 2026-03-01T20:00:00Z.
const START: Utc = Utc(1_772_395_200_000_000_000);
/// Samples of one scene at most.
const MOST_SAMPLES: f64 = 16e6;
/// Emitters whose mean power may reach this: room is left for peaks.
const LOUDEST_DBFS: f64 = -15.0;

/// The scene of a seed. Signal-to-noise ratios lie between 0 and 40 dB in the emitter's own 99 %
/// bandwidth (a carrier: 1 kHz), two thirds of them at 10 dB or more.
pub fn random_scene(seed: u64) -> Scene {
    let mut r = rng(seed, &[0x5ce2e]);
    let chain = chain(&mut r);
    let visit = Visit {
        name: "recording".into(),
        chain: chain.name.clone(),
        position: "bench".into(),
        role: Role::Room,
        start: START,
        duration_s: duration_s(&mut r, &chain),
        condition: None,
    };
    let count = 5 + choice(&mut r, 8);
    let mut emitters: Vec<Emitter> = Vec::new();
    let mut taken: Vec<(f64, f64)> = Vec::new();
    for k in 0..count {
        // A kind that finds no free place is drawn again, a few times.
        for _ in 0..30 {
            let (signal, width_hz) = signal(&mut r, &chain);
            let Some(centre_hz) = place(&mut r, &chain, &mut taken, width_hz) else { continue };
            let room_db = LOUDEST_DBFS
                - noise_dbfs(&chain)
                - db_from_ratio(width_hz.max(1000.0) / chain.sample_rate_hz);
            let snr_db = match choice(&mut r, 3) {
                0 => between(&mut r, 0.0, 10.0),
                _ => between(&mut r, 10.0, 40.0),
            };
            emitters.push(Emitter {
                name: format!("{} {}", signal.name(), k + 1),
                planted: false,
                place: Place::default(),
                eirp_dbm: None,
                snr_db: Some(snr_db.min(room_db)),
                centre_hz,
                schedule: schedule(&mut r, &signal, &chain),
                signal,
                during: Vec::new(),
            });
            break;
        }
    }
    let mut scene = Scene {
        name: format!("random {seed}"),
        region: "CEPT".into(),
        time_zone: "UTC".into(),
        start: START,
        floors: Vec::new(),
        positions: vec![NamedPlace {
            name: "bench".into(),
            place: Place { at_m: Some([0.0, 0.0]), ..Place::default() },
        }],
        shadowing_sigma_db: 0.0,
        fading: None,
        talks: Vec::new(),
        emitters,
        chains: vec![chain],
        visits: vec![visit],
        detectors: Vec::new(),
        walks: Vec::new(),
    };
    // A burst that falls between the looks of a stepped receiver cannot be scored.
    if let Ok(simulation) = Simulation::new(&scene, seed) {
        for h in &simulation.truth().visits[0].emitters {
            if h.on_s < 0.02 {
                scene.emitters[h.emitter].schedule = Schedule::Always;
            }
        }
    }
    scene
}

/// Noise over the whole band at the converter.
fn noise_dbfs(chain: &Chain) -> f64 {
    chain.noise_dbfs(chain.sample_rate_hz).0
}

fn chain(r: &mut ChaCha8Rng) -> Chain {
    let sample_rate_hz = [1e6, 2.4e6, 2.4e6, 5e6, 10e6, 20e6][choice(r, 6)];
    let first = [151e6, 433.9e6, 446e6, 868.3e6, 1240e6, 2437e6][choice(r, 6)];
    let stepped = sample_rate_hz <= 5e6 && choice(r, 2) == 0;
    let steps = if stepped { 2 + choice(r, 4) } else { 1 };
    let centres_hz = (0..steps).map(|k| first + k as f64 * 0.8 * sample_rate_hz).collect();
    let adc_bits = [8, 12, 16][choice(r, 3)];
    let noise_figure_db = between(r, 4.0, 12.0);
    // Noise well over the converter's steps, as a careful technician sets it.
    let floor_dbfs = match adc_bits {
        8 => -38.0,
        12 => -60.0,
        _ => -70.0,
    };
    let noise_dbm = thermal_dbm_per_hz() + db_from_ratio(sample_rate_hz) + noise_figure_db;
    Chain {
        name: "receiver".into(),
        sample_rate_hz,
        centres_hz,
        dwell_s: stepped.then(|| between_log(r, 0.05, 0.4)),
        settle_s: 0.01,
        pass_every_s: None,
        noise_figure_db,
        gain_db: floor_dbfs - noise_dbm,
        full_scale_dbm: 0.0,
        adc_bits,
        antenna_gain_dbi: 0.0,
        dc_dbfs: Some(floor_dbfs + between(r, -20.0, 15.0)),
        imbalance: Imbalance { gain_db: between(r, 0.0, 0.05), phase_deg: between(r, 0.0, 0.4) },
        lines: Vec::new(),
    }
}

fn duration_s(r: &mut ChaCha8Rng, chain: &Chain) -> f64 {
    let longest = (MOST_SAMPLES / chain.sample_rate_hz).min(6.0);
    match chain.dwell_s {
        None => between(r, 0.5 * longest, longest),
        Some(dwell) => {
            let pass = (dwell + chain.settle_s) * chain.centres_hz.len() as f64;
            pass * (longest / pass).floor().max(1.0) - 1e-6
        }
    }
}

/// A free stretch for a signal of that width: inside the flat part of one tuned band, off the
/// centre, clear of the others; it is marked as taken.
fn place(
    r: &mut ChaCha8Rng,
    chain: &Chain,
    taken: &mut Vec<(f64, f64)>,
    width_hz: f64,
) -> Option<f64> {
    let half = 0.5 * width_hz;
    let clear = half + 0.25 * width_hz + 0.004 * chain.sample_rate_hz;
    let edge = 0.39 * chain.sample_rate_hz - half;
    if edge < 0.0 {
        return None;
    }
    for _ in 0..40 {
        let tuned = chain.centres_hz[choice(r, chain.centres_hz.len())];
        let offset = between(r, -edge, edge);
        let (low, high) = (tuned + offset - clear, tuned + offset + clear);
        let over_dc = chain.centres_hz.iter().any(|c| low < *c && *c < high);
        if !over_dc && taken.iter().all(|(a, z)| high < *a || low > *z) {
            taken.push((low, high));
            return Some(tuned + offset);
        }
    }
    None
}

/// A kind and its approximate width.
fn signal(r: &mut ChaCha8Rng, chain: &Chain) -> (Signal, f64) {
    let wide = chain.sample_rate_hz;
    match choice(r, 10) {
        0 => (Signal::Cw, 500.0),
        1 => {
            let deviation_hz = [2500.0, 5000.0][choice(r, 2)];
            let sound = Sound::Programme;
            (Signal::Fm { deviation_hz, top_hz: 3000.0, sound }, 2.0 * (deviation_hz + 3000.0))
        }
        2 => {
            let deviation_hz = between(r, 20e3, 60e3);
            let sound = Sound::Programme;
            (Signal::Fm { deviation_hz, top_hz: 6000.0, sound }, 2.0 * (deviation_hz + 6000.0))
        }
        3 => {
            let sound = Sound::Programme;
            (Signal::Am { depth: between(r, 0.4, 0.9), top_hz: 4500.0, sound }, 9000.0)
        }
        4 => {
            let bit_rate = between_log(r, 500.0, 3000.0);
            let word_bits = 12 + choice(r, 40) as u32;
            (Signal::Ook { bit_rate, word_bits, pause_s: 12.0 / bit_rate }, 20.0 * bit_rate)
        }
        5 => {
            let symbol_rate = between_log(r, 2400.0, 0.03 * wide);
            let deviation_hz = symbol_rate * between(r, 0.5, 1.0);
            let signal = Signal::Fsk { levels: 2, symbol_rate, deviation_hz, bt: None };
            (signal, 2.0 * deviation_hz + 2.0 * symbol_rate)
        }
        6 => {
            let symbol_rate = between_log(r, 4800.0, 0.1 * wide);
            let deviation_hz = 0.25 * symbol_rate;
            let signal = Signal::Fsk { levels: 2, symbol_rate, deviation_hz, bt: Some(0.5) };
            (signal, 1.1 * symbol_rate)
        }
        7 => {
            let signal =
                Signal::Fsk { levels: 4, symbol_rate: 4800.0, deviation_hz: 1944.0, bt: Some(0.5) };
            (signal, 9000.0)
        }
        8 => {
            let symbol_rate = between_log(r, 5e3, 0.15 * wide);
            let rolloff = Some([0.2, 0.35, 0.5][choice(r, 3)]);
            let points = [2, 4][choice(r, 2)];
            (Signal::Psk { points, symbol_rate, rolloff }, 1.3 * symbol_rate)
        }
        _ => {
            let width_hz = between_log(r, 0.01 * wide, 0.15 * wide);
            (Signal::Noise { width_hz }, 1.1 * width_hz)
        }
    }
}

/// Continuous, or bursts of which several fall into the time that the receiver looks.
fn schedule(r: &mut ChaCha8Rng, signal: &Signal, chain: &Chain) -> Schedule {
    let look_s = chain.dwell_s.unwrap_or(0.6);
    if matches!(signal, Signal::Fm { .. } | Signal::Am { .. }) || choice(r, 2) == 0 {
        return Schedule::Always;
    }
    let word_s = match signal {
        Signal::Ook { bit_rate, word_bits, .. } => (f64::from(*word_bits) + 12.0) / bit_rate,
        _ => 0.0,
    };
    let on_s = between_log(r, 0.02, 0.3).max(2.0 * word_s).max(20e-3);
    match choice(r, 2) {
        0 => Schedule::Periodic {
            period_s: on_s + between(r, 0.3, 0.7) * look_s,
            on_s,
            first_s: between(r, 0.0, 0.05),
            jitter_s: 0.0,
        },
        _ => Schedule::Random { mean_gap_s: 0.5 * look_s, on_s: [on_s, 2.0 * on_s] },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scoring_scenes_are_sound_and_differ() {
        let mut counts = std::collections::BTreeMap::new();
        let mut strong = (0, 0);
        for seed in 1000..1008 {
            let scene = random_scene(seed);
            assert_eq!(scene, random_scene(seed));
            let truth = Simulation::new(&scene, seed).expect("valid").truth();
            assert!(truth.visits[0].emitters.len() >= 5, "{seed}");
            for e in &truth.emitters {
                *counts.entry(e.kind.clone()).or_insert(0) += 1;
            }
            for h in &truth.visits[0].emitters {
                assert!(h.looked_s > 0.0 && h.on_s > 0.0, "{seed} {}", h.name);
                assert!(h.level_dbfs < -14.9, "{seed} {}", h.name);
                strong.0 += u32::from(h.snr_db >= 10.0);
                strong.1 += 1;
            }
            for (k, a) in truth.emitters.iter().enumerate() {
                for b in &truth.emitters[k + 1..] {
                    let apart = (a.centre_hz - b.centre_hz).abs();
                    assert!(apart > 0.5 * (a.bandwidth_hz + b.bandwidth_hz), "{seed}");
                }
            }
        }
        assert!(counts.len() >= 7, "{counts:?}");
        assert!(2 * strong.0 > strong.1, "{strong:?}");
    }
}
