//! What a found emission is, and the row that both machine contracts share.
//!
//! From one [`detect::Found`], the almanac and (where they help) looks at a few excerpts of samples
//! to one [`Emission`]. Nothing is guessed: a field that was not measured is null.

mod carrier;
mod hops;
pub mod round;
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
            service: match row.use_.as_str() {
                "" => row.service.clone(),
                what => format!("{}: {what}", row.service),
            },
            region: row.region.to_string(),
            low_hz: row.band.low_hz,
            high_hz: row.band.high_hz,
            source: row.provenance.source.clone(),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use detect::{BurstSummary, Uncertainty};

    fn at(centre_hz: f64) -> Found {
        Found {
            centre_hz,
            low_hz: centre_hz - 5e3,
            high_hz: centre_hz + 5e3,
            bandwidth_hz: Some(10e3),
            bandwidth_is: BandwidthIs::Measured,
            first_s: 0.0,
            last_s: 1.0,
            shape: Shape::Bursts,
            channels_hz: None,
            bursts: BurstSummary {
                count: 3,
                median_s: Some(0.1),
                period_s: None,
                on_fraction: 0.3,
            },
            level_dbfs: Some(units::Dbfs(-30.0)),
            level_dbm: None,
            snr_db: Some(20.0),
            strength: None,
            u: Uncertainty::default(),
            excerpts: Vec::new(),
        }
    }

    #[test]
    fn allocations_come_from_the_region_and_only_with_a_known_centre() {
        let almanac = Almanac::load();
        // ERC Recommendation 70-03, annex 1: short range devices at 433.05 to 434.79 MHz.
        let row = identify(&at(433.92e6), &[], true, almanac, Region::Cept);
        let exempt = row.allocations.iter().find(|a| (a.low_hz, a.high_hz) == (433.05e6, 434.79e6));
        assert!(exempt.is_some(), "{:?}", row.allocations);
        assert!(row.allocations.iter().all(|a| !a.source.is_empty() && !a.service.is_empty()));
        assert!(identify(&at(433.92e6), &[], false, almanac, Region::Cept).allocations.is_empty());
    }

    #[test]
    fn what_was_not_measured_is_null() {
        let row = identify(&at(433.92e6), &[], true, Almanac::load(), Region::World);
        assert_eq!(
            (row.measured, row.modulation, row.technology),
            (Measured::default(), None, None)
        );
    }

    #[test]
    fn the_row_serialises_every_field_null_where_not_known() {
        let row = identify(&at(1e3), &[], false, Almanac::load(), Region::World);
        let json = serde_json::to_value(&row).expect("serialises");
        for name in ["channels_hz", "level_dbm", "modulation", "technology"] {
            assert!(json.get(name).is_some_and(serde_json::Value::is_null), "{name}");
        }
        assert_eq!(json["measured"].as_object().map(serde_json::Map::len), Some(13));
        assert_eq!(json["shape"], "bursts");
        assert_eq!(json["bandwidth_is"], "measured");
    }

    #[test]
    fn samples_are_wanted_only_of_bare_carriers() {
        let mut found = at(433.92e6);
        assert_eq!(wanted_samples(&found, 250e3), 0);
        found.shape = Shape::Continuous;
        found.bandwidth_is = BandwidthIs::UpperBound;
        found.bandwidth_hz = Some(250.0);
        assert_eq!(wanted_samples(&found, 250e3), 64_000);
    }
}
