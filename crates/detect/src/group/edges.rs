//! Band of a line out of its loudest pulses.

use super::line::Line;
use crate::pulse::Pulse;
use crate::sidebands::{Side, occupied};

/// Edges of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Edges {
    pub low_hz: f64,
    pub high_hz: f64,
    pub bare: bool,
    pub u_hz: f64,
}

impl Edges {
    pub fn width_hz(&self) -> f64 {
        self.high_hz - self.low_hz
    }
}

impl Line {
    /// Low edge, high edge, width and its uncertainty, hertz: medians over the loudest pulses,
    /// weighted by their precision.
    pub fn edges(&self) -> Edges {
        let own = self.own_edges();
        let whole = match self.extent {
            Some((low_hz, high_hz)) => Edges { low_hz, high_hz, bare: false, ..own },
            None => own,
        };
        self.with_sidebands(whole)
    }
    /// Edges that reach as far as 99 % of the power with the sidebands do.
    fn with_sidebands(&self, own: Edges) -> Edges {
        if self.sidebands.is_empty() {
            return own;
        }
        let body = Side { low_hz: own.low_hz, high_hz: own.high_hz, energy: self.energy_s() };
        match occupied(&body, &self.sidebands) {
            Some((low_hz, high_hz)) => Edges { low_hz, high_hz, bare: false, ..own },
            None => own,
        }
    }
    pub(super) fn own_edges(&self) -> Edges {
        *self.own_edges.get_or_init(|| self.edges_of_pulses())
    }
    fn edges_of_pulses(&self) -> Edges {
        let wide: Vec<&Pulse> = self.best.iter().filter(|p| !p.bare).collect();
        let bare = 2 * wide.len() < self.best.len();
        if bare {
            let hz = self.best.iter().map(|p| p.bandwidth_hz).fold(f64::INFINITY, f64::min);
            let centre = self.origin_hz + self.centre[1] / self.centre[0];
            let u = hz / 12f64.sqrt();
            return Edges { low_hz: centre - 0.5 * hz, high_hz: centre + 0.5 * hz, bare, u_hz: u };
        }
        let weight = |p: &Pulse| 1.0 / (p.u_bandwidth_hz / p.bandwidth_hz).max(1e-3).powi(2);
        let median = |value: &dyn Fn(&Pulse) -> f64| {
            weighted_median(wide.iter().map(|p| (value(p), weight(p))).collect())
        };
        // The middle and the width apart: a hopper's pulses lie anywhere.
        let middle = median(&|p| 0.5 * (p.low_hz + p.high_hz));
        let half = 0.5 * median(&|p| p.bandwidth_hz);
        let n = wide.len() as f64;
        let mean = wide.iter().map(|p| p.bandwidth_hz).sum::<f64>() / n;
        let own = wide.iter().map(|p| p.u_bandwidth_hz.powi(2)).sum::<f64>() / n;
        let scatter = wide.iter().map(|p| (p.bandwidth_hz - mean).powi(2)).sum::<f64>() / n;
        let u_hz = (own.max(scatter) / n).sqrt();
        Edges { low_hz: middle - half, high_hz: middle + half, bare, u_hz }
    }
}

/// Median; 0 of nothing.
pub(crate) fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    if n == 0 { 0.0 } else { 0.5 * (values[(n - 1) / 2] + values[n / 2]) }
}

fn weighted_median(mut values: Vec<(f64, f64)>) -> f64 {
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = 0.5 * values.iter().map(|v| v.1).sum::<f64>();
    let mut sum = 0.0;
    for (value, weight) in &values {
        sum += weight;
        if sum >= half {
            return *value;
        }
    }
    values.last().map_or(0.0, |v| v.0)
}
