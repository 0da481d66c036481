//! Noise alone: the rows that it makes stay within what `Options::false_rows` promises.

mod common;

use common::{filtered, found, noise, random};
use detect::Options;
use num_complex::Complex64;

/// Rows promised a recording: many more than by default, so that they can be counted.
const FALSE_ROWS: f64 = 0.5;

/// Count that a Poisson law of this mean passes with probability 1e-4 at most (closed form).
fn poisson_bound(mean: f64) -> usize {
    let (mut term, mut sum) = ((-mean).exp(), 0.0);
    (0..)
        .find(|k| {
            sum += term;
            term *= mean / (f64::from(*k) + 1.0);
            1.0 - sum < 1e-4
        })
        .map_or(0, |k| k as usize)
}

/// Rows of `runs` recordings of noise of `samples` samples, shaped by `taps`.
fn rows(samples: usize, runs: u64, taps: &[f64], faint: bool) -> usize {
    let options = Options { false_rows: FALSE_ROWS, faint, ..Options::default() };
    (0..runs)
        .map(|run| {
            let mut rng = random(31 * samples as u64 + run);
            let white = noise(&mut rng, samples + taps.len() - 1, 1e-4);
            let iq: Vec<Complex64> = filtered(&white, taps);
            found(&iq, 250e3, &options).0.found.len()
        })
        .sum()
}

#[test]
fn noise_makes_no_more_rows_than_promised() {
    assert_eq!(poisson_bound(1.0), 6, "P(X > 6) = 8.3e-5, P(X > 5) = 5.9e-4 (handbook table)");
    // A budget hardly used would be sensitivity given away.
    let all = all_rows(false);
    assert!(all >= 8, "{all} rows of 128 promised");
}

#[test]
fn noise_makes_no_more_faint_rows_than_promised() {
    let all = all_rows(true);
    assert!(all >= 8, "{all} rows of 128 promised");
}

/// Rows of noise of several lengths and shapes, each within what was promised.
fn all_rows(faint: bool) -> usize {
    let mut all = 0;
    for (samples, runs) in [(1 << 10, 60), (1 << 13, 40), (1 << 16, 20), (1 << 18, 8)] {
        // White; and 9.5 dB from the centre to the edges (one zero: 20 lg 1.5/0.5).
        for taps in [&[1.0][..], &[1.0, 0.5]] {
            let rows = rows(samples, runs, taps, faint);
            let promised = FALSE_ROWS * runs as f64;
            println!("{samples} samples, taps {taps:?}: {rows} rows, {promised} promised");
            assert!(rows <= poisson_bound(promised), "{rows} rows, {promised} promised");
            all += rows;
        }
    }
    all
}
