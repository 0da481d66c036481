//! Sidebands of keying far beside its middle: areas of their own, as nothing connects them, but
//! part of one emission's 99 % band (ITU-R SM.328).
//!
//! A carrier keyed at an even rate has lines at multiples of it either side; each may be weak, yet
//! all together they hold more than the half per cent that may lie beyond an edge. What tells them
//! from neighbours: they lie in pairs about the middle, alike, while it is on.

use crate::areas::Area;
use crate::measure::Piece;
use crate::twin::alike;

/// How far from the middle they are looked for, in widths of what is marked there.
const REACH: f64 = 10.0;
/// Part of the power that may lie beyond an edge (ITU-R SM.328).
pub(crate) const OUTSIDE: f64 = 0.005;
/// Each of a pair is weaker than the middle by this.
const WEAKER: f64 = 0.5;
/// Part of a sideband's time that lies in the middle's.
const WHILE: f64 = 0.8;
/// Bins of its resolution by which a pair may lie uneven.
const UNEVEN: f64 = 2.0;

/// A band with its energy.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Side {
    pub low_hz: f64,
    pub high_hz: f64,
    pub energy: f64,
}

impl Side {
    fn width_hz(&self) -> f64 {
        self.high_hz - self.low_hz
    }
    fn middle_hz(&self) -> f64 {
        0.5 * (self.low_hz + self.high_hz)
    }
}

/// Widens the pieces of each area to the sidebands without which it would lack 99 % of its power.
/// `pieces` are the areas', `bin_hz` the resolution of each level.
pub(crate) fn widen(areas: &[Area], pieces: &mut [Vec<Piece>], bin_hz: &[f64]) {
    let side = |(area, own): (usize, &Vec<Piece>)| {
        let p = own.first()?;
        let energy = own.iter().map(|p| p.power * (p.stop - p.start)).sum();
        Some((Side { low_hz: p.low_hz, high_hz: p.high_hz, energy }, area))
    };
    for (level, bin_hz) in bin_hz.iter().enumerate() {
        let here = pieces.iter().enumerate().filter(|(k, _)| areas[*k].level == level);
        let mut sides: Vec<(Side, usize)> = here.filter_map(side).collect();
        sides.sort_by(|a, b| a.0.middle_hz().total_cmp(&b.0.middle_hz()));
        for body in &sides {
            let pairs = pairs(&body.0, &near(body, &sides, areas), UNEVEN * bin_hz);
            let Some((low_hz, high_hz)) = occupied(&body.0, &pairs) else { continue };
            for p in &mut pieces[body.1] {
                let more_hz = (high_hz - low_hz) - (p.high_hz - p.low_hz);
                p.bandwidth_hz += more_hz;
                // An edge lies somewhere between two lines of the keying.
                p.u_bandwidth_hz = p.u_bandwidth_hz.hypot(0.1 * more_hz);
                (p.low_hz, p.high_hz, p.bare) = (low_hz, high_hz, false);
                p.centre_hz = 0.5 * (low_hz + high_hz);
            }
        }
    }
}

/// What may be a sideband of a body, by rising frequency.
fn near((body, area): &(Side, usize), sides: &[(Side, usize)], areas: &[Area]) -> Vec<Side> {
    let reach = REACH * body.width_hz();
    let from = sides.partition_point(|s| s.0.middle_hz() < body.middle_hz() - reach);
    let own = &areas[*area].component;
    let on_with = |s: &&(Side, usize)| {
        let c = &areas[s.1].component;
        own.shared_rows(c) as f64 >= WHILE * c.rows() as f64
    };
    sides[from..]
        .iter()
        .take_while(|s| s.0.middle_hz() <= body.middle_hz() + reach)
        .filter(|s| s.0.energy < WEAKER * body.energy && s.0.width_hz() < body.width_hz())
        .filter(|s| s.0.high_hz < body.low_hz || s.0.low_hz > body.high_hz)
        .filter(on_with)
        .map(|s| s.0)
        .collect()
}

/// Those of `near` (by rising frequency) that lie in pairs about the middle of a body.
fn pairs(body: &Side, near: &[Side], uneven_hz: f64) -> Vec<Side> {
    let paired = |s: &&Side| {
        let mirror = 2.0 * body.middle_hz() - s.middle_hz();
        let slack = uneven_hz + 0.1 * s.width_hz();
        let from = near.partition_point(|o| o.middle_hz() < mirror - slack);
        near[from..]
            .iter()
            .take_while(|o| o.middle_hz() <= mirror + slack)
            .any(|o| alike(o.energy, s.energy))
    };
    near.iter().filter(paired).copied().collect()
}

/// The band that holds 99 % of the power of a body and its sidebands, to the outer edge of the
/// sideband where that is reached; `None` if it goes no further than the body's own.
pub(crate) fn occupied(body: &Side, sidebands: &[Side]) -> Option<(f64, f64)> {
    let all: f64 = body.energy + sidebands.iter().map(|s| s.energy).sum::<f64>();
    // From the outermost inwards, the edge at which the half per cent is exceeded.
    let edge = |mut sides: Vec<(f64, f64)>| {
        let mut sum = 0.0;
        sides.sort_by(|a, b| b.0.total_cmp(&a.0));
        let reached = sides.iter().find(|(_, energy)| {
            sum += energy;
            sum > OUTSIDE * all
        });
        reached.map(|s| s.0)
    };
    let below = sidebands.iter().filter(|s| s.low_hz < body.low_hz);
    let above = sidebands.iter().filter(|s| s.high_hz > body.high_hz);
    let low = edge(below.map(|s| (-s.low_hz, s.energy)).collect());
    let high = edge(above.map(|s| (s.high_hz, s.energy)).collect());
    let reach = (low.map_or(body.low_hz, |l| -l), high.unwrap_or(body.high_hz));
    (low.is_some() || high.is_some()).then_some(reach)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A carrier keyed by a square wave: a quarter of its power in the line of the carrier, and
    /// (1/πk)² in each at odd multiples k of the keying (Fourier series of the square wave).
    fn square_wave(lines: u32) -> (Side, Vec<Side>) {
        let line = |k: f64, energy| Side { low_hz: k - 0.1, high_hz: k + 0.1, energy };
        let odd = (0..lines).map(|n| f64::from(2 * n + 1));
        let both =
            odd.flat_map(|k| [-k, k]).map(|k| line(k, 1.0 / (std::f64::consts::PI * k).powi(2)));
        let mut sides: Vec<Side> = both.collect();
        sides.sort_by(|a, b| a.low_hz.total_cmp(&b.low_hz));
        (line(0.0, 0.25), sides)
    }

    #[test]
    fn square_keying_reaches_to_its_twenty_first_line() {
        // Beyond the 19th: Σ 1/(πk)² over odd k > 19 is 0.00253 of the 0.5 there is, more than
        // 0.5 %; beyond the 21st 0.00230, less.
        let (carrier, sides) = square_wave(2000);
        let found = pairs(&carrier, &sides, 0.05);
        assert_eq!(found.len(), sides.len());
        let (low, high) = occupied(&carrier, &found).expect("reaches out");
        assert!((high - 21.1).abs() < 1e-9 && (low + 21.1).abs() < 1e-9, "{low} {high}");
    }

    #[test]
    fn a_neighbour_without_a_twin_is_no_sideband() {
        let (carrier, mut sides) = square_wave(3);
        sides.push(Side { low_hz: 30.0, high_hz: 31.0, energy: 0.02 });
        let found = pairs(&carrier, &sides, 0.05);
        let (low, high) = occupied(&carrier, &found).expect("reaches out");
        assert!((high - 5.1).abs() < 1e-9 && (low + 5.1).abs() < 1e-9, "{low} {high}");
    }
}
