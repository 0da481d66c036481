//! How much an emission was on where it was heard: what its silence elsewhere may mean.

use crate::atom::Group;
use crate::contract::Reception;
use crate::input::Input;

/// How much it was on, where it was heard.
pub(crate) struct Activity {
    /// It was on all the time that one looked.
    steady: bool,
    /// On-periods.
    bursts: f64,
    /// Seconds looked where it was heard.
    looked_s: f64,
}

/// On-time over time looked from which it counts as never off (our choice).
pub(crate) const STEADY: f64 = 0.9;
/// Whatever its habits, it may have been switched on or off between two times: once in so many
/// seconds, within these bounds (our choice, no source).
const SWITCHED_EVERY_S: f64 = 8.0 * 3600.0;
const SWITCHED: (f64, f64) = (0.002, 0.15);
/// Where nobody knows how long lies between.
const SWITCHED_SOME_TIME: f64 = 0.03;

impl Activity {
    pub(crate) fn of(input: &Input, group: &Group, receptions: &[Reception]) -> Activity {
        let summary = crate::summary::of(input, group, receptions).emission;
        let heard = receptions.iter().filter(|r| r.heard);
        Activity {
            steady: summary.bursts.on_fraction >= STEADY,
            bursts: summary.bursts.count as f64,
            looked_s: heard.map(|r| r.looked_s).sum(),
        }
    }

    /// Chance that it was not on while one listened elsewhere, were it as audible there: for
    /// bursts (t1/(t1 + t2))^(k + ½), the Poisson–gamma predictive with Jeffreys' prior.
    pub(crate) fn p_silent(&self, looked_s: f64, between_s: Option<f64>) -> f64 {
        let off = between_s
            .map_or(SWITCHED_SOME_TIME, |s| (s / SWITCHED_EVERY_S).clamp(SWITCHED.0, SWITCHED.1));
        off + (1.0 - off) * self.p_between(looked_s)
    }

    /// Bursts that would have come in such a time; no end of them for one that never stops.
    pub(crate) fn missed(&self, silent_s: f64) -> f64 {
        match self.steady || self.looked_s <= 0.0 {
            true => f64::INFINITY,
            false => self.bursts / self.looked_s * silent_s,
        }
    }

    /// The part of that which its habits make: that none of its on-periods came.
    pub(crate) fn p_between(&self, looked_s: f64) -> f64 {
        match self.steady || self.looked_s <= 0.0 {
            true => 0.0,
            false => (self.looked_s / (self.looked_s + looked_s)).powf(self.bursts + 0.5),
        }
    }
}
