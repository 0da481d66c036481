//! Dates and times as ISO 8601 writes them, and what tables make of it.

use jiff::civil::{Date, Time};
use jiff::tz::Offset;

/// Date, time and offset of a stamp, as far as it states them.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Parts {
    pub(super) date: Option<Date>,
    pub(super) time: Option<Time>,
    pub(super) offset: Option<Offset>,
    pub(super) step_s: f64,
}

/// ISO 8601 as tables write it: date, 'T' or spaces, time, offset; or one of date and time alone.
pub(super) fn iso(text: &str) -> Option<Parts> {
    let mut parts = Parts { step_s: 86_400.0, ..Parts::default() };
    let bytes = text.as_bytes();
    let mut rest = text;
    if bytes.len() >= 10
        && matches!(bytes.get(4), Some(b'-' | b'/'))
        && bytes.get(7) == bytes.get(4)
    {
        let year = digits(text.get(..4)?)?;
        let month = digits(text.get(5..7)?)?;
        let day = digits(text.get(8..10)?)?;
        parts.date = Some(Date::new(year as i16, month as i8, day as i8).ok()?);
        rest = text.get(10..)?;
        if rest.is_empty() {
            return Some(parts);
        }
        rest = rest
            .strip_prefix(['T', 't'])
            .or_else(|| rest.strip_prefix(' ').map(str::trim_start))?;
    }
    let end = rest
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, ':' | '.' | ',')))
        .unwrap_or(rest.len());
    let (clock, offset) = rest.split_at(end);
    (parts.time, parts.step_s) = of_day(clock).map(|(t, s)| (Some(t), s))?;
    parts.offset = match offset.trim_start() {
        "" => None,
        "Z" | "z" | "UTC" => Some(Offset::UTC),
        signed => Some(offset_of(signed)?),
    };
    Some(parts)
}

/// `HH:MM`, `HH:MM:SS`, with decimals.
fn of_day(text: &str) -> Option<(Time, f64)> {
    let (clock, decimals) = match text.split_once(['.', ',']) {
        Some((clock, decimals)) => (clock, Some(decimals)),
        None => (text, None),
    };
    let mut fields = clock.split(':');
    let hour = fields.next().filter(|h| h.len() <= 2).and_then(digits)?;
    let minute = fields.next().filter(|m| m.len() == 2).and_then(digits)?;
    let second = match fields.next() {
        None => None,
        Some(s) => Some(Some(s).filter(|s| s.len() == 2).and_then(digits)?),
    };
    if fields.next().is_some() || (second.is_none() && decimals.is_some()) {
        return None;
    }
    let (mut nanosecond, mut step_s) = (0, if second.is_some() { 1.0 } else { 60.0 });
    if let Some(decimals) = decimals {
        if decimals.is_empty() || decimals.len() > 9 {
            return None;
        }
        nanosecond = digits(decimals)? * 10i32.pow(9 - decimals.len() as u32);
        step_s = 10f64.powi(-(decimals.len() as i32));
    }
    let time = Time::new(hour as i8, minute as i8, second.unwrap_or(0) as i8, nanosecond).ok()?;
    Some((time, step_s))
}

/// `+01:00`, `+0100`, `+01`.
fn offset_of(text: &str) -> Option<Offset> {
    let (sign, clock) = match text.split_at_checked(1)? {
        ("+", clock) => (1, clock),
        ("-" | "−", clock) => (-1, clock),
        _ => return None,
    };
    let plain: String = clock.chars().filter(|c| *c != ':').collect();
    let (hours, minutes) = match plain.len() {
        2 => (digits(&plain)?, 0),
        4 => (digits(plain.get(..2)?)?, digits(plain.get(2..)?)?),
        _ => return None,
    };
    (hours < 24 && minutes < 60).then_some(())?;
    Offset::from_seconds(sign * (hours * 3600 + minutes * 60)).ok()
}

fn digits(text: &str) -> Option<i32> {
    if text.is_empty() || text.len() > 9 || !text.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    text.parse().ok()
}
