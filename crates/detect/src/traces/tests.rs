//! Swept noise with emitters of known place, level and timing.

use super::*;
use crate::Shape;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Exp1};
use std::sync::Arc;
use units::{ReadError, db_from_ratio, ratio_from_db};

/// First bin, one past the last, dBm a bin, whether on at trace k.
type Emitter = (usize, usize, f64, fn(usize) -> bool);

/// A swept receiver: noise as the mean of `averages` exponential powers, or the largest of them.
struct Sweeps {
    rng: ChaCha8Rng,
    hz: Arc<[f64]>,
    floor_dbm: f64,
    averages: usize,
    largest: bool,
    emitters: Vec<Emitter>,
    every_s: f64,
    left: usize,
    done: usize,
    unit: LevelUnit,
    /// Sweep handed over in parts of so many bins.
    part: Option<usize>,
    at: usize,
}

impl Sweeps {
    fn new(seed: u64, bins: usize, traces: usize) -> Self {
        Sweeps {
            rng: ChaCha8Rng::seed_from_u64(seed),
            hz: (0..bins).map(|k| 100e6 + 25e3 * k as f64).collect(),
            floor_dbm: -100.0,
            averages: 1,
            largest: false,
            emitters: Vec::new(),
            every_s: 2.0,
            left: traces,
            done: 0,
            unit: LevelUnit::Dbm,
            part: None,
            at: 0,
        }
    }
    fn level(&mut self, k: usize) -> f32 {
        let draws: Vec<f64> = (0..self.averages).map(|_| Exp1.sample(&mut self.rng)).collect();
        let noise = if self.largest {
            draws.iter().copied().fold(0.0, f64::max)
        } else {
            draws.iter().sum::<f64>() / self.averages as f64
        };
        let signal: f64 = self
            .emitters
            .iter()
            .filter(|(a, z, _, on)| (*a..*z).contains(&k) && on(self.done))
            .map(|e| ratio_from_db(e.2))
            .sum();
        db_from_ratio(noise * ratio_from_db(self.floor_dbm) + signal) as f32
    }
}

impl Traces for Sweeps {
    fn unit(&self) -> LevelUnit {
        self.unit
    }
    fn next_trace(&mut self) -> Result<Option<Trace>, ReadError> {
        if self.left == 0 {
            return Ok(None);
        }
        let part = self.part.unwrap_or(self.hz.len());
        let (from, to) = (self.at, (self.at + part).min(self.hz.len()));
        let levels_db = (from..to).map(|k| self.level(k)).collect();
        let trace = Trace {
            start: None,
            start_s: self.every_s * self.done as f64,
            sweep_s: None,
            frequencies_hz: self.hz[from..to].into(),
            levels_db,
        };
        self.at = if to == self.hz.len() { 0 } else { to };
        if self.at == 0 {
            self.done += 1;
            self.left -= 1;
        }
        Ok(Some(trace))
    }
}

fn run(mut s: Sweeps) -> Detection {
    let mut bursts = 0;
    let mut hooks =
        Hooks { on_burst: &mut |_| bursts += 1, on_progress: &mut |_| true, on_samples: None };
    from_traces(&mut s, &Options::default(), &mut hooks).expect("no error")
}

#[test]
fn a_steady_carrier_and_bursts_on_a_clock_have_their_level_place_and_timing() {
    let mut s = Sweeps::new(1, 800, 300);
    s.emitters.push((200, 201, -70.0, |_| true));
    s.emitters.push((500, 508, -75.0, |k| k % 15 < 2));
    let d = run(s);
    assert_eq!(d.found.len(), 2, "{:#?}", d.found);
    let (carrier, bursts) = (&d.found[0], &d.found[1]);
    assert_eq!(carrier.shape, Shape::Continuous);
    assert!((carrier.centre_hz - 105e6).abs() < 1e3);
    assert!((carrier.level_dbm.expect("dBm").0 + 70.0).abs() < 0.3);
    assert_eq!((carrier.level_dbfs, carrier.bandwidth_is), (None, crate::BandwidthIs::UpperBound));
    assert_eq!(bursts.shape, Shape::Bursts);
    // Eight bins of 25 kHz at −75 dBm each: −66 dBm, 99 % of 200 kHz.
    assert!((bursts.level_dbm.expect("dBm").0 + 75.0 - db_from_ratio(8.0)).abs() < 0.5);
    assert!((bursts.bandwidth_hz.expect("measured") - 198e3).abs() < 10e3);
    assert!((bursts.centre_hz - (112.5e6 + 3.5 * 25e3)).abs() < 3e3);
    // Occupancy 2 of 15; 20 bursts of two sweeps every 30 s.
    assert_eq!(bursts.bursts.count, 20);
    assert!((bursts.bursts.on_fraction - 2.0 / 15.0).abs() < 0.01);
    assert!((bursts.bursts.period_s.expect("a clock") - 30.0).abs() < 0.1);
    assert!((bursts.bursts.median_s.expect("known") - 4.0).abs() < 1e-6);
    assert_eq!(d.listened.len(), 1);
    assert!((d.listened[0].looked_s - 600.0).abs() < 1e-6);
    let limit = d.listened[0].limit_dbm.expect("dBm").0;
    assert!((-95.0..-80.0).contains(&limit), "{limit}");
}

#[test]
fn noise_alone_gives_no_rows_whatever_the_detector() {
    // 40 recordings at 0.01 false rows each: one or more has probability 1 in 3, three 1 in 100.
    let mut rows = 0;
    for seed in 0..10 {
        for (averages, largest) in [(1, false), (8, false), (100, false), (10, true)] {
            let mut s = Sweeps::new(100 + seed, 500, 60);
            (s.averages, s.largest) = (averages, largest);
            rows += run(s).found.len();
        }
    }
    assert!(rows <= 2, "{rows}");
}

#[test]
fn a_weak_steady_signal_shows_over_many_sweeps() {
    // 5 dB over the floor: far under the threshold of one sweep.
    let mut s = Sweeps::new(3, 600, 400);
    s.averages = 4;
    s.emitters.push((300, 306, -95.0, |_| true));
    let d = run(s);
    assert_eq!(d.found.len(), 1);
    assert_eq!(d.found[0].shape, Shape::Continuous);
    assert!((d.found[0].centre_hz - 107.5625e6).abs() < 25e3);
}

#[test]
fn neighbours_in_a_crowded_band_stay_apart() {
    let mut s = Sweeps::new(4, 600, 50);
    s.averages = 20;
    for k in 0..6 {
        s.emitters.push((300 + 8 * k, 306 + 8 * k, -60.0, |_| true));
    }
    let d = run(s);
    assert_eq!(d.found.len(), 6, "{:#?}", d.found);
}

#[test]
fn a_sweep_in_parts_is_one_sweep() {
    let mut s = Sweeps::new(5, 1000, 40);
    s.part = Some(20);
    s.averages = 4;
    // Over the border of two parts.
    s.emitters.push((490, 510, -60.0, |_| true));
    let d = run(s);
    assert_eq!(d.found.len(), 1, "{:#?}", d.found);
    assert!((d.found[0].level_dbm.expect("dBm").0 + 60.0 - db_from_ratio(20.0)).abs() < 1.0);
    assert_eq!(d.listened.len(), 1, "{:?}", d.listened);
    assert!((d.listened[0].high_hz - d.listened[0].low_hz - 25e6).abs() < 1.0);
}

#[test]
fn levels_keep_their_unit() {
    for (unit, dbm, dbfs) in [
        (LevelUnit::Dbfs, None, Some(-70.0)),
        // −70 dBµV into 50 ohm: −176.99 dBm (closed form).
        (LevelUnit::Dbuv, Some(-176.99), None),
    ] {
        let mut s = Sweeps::new(6, 300, 20);
        s.unit = unit;
        s.emitters.push((100, 101, -70.0, |_| true));
        let d = run(s);
        let near = |a: Option<f64>, b: Option<f64>| match (a, b) {
            (Some(a), Some(b)) => (a - b).abs() < 0.5,
            (None, None) => true,
            _ => false,
        };
        assert!(near(d.found[0].level_dbm.map(|x| x.0), dbm));
        assert!(near(d.found[0].level_dbfs.map(|x| x.0), dbfs));
    }
}

#[test]
fn one_trace_without_a_time_gives_rows_without_times() {
    let mut s = Sweeps::new(7, 800, 1);
    s.averages = 10;
    s.emitters.push((400, 410, -70.0, |_| true));
    let d = run(s);
    assert_eq!(d.found.len(), 1);
    let f = &d.found[0];
    assert_eq!((f.first_s, f.last_s, f.bursts.median_s), (0.0, 0.0, None));
    assert!(d.warnings.iter().any(|w| w.code == "no_times"));
}

#[test]
fn thresholds_are_those_of_the_laws() {
    // scipy.stats.gamma.isf(1e-6, M)/M in dB: M = 1 13.8155 → 11.404; checks NF-017, NF-020.
    let one = Law { averages: 1.0 };
    assert!((one.threshold_db(1e-6f64.ln()) - 11.404).abs() < 0.01);
    assert!((one.quantile_db(0.1) + 9.7732).abs() < 1e-3);
    assert!((Law { averages: 8.0 }.quantile_db(0.1) + 2.3507).abs() < 1e-3);
    // The scatter gives the averages back.
    let mut rng = ChaCha8Rng::seed_from_u64(9);
    for m in [1usize, 2, 4, 8, 32, 128] {
        let mut level = || {
            let sum: f64 = (0..m).map(|_| -> f64 { Exp1.sample(&mut rng) }).sum();
            db_from_ratio(sum / m as f64)
        };
        let mut d: Vec<f64> = (0..20_000).map(|_| level() - level()).collect();
        let found = Law::of_differences(&mut d).averages / m as f64;
        assert!((0.85..1.18).contains(&found), "{m}: {found}");
    }
    let _ = rng.random::<u8>();
}
