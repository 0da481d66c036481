//! What a found emission is, and the row that both machine contracts share.
//!
//! From one [`detect::Found`], the almanac and (where they help) looks at a few excerpts of samples
//! to one [`Emission`]. Nothing is guessed: a field that was not measured is null.

mod carrier;
mod hops;
mod row;

pub use carrier::{Excerpt, Look, look};
pub use row::{Allocation, Emission, Guess, Measured, Modulation, Technology};

use almanac::{Almanac, Region};
use detect::{BandwidthIs, Found, Shape};
use units::Band;

/// Samples a row would like to see before it is identified, per excerpt; 0 where its shape leaves
/// nothing to ask of them. A bare carrier is looked at for at least 64 times the inverse of its
/// bandwidth bound, so that what hides inside one resolution cell shows.
pub fn wanted_samples(found: &Found, rate_hz: f64) -> u64 {
    let bare = found.shape == Shape::Continuous && found.bandwidth_is == BandwidthIs::UpperBound;
    match found.bandwidth_hz {
        Some(width) if bare && width > 0.0 => (64.0 * rate_hz / width).ceil() as u64,
        _ => 0,
    }
}

/// The shared row of one found emission.
///
/// `looks` are what [`look`] saw in stretches of samples about it (see [`wanted_samples`]); none
/// is fine. With `centre_known` false the frequencies are offsets, and nothing can be said about
/// allocations.
pub fn identify(
    found: &Found,
    looks: &[Look],
    centre_known: bool,
    almanac: &Almanac,
    region: Region,
) -> Emission {
    Emission {
        centre_hz: found.centre_hz,
        low_hz: found.low_hz,
        high_hz: found.high_hz,
        bandwidth_hz: found.bandwidth_hz,
        bandwidth_is: found.bandwidth_is,
        shape: found.shape,
        channels_hz: found.channels_hz.clone(),
        bursts: found.bursts,
        level_dbfs: found.level_dbfs,
        level_dbm: found.level_dbm,
        snr_db: found.snr_db,
        u: found.u,
        measured: hops::measured(found),
        modulation: carrier::modulation(found, looks),
        technology: None,
        allocations: if centre_known { allocations(found, almanac, region) } else { Vec::new() },
    }
}

/// Who may transmit where the emission lies: every allocation that its band touches.
fn allocations(found: &Found, almanac: &Almanac, region: Region) -> Vec<Allocation> {
    let band = Band { low_hz: found.low_hz, high_hz: found.high_hz };
    almanac
        .allocations_at(band, region)
        .into_iter()
        .map(|row| Allocation {
            service: row.service.clone(),
            region: row.region.to_string(),
            low_hz: row.low_hz,
            high_hz: row.high_hz,
            source: row.source.clone(),
        })
        .collect()
}
