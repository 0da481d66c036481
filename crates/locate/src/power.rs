//! How strong a sender may be before anything is heard: EIRP by where it is. It counts only where a
//! chain is calibrated; what is strong in a room is a small sender there or a very strong one
//! outside.

use crate::scenarios::Place;
use units::Reason;

/// EIRP of what is meant to send in and about houses: median, standard deviation, dBm. Short-range
/// devices may send 14 dBm, cordless and mobile telephones 20 to 33 dBm, hidden transmitters −20
/// to 20 dBm (data/threats.csv and data/technologies.csv, rounded).
const MEANT_DBM: (f64, f64) = (5.0, 17.0);
/// The same of what radiates by accident: under CISPR 32 class B, −55 to −41 dBm (from memory).
const UNMEANT_DBM: (f64, f64) = (-55.0, 14.0);
/// Share of that (our choice, no source).
const UNMEANT_SHARE: f64 = 0.2;
/// What is heard from afar sends with more: from so far on the median rises by 20 dB a decade
/// (masts of 40 dBm at a kilometre, broadcasters of 70 dBm at some ten: common practice, no source).
const NEAR_M: f64 = 60.0;
const FAR_DBM: (f64, f64) = (15.0, 22.0);

/// Medians, standard deviations and weights of the EIRP at a place, dBm.
pub(crate) fn eirp_dbm(place: &Place) -> [(f64, f64, f64); 2] {
    match *place {
        Place::Outside { distance_m, .. } | Place::OutsideAt { distance_m, .. }
            if distance_m > NEAR_M =>
        {
            let more = 20.0 * (distance_m / NEAR_M).log10();
            [(FAR_DBM.0 + more, FAR_DBM.1, 1.0), (FAR_DBM.0 + more, FAR_DBM.1, 0.0)]
        }
        _ => [
            (MEANT_DBM.0, MEANT_DBM.1, 1.0 - UNMEANT_SHARE),
            (UNMEANT_DBM.0, UNMEANT_DBM.1, UNMEANT_SHARE),
        ],
    }
}

/// The same in words.
pub(crate) fn reason() -> Reason {
    let (near, far) = (MEANT_DBM, FAR_DBM);
    Reason::new(
        "power_priors",
        format!(
            "levels in dBm: what sends in and about the house is taken as {:.0} dBm ± {:.0} dB, \
             from {NEAR_M:.0} m on as {:.0} dBm ± {:.0} dB and 20 dB more a decade",
            near.0, near.1, far.0, far.1
        ),
    )
    .with("eirp_near_dbm", near.0)
    .with("eirp_near_sigma_db", near.1)
    .with("eirp_far_dbm", far.0)
    .with("eirp_far_sigma_db", far.1)
}
