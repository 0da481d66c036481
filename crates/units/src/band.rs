//! A span of frequency.

use serde::{Deserialize, Serialize};

/// From `low_hz` to `high_hz`, absolute or relative to a centre as its owner says. Hertz.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Band {
    /// Lower edge.
    pub low_hz: f64,
    /// Upper edge, not below the lower.
    pub high_hz: f64,
}

impl Band {
    /// The two edges, put in order.
    pub fn new(a_hz: f64, b_hz: f64) -> Self {
        Band { low_hz: a_hz.min(b_hz), high_hz: a_hz.max(b_hz) }
    }
    /// `width_hz` wide about `centre_hz`.
    pub fn around(centre_hz: f64, width_hz: f64) -> Self {
        Band::new(centre_hz - width_hz / 2.0, centre_hz + width_hz / 2.0)
    }
    /// Middle.
    pub fn centre_hz(&self) -> f64 {
        0.5 * (self.low_hz + self.high_hz)
    }
    /// Width.
    pub fn width_hz(&self) -> f64 {
        self.high_hz - self.low_hz
    }
    /// Whether a frequency lies inside, edges included.
    pub fn contains(&self, hz: f64) -> bool {
        self.low_hz <= hz && hz <= self.high_hz
    }
    /// The part shared with another band; `None` if they do not touch.
    pub fn overlap(&self, other: &Band) -> Option<Band> {
        let low_hz = self.low_hz.max(other.low_hz);
        let high_hz = self.high_hz.min(other.high_hz);
        (low_hz <= high_hz).then_some(Band { low_hz, high_hz })
    }
}
