//! Numbers and words as tables write them: either decimal sign, units beside numbers, bands.

use super::unit::{DurationUnit, FrequencyUnit};
use crate::limits::is_frequency;
use units::Band;

/// A number with `decimal` as its decimal sign, and nothing else.
pub(crate) fn number(text: &[u8], decimal: u8) -> Option<f64> {
    let text = text.trim_ascii();
    let text = match text.strip_prefix(b"+") {
        Some(rest) if rest.first().is_some_and(|b| *b != b'-' && *b != b'+') => rest,
        Some(_) => return None,
        None => text,
    };
    // What a float parser also takes ('inf', 'nan') is no number here.
    if !text.last().is_some_and(|b| b.is_ascii_digit() || *b == decimal) {
        return None;
    }
    let value = if decimal == b'.' {
        fast_float2::parse(text).ok()
    } else {
        let mut copy = [0u8; 64];
        let copy = copy.get_mut(..text.len())?;
        for (to, from) in copy.iter_mut().zip(text) {
            *to = match *from {
                b'.' => return None,
                sign if sign == decimal => b'.',
                other => other,
            };
        }
        fast_float2::parse(&*copy).ok()
    };
    value.filter(|x: &f64| x.is_finite())
}

/// Whether a field says that there is no value.
pub(crate) fn is_missing(text: &[u8]) -> bool {
    const MISSING: [&[u8]; 9] = [b"", b"-", b"--", b"---", b"nan", b"n/a", b"na", b"null", b"none"];
    let plain = text.trim_ascii();
    plain.len() <= 4 && MISSING.iter().any(|m| plain.eq_ignore_ascii_case(m))
}

/// A level, NaN where the row has none. A zero power, minus infinity in dB, is none either; a number
/// beyond what a level can hold is no level.
pub(crate) fn level_of(field: &[u8], decimal: u8) -> Option<f32> {
    match number(field, decimal) {
        Some(level) => Some(level as f32).filter(|level| level.is_finite()),
        None if is_missing(field) => Some(f32::NAN),
        None => {
            let plain = field.strip_prefix(b"-").or(field.strip_prefix(b"+")).unwrap_or(field);
            let word = |w: &str| plain.eq_ignore_ascii_case(w.as_bytes());
            (word("inf") || word("infinity") || word("nan")).then_some(f32::NAN)
        }
    }
}

/// The step that a number's last written digit stands for: 868.35 has 0.01, 433 has 1. Zeros at the
/// end of a whole number may be none that were measured: 900 has 100.
pub(crate) fn step_of(text: &[u8], decimal: u8) -> f64 {
    let text = text.trim_ascii();
    let exponent = text
        .iter()
        .position(|b| matches!(b, b'e' | b'E'))
        .and_then(|at| std::str::from_utf8(text.get(at + 1..)?).ok()?.parse::<i32>().ok())
        .unwrap_or(0);
    let digits: &[u8] = text.split(|b| matches!(b, b'e' | b'E')).next().unwrap_or(text);
    let power = match digits.iter().position(|b| *b == decimal) {
        Some(at) => -((digits.len() - at - 1) as i32),
        None => {
            let zeros = digits.iter().rev().take_while(|b| **b == b'0').count();
            if zeros == digits.iter().filter(|b| b.is_ascii_digit()).count() {
                0
            } else {
                zeros as i32
            }
        }
    };
    10f64.powi(power.saturating_add(exponent).clamp(-30, 30))
}

/// A number with a unit behind it, '868.35 MHz': the number's text and the unit's word.
pub(crate) fn number_and_unit(text: &str) -> (&str, &str) {
    let text = text.trim();
    let end = text
        .char_indices()
        .find(|(at, c)| {
            let exponent = matches!(c, 'e' | 'E')
                && text[at + 1..].starts_with(|d: char| d.is_ascii_digit() || d == '-' || d == '+');
            !(c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+') || exponent)
        })
        .map_or(text.len(), |(at, _)| at);
    (text[..end].trim(), text[end..].trim())
}

/// `1:30` in minutes and seconds (in hours and minutes where the unit is minutes), `1:02:03`.
pub(crate) fn clock_duration(
    text: &str,
    unit: Option<DurationUnit>,
    decimal: u8,
) -> Option<(f64, f64)> {
    let fields: Option<Vec<f64>> = text.split(':').map(|f| number(f.as_bytes(), decimal)).collect();
    let fields = fields.filter(|fields| fields.iter().all(|f| *f >= 0.0))?;
    match (fields.as_slice(), unit) {
        ([hours, minutes, seconds], _) => Some((hours * 3600.0 + minutes * 60.0 + seconds, 1.0)),
        ([hours, minutes], Some(DurationUnit::Min)) => {
            Some((hours * 3600.0 + minutes * 60.0, 60.0))
        }
        ([minutes, seconds], _) => Some((minutes * 60.0 + seconds, 1.0)),
        _ => None,
    }
}

/// A band in words: '868-870 MHz', '2.4 GHz (video)', '900'. Gives the band and whether a unit was
/// named; `None` where no frequency is told. A single number stands for half its last step either
/// side; without a unit it is megahertz (common practice, no source).
pub(crate) fn band_words(
    text: &str,
    unit: Option<FrequencyUnit>,
    decimal: u8,
) -> Option<(Band, bool)> {
    edges(text, unit, decimal).filter(|(band, _)| band.low_hz <= band.high_hz)
}

/// Whether words name a band with its unit, the upper edge first: '915-880 MHz'.
pub(crate) fn is_reversed(text: &str, unit: Option<FrequencyUnit>, decimal: u8) -> bool {
    edges(text, unit, decimal).is_some_and(|(band, named)| named && band.low_hz > band.high_hz)
}

/// As [`band_words`], in whatever order the edges stand.
fn edges(text: &str, unit: Option<FrequencyUnit>, decimal: u8) -> Option<(Band, bool)> {
    let text = text.trim();
    let start = text.find(|c: char| c.is_ascii_digit())?;
    // 'ISM 868', 'Band 3': only a number that stands by itself.
    if start > 0
        && !text[..start].ends_with(|c: char| c.is_whitespace() || matches!(c, '(' | '[' | ':'))
    {
        return None;
    }
    let (low, rest) = leading_number(&text[start..]);
    let (word, rest) = leading_word(rest);
    let low_unit = FrequencyUnit::from_word(word);
    if low_unit.is_none() && !word.is_empty() && !is_to(word) {
        return None;
    }
    let after = if is_to(word) { Some(rest) } else { after_dash(rest) };
    let high = after.map(leading_number).filter(|(number, _)| !number.is_empty());
    let (high_text, high_unit) = match high {
        None => (None, None),
        Some((number, rest)) => {
            let (word, _) = leading_word(rest);
            (Some(number), FrequencyUnit::from_word(word))
        }
    };
    let named = low_unit.or(high_unit).is_some() || unit.is_some();
    let last = high_unit.or(low_unit).or(unit).unwrap_or(FrequencyUnit::MHz);
    let first = low_unit.unwrap_or(last);
    let low_value = number(low.as_bytes(), decimal_in(low, decimal))?;
    let low_hz = low_value * first.hertz();
    let band = match high_text {
        Some(high) => {
            let high_hz = number(high.as_bytes(), decimal_in(high, decimal))? * last.hertz();
            Band { low_hz, high_hz }
        }
        None => {
            Band::around(low_hz, step_of(low.as_bytes(), decimal_in(low, decimal)) * first.hertz())
        }
    };
    // A bare number is a band only where detectors have bands; '3' is a channel's number.
    let told = named || (10.0..100_000.0).contains(&low_value);
    (told && band.low_hz >= 0.0 && is_frequency(band.low_hz) && is_frequency(band.high_hz))
        .then_some((band, named))
}

/// Band words are typed by makers of detectors, often with a point where the table has commas.
fn decimal_in(text: &str, decimal: u8) -> u8 {
    if text.contains('.') { b'.' } else { decimal }
}

fn leading_number(text: &str) -> (&str, &str) {
    let text = text.trim_start();
    let end =
        text.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == ',')).unwrap_or(text.len());
    let number = text[..end].trim_end_matches(['.', ',']);
    (number, &text[number.len()..])
}

fn leading_word(text: &str) -> (&str, &str) {
    let text = text.trim_start();
    let end = text.find(|c: char| !c.is_alphabetic()).unwrap_or(text.len());
    text.split_at(end)
}

fn is_to(word: &str) -> bool {
    word.eq_ignore_ascii_case("to")
}

fn after_dash(text: &str) -> Option<&str> {
    let text = text.trim_start();
    match text.strip_prefix(['-', '–', '—', '…']).or(text.strip_prefix("..")) {
        Some(rest) => Some(rest),
        None => {
            let (word, rest) = leading_word(text);
            is_to(word).then_some(rest)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_with_either_sign() {
        assert_eq!(number(b" -64,72 ", b','), Some(-64.72));
        assert_eq!(number(b"+1.5e3", b'.'), Some(1500.0));
        for text in ["1,5", "inf", "nan", "-", "", "1 2", "+-3", "0x10"] {
            assert_eq!(number(text.as_bytes(), b'.'), None, "{text}");
        }
        assert_eq!(number(b"1.5", b','), None);
    }

    #[test]
    fn levels() {
        assert_eq!(level_of(b"-64.5", b'.'), Some(-64.5));
        assert!(level_of(b"-inf", b'.').is_some_and(f32::is_nan));
        for text in ["-333e50", "1e39", "low"] {
            assert_eq!(level_of(text.as_bytes(), b'.'), None, "{text}");
        }
    }

    #[test]
    fn steps() {
        let step = |text: &str| step_of(text.as_bytes(), b'.');
        assert_eq!(
            [step("868.350"), step("433"), step("900"), step("0")],
            [0.001, 1.0, 100.0, 1.0]
        );
        assert_eq!(step("4.33e8"), 1e6);
    }

    #[test]
    fn bands() {
        let band = |text: &str| {
            band_words(text, None, b'.').map(|(b, named)| (b.low_hz, b.high_hz, named))
        };
        assert_eq!(band("868-870 MHz"), Some((868e6, 870e6, true)));
        assert_eq!(band("868–870MHz (short range)"), Some((868e6, 870e6, true)));
        assert_eq!(band("900"), Some((850e6, 950e6, false)));
        assert_eq!(band("0.8 GHz to 960 MHz"), Some((800e6, 960e6, true)));
        assert_eq!(band("video 2.4 GHz"), Some((2.35e9, 2.45e9, true)));
        assert_eq!(band("433.92 MHz"), Some((433.915e6, 433.925e6, true)));
        assert!(is_reversed("915-880 MHz", None, b'.') && !is_reversed("12-3", None, b'.'));
        for text in ["GSM up", "W4", "3", "4 bars", "", "870-868 MHz", "2G"] {
            assert_eq!(band(text), None, "{text}");
        }
    }
}
