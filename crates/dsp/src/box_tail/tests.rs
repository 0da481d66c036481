use super::*;
use crate::gram_eigenvalues;
use crate::{Window, gamma_ln_sf};

/// The exact law, from the eigenvalues of the windows themselves.
fn exact(rows: usize, bins: usize) -> ExponentialSum {
    // Long enough that bins far apart are no neighbours the other way round.
    let n = if bins > 16 { 512 } else { 64 };
    ExponentialSum::new(&gram_eigenvalues(&Window::Hann.samples(n), n / 2, bins, rows))
}

const LN_P: [f64; 5] = [-4.0, -8.0, -14.0, -30.0, -60.0];

#[test]
fn thresholds_of_the_published_cells() {
    // FA-019, 022, 025, 028: computed with scipy, by inversion along the saddle-point line; and
    // FA-020, 023, 026, 029: the true rate at the threshold of the moment-matched gamma.
    for (row, rows, bins, want, moment_matched) in [
        ("FA-019", 1, 4, 8.3115639, 4.6324369e-6),
        ("FA-022", 4, 1, 5.6515626, 1.749524e-6),
        ("FA-025", 4, 4, 3.5964059, 2.3730113e-6),
        ("FA-028", 8, 8, 2.0841066, 1.5501619e-6),
    ] {
        let law = BoxTail::new(rows, bins);
        let got = law.threshold(1e-6f64.ln());
        assert!((got / want - 1.0).abs() < 1e-4, "{row}: {got}");
        let n = law.effective();
        let rate = law.ln_sf(gamma_isf_ln(n, 1e-6f64.ln()) / n).exp();
        assert!((rate / moment_matched - 1.0).abs() < 1e-3, "{row}: {rate}");
    }
}

#[test]
fn small_and_middling_boxes_are_those_of_their_own_eigenvalues() {
    // The last ones lie beyond the hundred cells whose eigenvalues the law itself works out.
    let shapes = (1..=8).flat_map(|r| (1..=8).map(move |b| (r, b)));
    let larger =
        [(12, 4), (4, 12), (17, 1), (1, 17), (1, 150), (3, 50), (50, 3), (11, 14), (14, 11)];
    for (rows, bins) in shapes.chain(larger) {
        let (law, exact) = (BoxTail::new(rows, bins), exact(rows, bins));
        let cells = (rows * bins) as f64;
        for ln_p in LN_P {
            let at = law.threshold(ln_p);
            let want = exact.ln_sf(at * cells);
            assert!((want - ln_p).abs() < 1e-3, "{rows} by {bins} at {ln_p}: {want}");
            assert!((law.ln_sf(at) - ln_p).abs() < 1e-5, "{rows} by {bins} at {ln_p}");
        }
        for mean in [0.4, 0.9, 0.999, 1.0, 1.001, 1.1] {
            let (got, want) = (law.ln_sf(mean).exp(), exact.ln_sf(mean * cells).exp());
            assert!((got - want).abs() < 1e-4, "{rows} by {bins} at {mean}: {got} for {want}");
        }
    }
}

#[test]
fn one_bin_over_many_rows_is_the_closed_form() {
    for rows in [2, 30, 100, 101, 1000, 10_000] {
        let exact = ExponentialSum::new(&crate::frame_eigenvalues(rows));
        let law = BoxTail::new(rows, 1);
        for ln_p in LN_P {
            let got = exact.ln_sf(law.threshold(ln_p) * rows as f64);
            assert!((got - ln_p).abs() < 1e-4, "{rows} rows at {ln_p}: {got}");
        }
    }
}

#[test]
fn large_boxes_follow_their_area() {
    // All bins of all frames see the windows' sum alone, of spectrum 2(1 + cos θ/3) on half of the
    // dimensions: −ln det per cell is −½ ln((a + √(a² − b²))/2), a = 1 − 2s, b = 2s/3.
    let (rows, bins) = (2000, 3000);
    let law = BoxTail::new(rows, bins);
    for s in [-0.2f64, 0.01, 0.1, 0.2, 0.25] {
        let (a, b) = (1.0 - 2.0 * s, 2.0 * s / 3.0);
        let want = -0.5 * f64::ln(0.5 * (a + (a * a - b * b).sqrt()));
        let got = law.cumulants(s).0[0] / law.cells;
        assert!((got / want - 1.0).abs() < 2e-3, "{s}: {got} for {want}");
    }
    // And huge ones end in the gamma of their variance, whose own skew is nearly theirs.
    for (rows, bins) in [(1, 100_000), (10_000, 1), (300, 500), (10_000, 100_000)] {
        let law = BoxTail::new(rows, bins);
        let n = law.effective();
        for ln_p in LN_P {
            let got = gamma_ln_sf(n, law.threshold(ln_p) * n);
            let room = 0.6 * (-2.0 * ln_p).powf(1.5) / n.sqrt() + 1e-4;
            assert!((got - ln_p).abs() < room, "{rows} by {bins} at {ln_p}: {got}");
        }
    }
}

#[test]
fn larger_boxes_and_commoner_rates_have_lower_thresholds() {
    // Across every seam: 24 and 100 cells, ten rows or bins.
    for ln_p in LN_P {
        let at = |rows, bins| BoxTail::new(rows, bins).threshold(ln_p);
        for side in [1, 2, 7, 9, 10, 11, 30] {
            for n in 1..40 {
                assert!(at(n + 1, side) < at(n, side), "{} rows by {side}", n + 1);
                assert!(at(side, n + 1) < at(side, n), "{side} by {} bins", n + 1);
            }
        }
        assert!(at(40, 40) < BoxTail::new(40, 40).threshold(ln_p - 0.01));
    }
    // Far beyond what is asked it still answers.
    assert!(BoxTail::new(12, 12).threshold(-700.0) > BoxTail::new(12, 12).threshold(-690.0));
}
