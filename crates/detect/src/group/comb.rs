//! Combs: bare lines at one spacing are one emission, the harmonics of a clock or of a switching
//! supply, and one row, that of the strongest.

use super::Look;
use super::join::{Candidate, merge};
use super::line::Role;
use crate::defects::in_all;

/// Lines of a comb at least.
const LINES: usize = 3;
/// Spacings that chance brings about so often, among all there are.
const CHANCE: f64 = 0.01;
/// Lines looked at, the strongest.
const MOST: usize = 128;
/// Rasters that people put carriers on, hertz: those are many emitters (channels of 5, 6.25, 12.5
/// and 25 kHz, and 8.33 kHz of aviation, ICAO Annex 10 volume V; whole kilohertz, common practice).
const CHANNELS_HZ: [f64; 3] = [1000.0, 6250.0, 25e3 / 3.0];

/// A bare line.
#[derive(Debug, Clone, Copy)]
struct Tooth {
    /// Which of all lines.
    at: usize,
    hz: f64,
    /// How far off it may be.
    off_hz: f64,
    level_db: f64,
}

/// Two teeth one spacing apart, or two where one between them is missing.
#[derive(Debug, Clone, Copy)]
struct Gap {
    teeth: (usize, usize),
    hz: f64,
    off_hz: f64,
}

/// Joins the lines of every comb to its strongest.
pub(super) fn combs(all: &mut Vec<Candidate>, parents: &mut [u32], looks: &[Look]) {
    let mut teeth: Vec<Tooth> = all.iter().enumerate().filter_map(tooth).collect();
    teeth.sort_by(|a, b| b.level_db.total_cmp(&a.level_db).then(a.at.cmp(&b.at)));
    teeth.truncate(MOST);
    let combs = of_one_spacing(&teeth, listened_hz(looks));
    // By whose place the group of a line is, as places move when lines join.
    let ids: Vec<u32> = all.iter().map(|c| c.line.id).collect();
    let place =
        |all: &[Candidate], tooth: &Tooth| all.iter().position(|c| c.line.id == ids[tooth.at]);
    for comb in combs {
        let (strongest, rest) = match comb.split_first() {
            Some((first, rest)) => (&teeth[*first], rest),
            None => continue,
        };
        for other in rest {
            let places = (place(all, strongest), place(all, &teeth[*other]));
            if let (Some(keep), Some(go)) = places {
                merge(all, parents, looks, keep, go, Role::View);
            }
        }
    }
}

fn tooth((at, x): (usize, &Candidate)) -> Option<Tooth> {
    let (hz, u) = x.line.centre_hz();
    x.nearly_bare().then_some(Tooth { at, hz, off_hz: 3.0 * u, level_db: x.level_db })
}

/// Combs as indices of their teeth, each by rising index; none where chance alone puts so many
/// pairs of lines at one distance.
fn of_one_spacing(teeth: &[Tooth], band_hz: f64) -> Vec<Vec<usize>> {
    let mut gaps: Vec<Gap> = Vec::new();
    for (a, x) in teeth.iter().enumerate() {
        for (b, y) in teeth.iter().enumerate().skip(a + 1) {
            let off_hz = x.off_hz.hypot(y.off_hz);
            gaps.push(Gap { teeth: (a, b), hz: (x.hz - y.hz).abs(), off_hz });
        }
    }
    gaps.retain(|g| g.hz > 4.0 * g.off_hz && !on_channels(g));
    gaps.sort_by(|a, b| a.hz.total_cmp(&b.hz));
    let trials = gaps.len() as f64;
    let near = |hz: f64, off_hz: f64| {
        let from = gaps.partition_point(|g| g.hz < hz - 2.0 * off_hz);
        let some = gaps[from..].iter().take_while(move |g| g.hz <= hz + 2.0 * off_hz);
        some.filter(move |g| (g.hz - hz).abs() <= g.off_hz.hypot(off_hz))
    };
    let at = |g: &Gap| near(g.hz, g.off_hz).chain(near(2.0 * g.hz, 2.0 * g.off_hz));
    let chance = |g: &Gap| {
        let others: Vec<f64> = at(g).map(|o| o.off_hz.hypot(g.off_hz)).collect();
        // Distances of lines anywhere in the band: short ones are up to twice as common.
        let widest = others.iter().copied().fold(0.0, f64::max);
        let expected = trials * 2.0 * 2.0 * (widest + 2.0 * widest) / band_hz;
        // Poisson: so many besides this one. P(N ≥ k) is the gamma distribution's (closed form).
        let besides = others.len() - 1;
        let by_chance = if besides == 0 { 1.0 } else { dsp::gamma_cdf(besides as f64, expected) };
        trials * by_chance
    };
    let best = gaps.iter().map(|g| (chance(g), g)).min_by(|a, b| a.0.total_cmp(&b.0));
    let Some((_, spacing)) = best.filter(|b| b.0 < CHANCE) else { return Vec::new() };
    let mut comb_of: Vec<usize> = (0..teeth.len()).collect();
    for g in at(spacing) {
        let (a, b) = (comb_of[g.teeth.0], comb_of[g.teeth.1]);
        comb_of.iter_mut().filter(|c| **c == a.max(b)).for_each(|c| *c = a.min(b));
    }
    let comb = |c: usize| (0..teeth.len()).filter(|k| comb_of[*k] == c).collect::<Vec<_>>();
    (0..teeth.len()).map(comb).filter(|c| c.len() >= LINES).collect()
}

/// Whether a spacing is one that people put carriers at.
fn on_channels(g: &Gap) -> bool {
    let off = |channel: f64| (g.hz - channel * (g.hz / channel).round()).abs();
    CHANNELS_HZ.iter().any(|channel| off(*channel) <= g.off_hz)
}

/// Width of all bands looked at, hertz.
fn listened_hz(looks: &[Look]) -> f64 {
    in_all(looks.iter().map(|l| (l.low_hz, l.high_hz)).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    const BAND_HZ: f64 = 250e3;

    fn at(hz: &[f64]) -> Vec<Tooth> {
        let tooth = |(at, hz): (usize, &f64)| Tooth { at, hz: *hz, off_hz: 30.0, level_db: 0.0 };
        hz.iter().enumerate().map(tooth).collect()
    }

    #[test]
    fn harmonics_among_other_lines_are_a_comb_though_one_is_missing() {
        // A clock of 31,337 Hz: harmonics 1, 2, 4, 5, 6 and three lines of others.
        let clock = |k: f64| 31_337.0 * k + 12.0;
        let lines = at(&[
            clock(1.0),
            8_123.0,
            clock(2.0),
            clock(5.0),
            101_777.0,
            clock(4.0),
            clock(6.0),
            201_444.0,
        ]);
        assert_eq!(of_one_spacing(&lines, BAND_HZ), [vec![0, 2, 3, 5, 6]]);
    }

    #[test]
    fn carriers_on_channels_are_no_comb() {
        assert!(of_one_spacing(&at(&[0.0, 25e3, 50e3, 75e3, 100e3, 125e3]), BAND_HZ).is_empty());
    }

    #[test]
    fn lines_anywhere_are_a_comb_no_more_often_than_stated() {
        // 1 in 100 by the chance stated: of 400, Poisson's 99.9 % quantile of 4 is 11.
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        let mut lines = || {
            let hz: Vec<f64> = (0..10).map(|_| rng.random_range(0.0..BAND_HZ)).collect();
            at(&hz)
        };
        let false_combs = (0..400).filter(|_| !of_one_spacing(&lines(), BAND_HZ).is_empty());
        let n = false_combs.count();
        println!("{n} of 400");
        assert!(n <= 11, "{n}");
    }
}
