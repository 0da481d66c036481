//! Numbers and closed lists as clients read them, with units.

use almanac::Almanac;
use ledger::{
    BandwidthIs, CaptureKind, Emission, Ground, LedgerRow, Reception, Role, Shape, State,
};
use units::Zone;

pub(crate) use survey::words::{counted, frequency, ids, length, listed, sentence};

/// A difference of frequencies, or a width, to three digits.
pub(crate) fn width(hz: f64) -> String {
    let (scaled, unit) = match hz.abs() {
        size if size >= 1e9 => (hz / 1e9, "GHz"),
        size if size >= 1e6 => (hz / 1e6, "MHz"),
        size if size >= 1e3 => (hz / 1e3, "kHz"),
        _ => (hz, "Hz"),
    };
    format!("{}\u{a0}{unit}", digits(scaled))
}

/// Three digits that count.
fn digits(x: f64) -> String {
    match x.abs() {
        size if size >= 100.0 => format!("{x:.0}"),
        size if size >= 10.0 => format!("{x:.1}"),
        _ => format!("{x:.2}"),
    }
}

/// A band, `430 – 440 MHz`.
pub(crate) fn band(low_hz: f64, high_hz: f64) -> String {
    let (scale, unit) = match high_hz.abs() {
        size if size >= 1e9 => (1e9, "GHz"),
        size if size >= 1e6 => (1e6, "MHz"),
        _ => (1e3, "kHz"),
    };
    let number = |hz: f64| {
        let text = format!("{:.4}", hz / scale);
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    format!("{}–{}\u{a0}{unit}", number(low_hz), number(high_hz))
}

/// At most so many letters of a text; that it goes on is shown.
pub(crate) fn clipped(text: &str, letters: usize) -> String {
    match text.char_indices().nth(letters) {
        Some((end, _)) => format!("{}…", text[..end].trim_end()),
        None => text.to_owned(),
    }
}

/// Where in frequency a row is: a log's own word for a band that names no frequency.
pub(crate) fn place_of(row: &LedgerRow) -> String {
    let emission = &row.emission;
    match &row.label {
        Some(label) => label.clone(),
        None if emission.high_hz <= 0.0 => "frequency not known".to_owned(),
        None if matches!(emission.shape, Shape::Hopping) => band(emission.low_hz, emission.high_hz),
        None => frequency(emission.centre_hz),
    }
}

/// Its width.
pub(crate) fn width_of(emission: &Emission) -> String {
    match (emission.bandwidth_hz, emission.bandwidth_is) {
        (None, _) => "not known".to_owned(),
        (Some(hz), BandwidthIs::UpperBound) => format!("under {}", width(hz)),
        (Some(hz), BandwidthIs::Measured) => width(hz),
    }
}

/// The name for people of a technology of the tables; `None` where it could not be told.
pub(crate) fn technology_of(emission: &Emission) -> Option<String> {
    let label = &emission.technology.as_ref()?.label;
    (label != "unknown").then(|| {
        Almanac::load().technology(label).map_or_else(|| label.clone(), |t| t.name.clone())
    })
}

/// The name for people of a modulation of the closed list.
pub(crate) fn modulation(label: &str) -> &str {
    match label {
        "cw" => "unmodulated carrier",
        "am" => "AM",
        "dsb" => "double sideband",
        "ssb" => "single sideband",
        "nfm" => "narrow FM",
        "wfm" => "wide FM",
        "fm_subcarrier" => "FM with a subcarrier",
        "ook" => "on-off keying",
        "ask" => "amplitude keying",
        "fsk2" => "2-level FSK",
        "gfsk" => "Gaussian FSK",
        "fsk4" => "4-level FSK",
        "bpsk" => "BPSK",
        "qpsk" => "QPSK",
        "oqpsk" => "offset QPSK",
        "pi4dqpsk" => "π/4-DQPSK",
        "psk8" => "8-PSK",
        "qam16" => "16-QAM",
        "qam64" => "64-QAM",
        "ofdm" => "OFDM",
        "dsss" => "direct sequence",
        "chirp" => "chirp",
        "video_am" => "analogue picture, AM",
        "video_fm" => "analogue picture, FM",
        "noise" => "noise",
        "unknown" => "not told",
        other => other,
    }
}

/// What it is and how it comes and goes.
pub(crate) fn known(emission: &Emission) -> String {
    let modulated = emission.modulation.as_ref().filter(|m| m.label != "unknown");
    let name = technology_of(emission).or(modulated.map(|m| modulation(&m.label).to_owned()));
    let timing = timing(emission);
    match name {
        Some(name) => format!("{name}; {timing}"),
        None => timing,
    }
}

/// How it comes and goes.
pub(crate) fn timing(emission: &Emission) -> String {
    let bursts = &emission.bursts;
    match emission.shape {
        Shape::Continuous if bursts.median_s.is_none() => "times not known".to_owned(),
        Shape::Continuous if bursts.median_s == Some(0.0) => "seen once".to_owned(),
        Shape::Continuous => "steady while it was received".to_owned(),
        Shape::Bursts => match (bursts.count, bursts.period_s) {
            (_, Some(period)) => format!("a burst every {}", length(period)),
            (count, None) => counted(count, "burst", "bursts"),
        },
        Shape::Hopping => "hopping".to_owned(),
        Shape::Sweeping => "sweeping".to_owned(),
    }
}

/// Level or strength of a reception, with its unit.
pub(crate) fn level(reception: &Reception) -> Option<String> {
    match (reception.level_dbm, reception.level_dbfs, reception.strength) {
        (Some(level), _, _) => Some(signed(level.0, "dBm")),
        (_, Some(level), _) => Some(signed(level.0, "dBFS")),
        (_, _, Some(strength)) => Some(format!("{} of {}", strength.value, strength.of)),
        _ => None,
    }
}

/// A level with a true minus sign.
pub(crate) fn signed(value: f64, unit: &str) -> String {
    let rounded = value.round();
    let sign = if rounded < 0.0 { "−" } else { "" };
    format!("{sign}{:.0}\u{a0}{unit}", rounded.abs())
}

/// A number of decibels with a true minus sign, to a tenth where it is small.
pub(crate) fn decibels(value: f64) -> String {
    let sign = if value <= -0.05 { "−" } else { "" };
    let size = value.abs();
    if size < 10.0 { format!("{sign}{size:.1}") } else { format!("{sign}{size:.0}") }
}

/// A state, as it is printed.
pub(crate) fn state(state: State) -> &'static str {
    match state {
        State::Open => "open",
        State::Accounted => "accounted for",
        State::Suspect => "suspect",
        State::Located => "located",
        State::HandedOver => "handed over",
        State::Unresolved => "not resolved",
    }
}

/// A ground, as it is printed.
pub(crate) fn ground(ground: Ground) -> &'static str {
    match ground {
        Ground::Seen => "the transmitter was seen",
        Ground::SwitchedOff => "it was switched off, and the emission stopped",
        Ground::StrongerOutside => "stronger outside than inside",
        Ground::Decoded => "its public framing was decoded",
        Ground::OwnKit => "the technician's own equipment",
        Ground::ReceiverOwn => "made by the receiver itself",
        Ground::Inferred => "inferred",
    }
}

/// Why something was recorded.
pub(crate) fn role(role: Role) -> &'static str {
    match role {
        Role::Reference => "reference",
        Role::Room => "room",
        Role::Walk => "walk",
        Role::Check => "check with a known sender",
        Role::NoAntenna => "no antenna",
    }
}

/// What was recorded.
pub(crate) fn kind(kind: CaptureKind) -> &'static str {
    match kind {
        CaptureKind::Iq => "samples",
        CaptureKind::Traces => "swept spectra",
        CaptureKind::Frames => "frames",
        CaptureKind::EventLog => "event log",
        CaptureKind::Readings => "readings",
        CaptureKind::Sound => "sound",
    }
}

/// What a position is to the premises.
pub(crate) fn zone(zone: Zone) -> &'static str {
    match zone {
        Zone::Inside => "inside",
        Zone::Adjacent => "adjacent",
        Zone::Outside => "outside",
        Zone::Moving => "in a vehicle",
    }
}

/// Words of likelihood with the probabilities that they stand for, from below. A scale of our own in
/// five steps: common practice in expert reports, no source.
pub(crate) const LIKELIHOOD: [(&str, f64, f64); 5] = [
    ("very unlikely", 0.0, 0.05),
    ("unlikely", 0.05, 0.33),
    ("as likely as not", 0.33, 0.67),
    ("likely", 0.67, 0.95),
    ("very likely", 0.95, 1.0),
];

/// The word for a probability.
pub(crate) fn likelihood(p: f64) -> &'static str {
    LIKELIHOOD.iter().find(|(_, _, high)| p < *high).map_or("very likely", |(word, _, _)| word)
}

/// The scale of likelihood in a sentence.
pub(crate) fn scale() -> String {
    let steps: Vec<String> = LIKELIHOOD
        .iter()
        .map(|(word, low, high)| match (*low, *high) {
            (0.0, high) => format!("‘{word}’ is under {:.0} %", high * 100.0),
            (low, 1.0) => format!("‘{word}’ is {:.0} % or more", low * 100.0),
            (low, high) => format!("‘{word}’ is {:.0} to {:.0} %", low * 100.0, high * 100.0),
        })
        .collect();
    sentence(&format!("Words of likelihood are used in this sense only: {}", listed(&steps)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_probability_has_one_word_and_the_scale_has_no_gap() {
        for pair in LIKELIHOOD.windows(2) {
            assert_eq!(pair[0].2.to_bits(), pair[1].1.to_bits());
        }
        assert_eq!(likelihood(0.0), "very unlikely");
        assert_eq!(likelihood(0.5), "as likely as not");
        assert_eq!(likelihood(0.95), "very likely");
        assert_eq!(likelihood(1.0), "very likely");
    }

    #[test]
    fn numbers_carry_their_units() {
        assert_eq!(width(12_500.0), "12.5\u{a0}kHz");
        assert_eq!(band(863e6, 870e6), "863–870\u{a0}MHz");
        assert_eq!(signed(-61.4, "dBm"), "−61\u{a0}dBm");
    }
}
