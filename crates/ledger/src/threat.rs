//! Whether a row behaves as a dedicated transmitter would: data/threats.csv.

use crate::activity::STEADY;
use crate::levels;
use crate::signs::{Look, Sign};
use almanac::{Almanac, Threat};
use detect::{BandwidthIs, Shape};
use units::{Band, Reason};

/// Shorter on-periods are frames of a protocol, which the technologies tell better, seconds.
const LONG_S: f64 = 0.05;

/// Families of what is made for it, or for little else in a house.
const DEDICATED: [&str; 2] = ["hostile", "video link"];

/// The first of the dedicated transmitters that sends in such a band, so wide, with such timing.
pub(crate) fn dedicated(look: &Look<'_>) -> Option<Sign> {
    let almanac = Almanac::load();
    let hostile = |t: &&Threat| {
        almanac
            .technology(&t.technology)
            .is_some_and(|own| DEDICATED.contains(&own.family.as_str()))
    };
    let threat = almanac.threats().iter().filter(hostile).find(|t| {
        in_its_band(look, t) && as_wide(look, t) && timed_alike(look, t) && as_strong(look, t)
    })?;
    let alike = match look.row.emission.bandwidth_hz {
        Some(_) => "band, width and timing",
        None => "band and timing",
    };
    let text = format!("like {} in {alike}", with_article(&threat.name));
    let reason = Reason::new("dedicated", text).with("threat", threat.id.as_str());
    Some(Sign { weight: 1.2, reason })
}

/// A kind of transmitter inside a sentence: 'a crystal FM transmitter', 'an FM transmitter'.
fn with_article(name: &str) -> String {
    let mut letters = name.chars();
    let (first, second) = (letters.next(), letters.next());
    // An abbreviation or a proper name keeps its capitals; FM and LTE are spoken with a vowel first.
    let abbreviated = second.is_some_and(|c| !c.is_lowercase()) || name.starts_with("Wi-");
    let vowels = if abbreviated { "AEFHILMNORSX" } else { "AEIOU" };
    let article = if first.is_some_and(|c| vowels.contains(c)) { "an" } else { "a" };
    match first {
        Some(first) if !abbreviated => {
            format!("{article} {}{}", first.to_lowercase(), &name[first.len_utf8()..])
        }
        _ => format!("{article} {name}"),
    }
}

fn in_its_band(look: &Look<'_>, threat: &Threat) -> bool {
    let band = look.band();
    let shared = |likely: &Band| likely.overlap(&band).map_or(0.0, |part| part.width_hz());
    threat.likely.iter().any(|likely| {
        if look.coarse {
            // A log that tells no band has none that could lie in it.
            band.width_hz() > 0.0 && shared(likely) >= 0.8 * band.width_hz()
        } else {
            likely.contains(band.centre_hz())
        }
    })
}

/// Within a factor of four; a pause of speech leaves a bare carrier; a log knows no width.
fn as_wide(look: &Look<'_>, threat: &Threat) -> bool {
    let emission = &look.row.emission;
    match (emission.bandwidth_hz, threat.bandwidth_hz) {
        (Some(own), Some(its)) => {
            let bare = emission.bandwidth_is == BandwidthIs::UpperBound;
            bare || (0.25..=4.0).contains(&(own / its))
        }
        _ => true,
    }
}

/// Walls and a far corner may take so much of it, dB (our choice, no source).
const HIDDEN_DB: f64 = 30.0;

/// Not far too weak for it, where levels tell.
fn as_strong(look: &Look<'_>, threat: &Threat) -> bool {
    match (levels::sent_dbm(look), threat.eirp_dbm) {
        (Some(sent), Some((least, _))) => sent >= least - HIDDEN_DB,
        _ => true,
    }
}

fn timed_alike(look: &Look<'_>, threat: &Threat) -> bool {
    let emission = &look.row.emission;
    match (threat.burst_s, emission.shape) {
        // Speech moves a carrier about its channel; a log's steady piece may be one long call.
        (None, Shape::Continuous | Shape::Sweeping) => emission.bursts.on_fraction >= STEADY,
        (Some((short, long)), Shape::Bursts) if short >= LONG_S => {
            let length = emission.bursts.median_s.is_some_and(|m| short <= m && m <= long);
            let period = match (emission.bursts.period_s, threat.period_s) {
                (Some(p), Some((short, long))) => short <= p && p <= long,
                _ => true,
            };
            length && period
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::with_article;

    /// English: 'an' before a vowel that is heard.
    #[test]
    fn names_in_a_sentence() {
        for (name, said) in [
            ("Crystal FM transmitter", "a crystal FM transmitter"),
            ("FM transmitter", "an FM transmitter"),
            ("Analogue video sender", "an analogue video sender"),
            ("Ultra-wideband link", "an ultra-wideband link"),
            ("DECT handset", "a DECT handset"),
            ("Wi-Fi device", "a Wi-Fi device"),
            ("2.4 GHz link", "a 2.4 GHz link"),
        ] {
            assert_eq!(with_article(name), said);
        }
    }
}
