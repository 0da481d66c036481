//! Stamps: how a table says when. A stamp gives a moment and the step of its clock.

use super::iso::{Parts, iso};
use super::mapping::TimeForm;
use super::words::number;
use jiff::civil::DateTime;
use jiff::fmt::strtime;
use jiff::tz::{AmbiguousOffset, TimeZone};
use units::Utc;

/// A stamp, read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stamp {
    /// When.
    pub(crate) at: When,
    /// Step of the clock that wrote it, seconds.
    pub(crate) step_s: f64,
}

/// What a stamp tells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum When {
    /// A moment.
    Moment(Utc),
    /// Seconds of a counter, or of the day where no date is stated (`true`).
    Seconds(f64, bool),
}

/// What was met while reading stamps, for warnings.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Met {
    /// Stamps without an offset.
    pub(crate) local: bool,
    /// Stamps in an hour that a clock change repeats.
    pub(crate) twice: bool,
    /// Stamps in an hour that a clock change leaves out.
    pub(crate) never: bool,
}

/// How the stamps of a table are read.
#[derive(Debug, Clone)]
pub(crate) struct StampReader {
    pub(crate) zone: TimeZone,
    pub(crate) date: Option<TimeForm>,
    pub(crate) time: Option<TimeForm>,
    pub(crate) decimal: u8,
    pub(crate) met: Met,
    /// The latest moment, to tell the two passes through a repeated hour apart.
    last: Option<Utc>,
}

impl StampReader {
    pub(crate) fn new(
        zone: TimeZone,
        date: Option<TimeForm>,
        time: Option<TimeForm>,
        decimal: u8,
    ) -> Self {
        StampReader { zone, date, time, decimal, met: Met::default(), last: None }
    }

    /// Reads a row's stamp from its date column (if there is one) and its time column. The error
    /// says what was expected.
    pub(crate) fn read(
        &mut self,
        date: Option<&[u8]>,
        time: Option<&[u8]>,
    ) -> Result<Stamp, String> {
        if let (None, Some(text)) = (date, time) {
            match &self.time {
                Some(TimeForm::Counter(unit)) => {
                    let value = number(text, self.decimal).ok_or("a number of the counter")?;
                    let at = When::Seconds(value * unit.seconds(), false);
                    return Ok(Stamp { at, step_s: unit.seconds() });
                }
                Some(TimeForm::Pattern(pattern)) if pattern.starts_with("%s") => {
                    return unix(text).ok_or("seconds since 1970".to_owned());
                }
                _ => {}
            }
        }
        let mut parts = Parts::default();
        for (text, form) in [(date, &self.date), (time, &self.time)] {
            let Some(text) = text else { continue };
            let text = std::str::from_utf8(text).map_err(|_| "text of a time")?.trim();
            let read = match form {
                Some(TimeForm::Pattern(pattern)) => by_pattern(pattern, text)?,
                Some(TimeForm::Counter(_)) => {
                    return Err("a time of day, where the date has a column of its own".into());
                }
                None => iso(text).ok_or(ISO)?,
            };
            parts.date = read.date.or(parts.date);
            parts.time = read.time.or(parts.time);
            parts.offset = read.offset.or(parts.offset);
            parts.step_s =
                if parts.step_s == 0.0 { read.step_s } else { parts.step_s.min(read.step_s) };
        }
        self.moment(parts)
    }

    fn moment(&mut self, parts: Parts) -> Result<Stamp, String> {
        let step_s = parts.step_s;
        let Some(date) = parts.date else {
            let time = parts.time.ok_or(ISO)?;
            let seconds = f64::from(time.hour()) * 3600.0
                + f64::from(time.minute()) * 60.0
                + f64::from(time.second())
                + f64::from(time.subsec_nanosecond()) / 1e9;
            return Ok(Stamp { at: When::Seconds(seconds, true), step_s });
        };
        let local = DateTime::from_parts(date, parts.time.unwrap_or_default());
        let at = match parts.offset {
            Some(offset) => offset.to_timestamp(local).map_err(|e| e.to_string())?,
            None => self.resolve(local)?,
        };
        let at = i64::try_from(at.as_nanosecond()).map_err(|_| "a year from 1678 to 2261")?;
        self.last = Some(Utc(at));
        Ok(Stamp { at: When::Moment(Utc(at)), step_s })
    }

    /// A clock's reading in the zone. Of an hour that comes twice the first is taken, unless that
    /// would be before the row above; one that never comes was read off a clock not yet put forward.
    fn resolve(&mut self, local: DateTime) -> Result<jiff::Timestamp, String> {
        self.met.local = true;
        let ambiguous = self.zone.to_ambiguous_timestamp(local);
        let offset = match ambiguous.offset() {
            AmbiguousOffset::Unambiguous { offset } => offset,
            AmbiguousOffset::Gap { before, .. } => {
                self.met.never = true;
                before
            }
            AmbiguousOffset::Fold { before, after } => {
                self.met.twice = true;
                let first = before.to_timestamp(local).map_err(|e| e.to_string())?;
                let passed =
                    self.last.is_some_and(|last| first.as_nanosecond() < i128::from(last.0));
                if passed { after } else { before }
            }
        };
        offset.to_timestamp(local).map_err(|e| e.to_string())
    }
}

const ISO: &str = "a time like 2026-03-01 21:30 or 2026-03-01T21:30:05.25Z (for any other form say its \
                   STRFTIME: time=COLUMN:%d.%m.%Y %H:%M)";

/// Seconds since 1970, with or without decimals.
fn unix(text: &[u8]) -> Option<Stamp> {
    let text = std::str::from_utf8(text).ok()?.trim();
    let (whole, decimals) = text.split_once(['.', ',']).unwrap_or((text, ""));
    if decimals.len() > 18 || !decimals.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let seconds: i64 = whole.parse().ok()?;
    let mut fraction = 0i64;
    for at in 0..9 {
        let digit = decimals.as_bytes().get(at).map_or(0, |b| i64::from(b - b'0'));
        fraction = fraction * 10 + digit;
    }
    let signed = if whole.starts_with('-') { -fraction } else { fraction };
    let at = Utc(seconds.checked_mul(1_000_000_000)?.checked_add(signed)?);
    Some(Stamp { at: When::Moment(at), step_s: 10f64.powi(-(decimals.len() as i32)) })
}

/// By a `strftime` pattern.
fn by_pattern(pattern: &str, text: &str) -> Result<Parts, String> {
    let expected = || format!("a time written as {pattern}");
    let read = strtime::parse(pattern, text).map_err(|e| format!("{} ({e})", expected()))?;
    let date = match read.to_date() {
        Ok(date) => Some(date),
        Err(e) if has(pattern, "YyFDxcG") => {
            return Err(format!("{} ({e})", expected()));
        }
        Err(_) => None,
    };
    let time = match read.hour() {
        Some(_) => Some(read.to_time().map_err(|e| format!("{} ({e})", expected()))?),
        None => None,
    };
    if date.is_none() && time.is_none() {
        return Err(format!("a pattern that tells a time or a date, which {pattern} does not"));
    }
    Ok(Parts { date, time, offset: read.offset(), step_s: step_of(pattern, text) })
}

/// The step of a clock by what its pattern shows.
fn step_of(pattern: &str, text: &str) -> f64 {
    if has(pattern, "fN") {
        let seconds = text.rsplit(':').next().unwrap_or("");
        let decimals = seconds.split_once(['.', ',']).map_or("", |parts| parts.1);
        let digits = decimals.bytes().take_while(u8::is_ascii_digit).count();
        return 10f64.powi(-(digits.min(9) as i32));
    }
    match () {
        () if has(pattern, "STXcrs") => 1.0,
        () if has(pattern, "MR") => 60.0,
        () if has(pattern, "HIkl") => 3600.0,
        () => 86_400.0,
    }
}

/// Whether a pattern has one of these directives, whatever its flags and width.
fn has(pattern: &str, directives: &str) -> bool {
    let mut parts = pattern.split('%').skip(1);
    parts.any(|part| {
        let letter = part.trim_start_matches(|c: char| !c.is_ascii_alphabetic());
        letter.chars().next().is_some_and(|c| directives.contains(c))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reader(zone: &str, date: Option<&str>, time: Option<&str>) -> StampReader {
        let form = |p: Option<&str>| p.map(|p| TimeForm::Pattern(p.to_owned()));
        StampReader::new(TimeZone::get(zone).expect("a zone"), form(date), form(time), b'.')
    }

    fn read(reader: &mut StampReader, date: Option<&str>, time: &str) -> (String, f64) {
        let stamp = reader.read(date.map(str::as_bytes), Some(time.as_bytes())).expect("a stamp");
        match stamp.at {
            When::Moment(at) => (at.to_string(), stamp.step_s),
            When::Seconds(s, _) => (format!("{s} s"), stamp.step_s),
        }
    }

    #[test]
    fn iso_stamps_and_their_steps() {
        let mut r = reader("Europe/Vienna", None, None);
        // Vienna is at +01:00 on 1 March (tz database).
        for (text, at, step) in [
            ("2026-03-01 21:30", "2026-03-01T20:30:00Z", 60.0),
            ("2026-03-01T21:30:05", "2026-03-01T20:30:05Z", 1.0),
            ("2026/03/01  21:30:05,25", "2026-03-01T20:30:05.25Z", 0.01),
            ("2026-03-01T21:30Z", "2026-03-01T21:30:00Z", 60.0),
            ("2026-03-01T21:30:00.5-0330", "2026-03-02T01:00:00.5Z", 0.1),
            ("2026-03-01", "2026-02-28T23:00:00Z", 86_400.0),
            ("9:30:00", "34200 s", 1.0),
        ] {
            assert_eq!(read(&mut r, None, text), (at.to_owned(), step), "{text}");
        }
        for text in ["", "21", "2026-13-01 21:30", "01.03.2026 21:30", "2026-03-01 25:00", "21:3"] {
            assert!(r.read(None, Some(text.as_bytes())).is_err(), "{text}");
        }
    }

    #[test]
    fn patterns_and_columns_of_their_own() {
        let mut r = reader("UTC", None, Some("%d.%m.%Y %H:%M"));
        assert_eq!(read(&mut r, None, "1.3.2026 9:05"), ("2026-03-01T09:05:00Z".to_owned(), 60.0));
        let mut r = reader("UTC", Some("%d/%m/%y"), Some("%I:%M:%S %p"));
        assert_eq!(read(&mut r, Some("01/03/26"), "09:05:07 PM").0, "2026-03-01T21:05:07Z");
        let mut r = reader("UTC", None, Some("%s"));
        assert_eq!(
            read(&mut r, None, "1388354774.954"),
            ("2013-12-29T22:06:14.954Z".to_owned(), 1e-3)
        );
        let mut r = reader("UTC", None, Some("%Y%m%dT%H%M%S%.f"));
        assert_eq!(
            read(&mut r, None, "20260301T210507.125"),
            ("2026-03-01T21:05:07.125Z".to_owned(), 1e-3)
        );
        let mut r = reader("UTC", None, Some("%d.%m.%Y %H:%M"));
        assert!(r.read(None, Some(b"31.02.2026 10:00")).is_err());
    }

    #[test]
    fn an_hour_that_comes_twice_goes_on_from_the_row_above() {
        // Vienna put clocks back on 25 October 2026 at 03:00 (01:00 UTC; tz database).
        let mut r = reader("Europe/Vienna", None, None);
        assert_eq!(read(&mut r, None, "2026-10-25 02:50").0, "2026-10-25T00:50:00Z");
        assert_eq!(read(&mut r, None, "2026-10-25 02:10").0, "2026-10-25T01:10:00Z");
        assert!(r.met.twice && r.met.local && !r.met.never);
        // And forward on 29 March 2026 at 02:00.
        assert_eq!(read(&mut r, None, "2026-03-29 02:30").0, "2026-03-29T01:30:00Z");
        assert!(r.met.never);
    }
}
