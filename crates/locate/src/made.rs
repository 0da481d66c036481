//! Observations made for tests.

use crate::{Observation, Received};
use units::{Strength, Zone};

/// Strengths in as many rooms, the first of them outside; none where it is zero.
pub(crate) fn strengths(values: &[f64], of: f64) -> Vec<Observation> {
    let received = |value: f64| match value > 0.0 {
        true => Received::Strength(Strength { value, of }),
        false => Received::NoStrength,
    };
    let zone = |k: usize| if k == 0 { Zone::Outside } else { Zone::Inside };
    let place = |(room, value): (usize, &f64)| Observation {
        zone: zone(room),
        room,
        spot: None,
        received: received(*value),
        p_silent: 0.0,
    };
    values.iter().enumerate().map(place).collect()
}
