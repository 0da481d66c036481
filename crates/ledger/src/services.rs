//! What the band tells: who sends there by the allocations.

use crate::signs::{Look, Sign};
use almanac::{Almanac, Applies, Direction, Region};
use units::{Band, Reason};

/// Who sends in a mobile band. One that a region uses only by single licences or in a few of its
/// states (a supplementary uplink over the cordless band, say) tells nothing there.
fn mobile_direction(band: Band, region: Region) -> Option<Direction> {
    let almanac = Almanac::load();
    let uses = almanac.mobile_uses(band, region);
    let known = region == Region::World || uses.iter().any(|u| u.applies == Applies::Surely);
    almanac.mobile_direction(band, region).filter(|_| known)
}

/// A mobile uplink is a terminal here; a downlink is a mast, however strong.
pub(crate) fn mobile(look: &Look<'_>) -> Option<Sign> {
    match mobile_direction(look.band(), look.region)? {
        Direction::Down => {
            let reason = Reason::new("mobile_downlink", "mobile downlink: a mast sends here");
            Some(Sign { weight: -5.0, reason })
        }
        Direction::Up => {
            let (weight, reason) = match crate::known::telephone_on(look) {
                Some(known) => (
                    -0.5,
                    Reason::new(
                        "mobile_uplink",
                        format!("mobile uplink while a known telephone was on ({known})"),
                    )
                    .with("known", known),
                ),
                None => (
                    1.0,
                    Reason::new("mobile_uplink", "mobile uplink while no known telephone was on"),
                ),
            };
            Some(Sign { weight, reason })
        }
        Direction::Both | Direction::OneWay | Direction::Unclear => None,
    }
}

pub(crate) fn no_service(look: &Look<'_>) -> Option<Sign> {
    // The almanac begins at 9 kHz: below, it may be an offset, and nothing is known.
    let band = look.band();
    if look.coarse || band.low_hz < 9e3 || !look.row.emission.allocations.is_empty() {
        return None;
    }
    if !Almanac::load().allocations_at(band, look.region).is_empty() {
        return None;
    }
    let reason = Reason::new("no_service", "no service is allocated here");
    Some(Sign { weight: 1.0, reason })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1880 to 1900 MHz is for cordless telephones in Europe (ERC/DEC/(94)03), 880 to 915 MHz for
    /// mobile terminals and 925 to 960 MHz for masts (3GPP TS 45.005, clause 2).
    #[test]
    fn a_cordless_telephone_is_no_mobile_terminal() {
        let at = |low: f64, high: f64| {
            mobile_direction(Band { low_hz: low, high_hz: high }, Region::Cept)
        };
        assert_eq!(at(1880e6, 1900e6), None);
        assert_eq!(at(880e6, 915e6), Some(Direction::Up));
        assert_eq!(at(935e6, 936e6), Some(Direction::Down));
    }
}
