//! Rates over seeds, not single draws (methods: how to test statistics).

use super::folded::student_90;
use super::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Exp, Normal};

fn rng(seed: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(seed)
}

/// A clock: `n` slots, each heard with probability `heard`, late by a normal `jitter_s`, with a
/// fraction `extra` of random others.
struct Clock {
    n: usize,
    period_s: f64,
    jitter_s: f64,
    heard: f64,
    extra: f64,
    renewed: bool,
}

impl Clock {
    fn draw(&self, seed: u64) -> Vec<f64> {
        let mut r = rng(seed);
        let jitter = Normal::new(0.0, self.jitter_s).expect("positive");
        let mut clock = r.random_range(0.0..600.0);
        let first = clock;
        let mut t = Vec::new();
        for _ in 0..self.n {
            let late = jitter.sample(&mut r);
            if r.random_bool(self.heard) {
                t.push(if self.renewed { clock } else { clock + late });
            }
            clock += self.period_s + if self.renewed { late } else { 0.0 };
        }
        for _ in 0..(self.extra * self.n as f64) as usize {
            t.push(r.random_range(first..clock));
        }
        t.sort_by(f64::total_cmp);
        t
    }
}

fn stamps(t: &[f64], step_s: f64) -> Vec<f64> {
    t.iter().map(|x| (x / step_s).floor() * step_s).collect()
}

/// Fraction found, median of the relative error of those found, and fraction of the stated 90 %
/// intervals that hold the truth.
fn score(clock: &Clock, step_s: f64, seeds: u64) -> (f64, f64, f64) {
    let mut errors = Vec::new();
    let mut held = 0.0;
    for seed in 0..seeds {
        let t = stamps_or_exact(&clock.draw(seed), step_s);
        if let Some(p) = of_times(&t, step_s) {
            let error = (p.period_s - clock.period_s).abs();
            errors.push(error / clock.period_s);
            held += f64::from(u8::from(error <= 1.645 * p.u_s));
        }
    }
    errors.sort_by(f64::total_cmp);
    let n = errors.len() as f64;
    let median = errors.get(errors.len() / 2).copied().unwrap_or(1.0);
    (n / seeds as f64, median, held / n)
}

fn stamps_or_exact(t: &[f64], step_s: f64) -> Vec<f64> {
    if step_s > 0.0 { stamps(t, step_s) } else { t.to_vec() }
}

const SEEDS: u64 = 60;

fn clock(n: usize, period_s: f64, jitter_s: f64) -> Clock {
    Clock { n, period_s, jitter_s, heard: 1.0, extra: 0.0, renewed: false }
}

/// Of 60 intervals that hold with 0.9, fewer than 45 hold with probability 3e-4.
const HELD: f64 = 0.75;

#[test]
fn clocks_with_jitter_and_missed_and_extra_ones_are_found_and_their_interval_holds() {
    let cases = [
        (clock(20, 60.0, 0.05), 0.0, 0.01),
        (clock(6, 60.0, 0.05), 0.0, 0.05),
        (Clock { heard: 0.7, extra: 0.1, ..clock(60, 10.0, 0.1) }, 0.0, 0.02),
        (clock(12, 180.0, 3.0), 1.0, 0.3),
        (Clock { heard: 0.7, extra: 0.1, ..clock(16, 180.0, 3.0) }, 1.0, 0.3),
    ];
    for (c, step_s, percent) in cases {
        let (found, error, held) = score(&c, step_s, SEEDS);
        assert!(found > 0.95, "n {}: found {found}", c.n);
        assert!(100.0 * error < percent, "n {}: error {error}", c.n);
        assert!(held >= HELD, "n {}: held {held}", c.n);
    }
}

#[test]
fn a_timer_that_starts_anew_has_the_wider_interval_of_a_random_walk() {
    let c = Clock { renewed: true, ..clock(40, 10.0, 0.5) };
    let (found, _, held) = score(&c, 0.0, SEEDS);
    assert!(found > 0.95 && held >= HELD, "{found} {held}");
    let p = of_times(&c.draw(3), 0.0).expect("a period");
    // Checks PER-007: σ/√(n − 1), 0.080 s here; with at most the factors of Student and of the
    // regression over it.
    assert!((0.04..0.16).contains(&p.u_s), "{}", p.u_s);
}

#[test]
fn stamps_of_a_minute_clock_give_the_period_within_one_per_cent() {
    let cases = [
        // A whole number of minutes: the stamps err alike.
        (clock(12, 180.0, 1.0), 0.9),
        (Clock { heard: 0.8, ..clock(40, 180.0, 10.0) }, 0.75),
        (clock(20, 187.0, 2.0), 0.95),
        (clock(8, 300.0, 5.0), 0.9),
    ];
    for (c, least) in cases {
        let (found, error, held) = score(&c, 60.0, SEEDS);
        assert!(found >= least, "{} s: found {found}", c.period_s);
        assert!(error < 0.01, "{} s: error {error}", c.period_s);
        assert!(held >= HELD, "{} s: held {held}", c.period_s);
    }
}

#[test]
fn the_uncertainty_is_that_of_the_closed_form() {
    // Checks PER-004 and PER-006 (regression), scaled to σ = 0.05 s: consecutive, and with some
    // missed. Scatter is estimated, so within its own error.
    let middle = |heard: &[usize]| {
        let mut u: Vec<f64> = (0..200)
            .filter_map(|seed| {
                let all = clock(20, 10.0, 0.05).draw(seed);
                let t: Vec<f64> = heard.iter().map(|k| all[*k]).collect();
                of_times(&t, 0.0).map(|p| p.u_s)
            })
            .collect();
        assert!(u.len() > 190);
        u.sort_by(f64::total_cmp);
        u[u.len() / 2]
    };
    let all: Vec<usize> = (0..20).collect();
    let student = student_90(18.0) / 1.645;
    let ratio = middle(&all) / (student * 50.0 * 3.8778337e-05);
    assert!((0.9..1.35).contains(&ratio), "{ratio}");
    let ratio = middle(&[0, 1, 2, 5, 6, 9, 10]) / (student_90(5.0) / 1.645 * 50.0 * 1.045825e-4);
    assert!((0.8..1.2).contains(&ratio), "{ratio}");
}

#[test]
fn random_starts_have_no_period() {
    // Poisson, exact and stamped to the minute: 800 trains at 1 % would give 8; at most 3 here.
    let mut false_ones = 0;
    for n in [5usize, 12, 40, 150] {
        for step in [0.0, 60.0] {
            let gap = Exp::new(1.0 / 200.0).expect("positive");
            for seed in 0..100 {
                let mut r = rng(7000 + seed);
                let mut t = 0.0;
                let times: Vec<f64> = (0..n)
                    .map(|_| {
                        t += gap.sample(&mut r);
                        t
                    })
                    .collect();
                let found = of_times(&stamps_or_exact(&times, step), step).is_some();
                false_ones += u32::from(found);
            }
        }
    }
    assert!(false_ones <= 3, "{false_ones}");
}

#[test]
fn looks_that_come_and_go_give_no_period() {
    let mut r = rng(11);
    let looks: Vec<Look> = (0..200)
        .map(|k| Look {
            segment: k,
            start_s: f64::from(k),
            stop_s: f64::from(k) + 0.5,
            low_hz: 0.0,
            high_hz: 1.0,
        })
        .collect();
    let gated = |t: &f64| t.rem_euclid(1.0) < 0.5;
    let random: Vec<f64> = {
        let mut t: Vec<f64> = (0..500).map(|_| r.random_range(0.0..200.0)).collect();
        t.sort_by(f64::total_cmp);
        t.into_iter().filter(gated).collect()
    };
    assert!(random.len() > 50);
    assert_eq!(of_starts(&random, &looks), None);
    // A clock of its own shows through the same looks.
    let clock: Vec<f64> = (0..140).map(|k| 1.37 * f64::from(k)).filter(gated).collect();
    let p = of_starts(&clock, &looks).expect("a period");
    let multiple = p.period_s / 1.37;
    assert!((multiple - multiple.round()).abs() < 1e-6, "{}", p.period_s);
}

fn look(start_s: f64, length_s: f64) -> Look {
    Look { segment: 0, start_s, stop_s: start_s + length_s, low_hz: 0.0, high_hz: 1.0 }
}

#[test]
fn short_looks_far_apart_are_not_told_as_a_reporter() {
    // 45 looks of 20 ms, 420 s apart (dwell over period 5e-5), and of 42 ms (1e-4). Random bursts
    // lie evenly over a look: their standard deviation is its length / √12 (closed form).
    for dwell in [0.02, 0.042] {
        for seed in 0..SEEDS {
            let mut r = rng(seed);
            let looks: Vec<Look> = (0..45).map(|k| look(420.0 * f64::from(k), dwell)).collect();
            let mut place = || r.random_range(0.0..1.0);
            let all: Vec<f64> = looks.iter().map(|l| l.start_s + dwell * place()).collect();
            assert_eq!(of_starts(&all, &looks), None, "{dwell} s, seed {seed}");
            // In every other look, and in two of three.
            let other: Vec<f64> = all.iter().copied().step_by(2).collect();
            assert_eq!(of_starts(&other, &looks), None, "{dwell} s, seed {seed}: every other");
            let two: Vec<f64> = (0..45).filter(|k| k % 3 < 2).map(|k| all[k]).collect();
            assert_eq!(of_starts(&two, &looks), None, "{dwell} s, seed {seed}: two of three");
        }
    }
    // Two looks a round, most bursts in the first of them.
    let mut r = rng(5);
    let looks: Vec<Look> = (0..60)
        .flat_map(|k| [0.0, 100.0].map(|at| look(420.0 * f64::from(k) + at, 0.02)))
        .collect();
    let some: Vec<f64> = (looks.iter().enumerate())
        .filter(|(k, _)| k % 2 == 0 || k % 6 == 1)
        .map(|(_, l)| l.start_s + r.random_range(0.0..0.02))
        .collect();
    assert_eq!(of_starts(&some, &looks), None);
}

#[test]
fn a_start_at_the_same_place_of_each_look_is_the_receivers() {
    // Past what counts as on already (a twentieth of the look), a moment apart; looks a little
    // late themselves.
    let mut r = rng(9);
    let late = Normal::new(0.0, 1e-4).expect("positive");
    for every in [1usize, 2, 3] {
        let looks: Vec<Look> =
            (0..90).map(|k| look(420.0 * f64::from(k) + late.sample(&mut r), 0.02)).collect();
        let starts: Vec<f64> = (looks.iter().step_by(every))
            .map(|l| l.start_s + 3e-3 + 0.1 * late.sample(&mut r))
            .collect();
        assert_eq!(of_starts(&starts, &looks), None, "every {every}");
    }
}

#[test]
fn true_reporters_show_in_continuous_listening_and_in_long_dwells() {
    let whole = [look(0.0, 7200.0)];
    let dwells: Vec<Look> = (0..60).map(|k| look(420.0 * f64::from(k), 100.0)).collect();
    for seed in 0..SEEDS {
        let t = clock(15, 420.0, 0.05).draw(seed);
        let p = of_starts(&t, &whole).expect("a period").period_s;
        assert!((p - 420.0).abs() < 0.1, "{p}");
        // A clock of 23 s through dwells of 100 s: four or five of its eighteen reports in each.
        let seen = |t: &f64| t.rem_euclid(420.0) < 100.0;
        let t: Vec<f64> = clock(500, 23.0, 0.05).draw(seed).into_iter().filter(seen).collect();
        let p = of_starts(&t, &dwells).expect("a period").period_s;
        assert!((p - 23.0).abs() < 0.01, "seed {seed}: {p}");
    }
}

#[test]
fn the_students_points_are_those_of_the_tables() {
    // scipy.stats.t.ppf(0.95, [3, 5, 10, 30]), scipy 1.x.
    for (free, t) in [(3.0, 2.353363), (5.0, 2.015048), (10.0, 1.812461), (30.0, 1.697261)] {
        assert!((student_90(free) / t - 1.0).abs() < 0.01, "{free}");
    }
}
