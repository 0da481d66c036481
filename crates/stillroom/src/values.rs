//! Values that are typed: hertz, bands, decibels, levels, strengths.

use units::{Band, Strength};

/// HZ: an integer, decimal or exponent, or with Hz, kHz, MHz, GHz (`433.92MHz`, `4.3392e8`).
///
/// # Errors
/// In words, if it is not one, or not finite.
pub fn hertz(text: &str) -> Result<f64, String> {
    let text = text.trim();
    let lower = text.to_ascii_lowercase();
    let (number, factor) = [("ghz", 1e9), ("mhz", 1e6), ("khz", 1e3), ("hz", 1.0)]
        .iter()
        .find_map(|(unit, factor)| lower.strip_suffix(unit).map(|n| (n.trim_end(), *factor)))
        .unwrap_or((lower.as_str(), 1.0));
    match number.parse::<f64>() {
        Ok(x) if x.is_finite() => Ok(x * factor),
        _ => Err(format!("'{text}' is not a frequency: write 433920000, 4.3392e8 or 433.92MHz")),
    }
}

/// A frequency that must be above zero (a rate).
///
/// # Errors
/// As [`hertz`], or if it is not above zero.
pub fn rate(text: &str) -> Result<f64, String> {
    hertz(text).and_then(
        |hz| {
            if hz > 0.0 { Ok(hz) } else { Err(format!("'{text}' is not above zero")) }
        },
    )
}

/// LOW-HIGH with a unit; the first may leave its unit to the second (`890-915MHz`). Without a unit
/// it is refused: `880-915` would be hertz here, and is megahertz on a detector.
///
/// # Errors
/// In words.
pub fn band(text: &str) -> Result<Band, String> {
    let wrong = || format!("'{text}' is not a band: write LOW-HIGH, as in 433.05MHz-434.79MHz");
    // A minus after an exponent's e belongs to the number.
    let cut = text
        .char_indices()
        .skip(1)
        .find(|(i, c)| *c == '-' && !text[..*i].ends_with(['e', 'E']))
        .ok_or_else(wrong)?
        .0;
    let (low, high) = (text[..cut].trim(), text[cut + 1..].trim());
    let unit: String = {
        let digits = high.trim_end_matches(|c: char| c.is_ascii_alphabetic());
        high[digits.len()..].to_owned()
    };
    let low = if low.ends_with(|c: char| c.is_ascii_alphabetic()) {
        low.to_owned()
    } else {
        format!("{low}{unit}")
    };
    let (low_hz, high_hz) = (hertz(&low)?, hertz(high)?);
    if unit.is_empty() {
        return Err(format!("'{text}' has no unit: write {text}MHz (or Hz, kHz, GHz)"));
    }
    if low_hz < high_hz { Ok(Band { low_hz, high_hz }) } else { Err(wrong()) }
}

/// A finite number (decibels, seconds, degrees).
///
/// # Errors
/// In words.
pub fn finite(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(x) if x.is_finite() => Ok(x),
        _ => Err(format!("'{text}' is not a number: write one like 12, -3.5 or +42")),
    }
}

/// A strength, `7/12`.
///
/// # Errors
/// In words.
pub fn strength(text: &str) -> Result<Strength, String> {
    let wrong = || format!("'{text}' is not a strength: write VALUE/STEPS, as in 7/12");
    let (value, of) = text.split_once('/').ok_or_else(wrong)?;
    let value: f64 = value.trim().parse().map_err(|_| wrong())?;
    let of: f64 = of.trim().parse().map_err(|_| wrong())?;
    if of > 1e6 {
        Err(format!("'{text}': no scale has so many steps; give at most 1000000"))
    } else if (0.0..=of).contains(&value) && of > 0.0 {
        Ok(Strength { value, of })
    } else {
        Err(format!("'{text}': the strength must lie between 0 and its number of steps"))
    }
}

/// A level in dBm, `-61dBm`. The unit must be said: dBm and dBFS are never mixed.
///
/// # Errors
/// In words.
pub fn level_dbm(text: &str) -> Result<f64, String> {
    let lower = text.trim().to_ascii_lowercase();
    let number = lower
        .strip_suffix("dbm")
        .ok_or_else(|| format!("'{text}' is not a level: write it with its unit, as in -61dBm"))?;
    match number.trim().parse::<f64>() {
        Ok(x) if x.is_finite() => Ok(x),
        _ => Err(format!("'{text}' is not a level: write a number and dBm, as in -61dBm")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hertz_takes_numbers_and_units() {
        for (text, hz) in [
            ("433920000", 433.92e6),
            ("4.3392e8", 433.92e6),
            ("433.92MHz", 433.92e6),
            ("433.92 mhz", 433.92e6),
            ("2.4GHz", 2.4e9),
            ("-3kHz", -3e3),
            ("12 Hz", 12.0),
        ] {
            let read = hertz(text).expect(text);
            assert!((read - hz).abs() < 1e-3, "{text}: {read}");
        }
        for text in ["", "MHz", "12 volts", "inf", "nan", "1,5MHz"] {
            assert!(hertz(text).is_err(), "{text}");
        }
    }

    #[test]
    fn band_shares_the_unit_of_its_upper_edge() {
        let b = band("890-915MHz").expect("band");
        assert!((b.low_hz - 890e6).abs() < 1.0 && (b.high_hz - 915e6).abs() < 1.0);
        let b = band("1e6-2.5e6Hz").expect("band");
        assert!((b.low_hz - 1e6).abs() < 1.0 && (b.high_hz - 2.5e6).abs() < 1.0);
        let b = band("1e-3GHz-1GHz").expect("band");
        assert!((b.low_hz - 1e6).abs() < 1.0);
        for text in ["900", "915-890MHz", "a-b", "-", "880MHz-915"] {
            assert!(band(text).is_err(), "{text}");
        }
        assert!(band("880-915").expect_err("no unit").contains("880-915MHz"));
    }

    #[test]
    fn strength_and_level_need_their_scale() {
        assert_eq!(strength("7/12").expect("strength").value, 7.0);
        for text in ["7", "13/12", "-1/12", "7/0", "x/12", "1/9999999", "nan/12", "1/inf"] {
            assert!(strength(text).is_err(), "{text}");
        }
        assert_eq!(level_dbm("-61 dBm").expect("level"), -61.0);
        for text in ["-61", "-61dBFS", "dBm"] {
            assert!(level_dbm(text).is_err(), "{text}");
        }
    }
}
