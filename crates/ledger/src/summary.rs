//! The shared row of a group: one emission out of all that its captures showed.

use crate::atom::Group;
use crate::contract::Reception;
use crate::input::Input;
use detect::{BandwidthIs, BurstSummary, Shape, Uncertainty};
use identify::{Emission, Measured};
use units::Utc;

/// What a group's row says of itself.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Summary {
    /// The shared row.
    pub(crate) emission: Emission,
    /// First time heard.
    pub(crate) first: Option<Utc>,
    /// Last time heard.
    pub(crate) last: Option<Utc>,
}

/// Sums a group up.
pub(crate) fn of(input: &Input, group: &Group, _receptions: &[Reception]) -> Summary {
    let row = group.atoms.iter().find_map(|atom| atom.row(input)).map(|row| row.emission.clone());
    Summary {
        emission: row.unwrap_or_else(|| of_readings(group)),
        first: group.atoms.iter().filter_map(|atom| atom.first).min(),
        last: group.atoms.iter().filter_map(|atom| atom.last).max(),
    }
}

/// An emission that only readings know.
fn of_readings(group: &Group) -> Emission {
    let band = group.atoms[0].band;
    Emission {
        centre_hz: band.centre_hz(),
        low_hz: band.low_hz,
        high_hz: band.high_hz,
        bandwidth_hz: None,
        bandwidth_is: BandwidthIs::UpperBound,
        shape: Shape::Bursts,
        channels_hz: None,
        bursts: BurstSummary {
            count: group.atoms.len() as u64,
            median_s: None,
            period_s: None,
            on_fraction: 0.0,
        },
        level_dbfs: None,
        level_dbm: None,
        snr_db: None,
        u: Uncertainty::default(),
        measured: Measured::default(),
        modulation: None,
        technology: None,
        allocations: Vec::new(),
    }
}
