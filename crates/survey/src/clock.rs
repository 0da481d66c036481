//! The machine's clock, time zones, and times as a person types them.

use crate::SurveyError;
use jiff::tz::{AmbiguousOffset, Offset};
use units::Utc;

/// The machine's clock, to the millisecond.
pub(crate) fn now() -> Utc {
    let ms = jiff::Timestamp::now().as_millisecond();
    Utc(ms.saturating_mul(1_000_000))
}

/// Whether a clock that showed one time and later another was set back. Below a second it was only
/// disciplined (common practice, no source).
pub(crate) fn runs_back(earlier: Utc, later: Utc) -> bool {
    later.seconds_since(earlier) < -1.0
}

pub(crate) fn machine_zone() -> String {
    jiff::tz::TimeZone::system().iana_name().unwrap_or("UTC").to_owned()
}

/// A time zone by its IANA name.
pub(crate) fn zone(name: &str) -> Result<(String, jiff::tz::TimeZone), SurveyError> {
    jiff::tz::TimeZone::get(name).map(|zone| (name.to_owned(), zone)).map_err(|e| {
        SurveyError::refused(
            format!("'{name}' is not a time zone ({e})"),
            "Give an IANA name like Europe/London, or UTC.",
        )
    })
}

/// Refuses a time zone that is none.
pub(crate) fn check_zone(name: &str) -> Result<(), SurveyError> {
    zone(name).map(|_| ())
}

/// A time: RFC 3339, or a date and time of day in a time zone.
///
/// # Errors
/// If it is neither, or the zone is unknown.
pub fn time_in(text: &str, time_zone: &str) -> Result<Utc, SurveyError> {
    if let Ok(at) = Utc::parse(text) {
        return Ok(at);
    }
    let refused = |why: &str| {
        SurveyError::refused(
            format!("'{text}' is not a time{why}"),
            format!(
                "Write 2026-03-01T21:30 or 2026-03-01T21:30:15 for the time in {time_zone}, or with \
                 its offset (Z, +01:00) for any other."
            ),
        )
    };
    let local: jiff::civil::DateTime = text.trim().parse().map_err(|_| refused(""))?;
    if !text.contains(':') {
        return Err(refused(" of day"));
    }
    let (_, zone) = zone(time_zone)?;
    let ambiguous = zone.to_ambiguous_timestamp(local);
    let changed = |what: &str, remedy: String| {
        SurveyError::refused(format!("{text} {what} in {time_zone}"), remedy)
    };
    let at = match ambiguous.offset() {
        AmbiguousOffset::Unambiguous { .. } => ambiguous.unambiguous().map_err(|_| refused(""))?,
        AmbiguousOffset::Gap { .. } => {
            return Err(changed(
                "did not happen: the clocks were put forward over it",
                "Look again which time it was.".into(),
            ));
        }
        AmbiguousOffset::Fold { before, after } => {
            let (first, second) = (with_offset(text, before), with_offset(text, after));
            return Err(changed(
                "happened twice: the clocks were put back",
                format!("Write {first} for the first time, {second} for the second."),
            ));
        }
    };
    i64::try_from(at.as_nanosecond()).map(Utc).map_err(|_| refused(" between 1678 and 2261"))
}

/// A local time with its offset, as RFC 3339 has it.
fn with_offset(local: &str, offset: Offset) -> String {
    let minutes = offset.seconds() / 60;
    let sign = if minutes < 0 { '-' } else { '+' };
    let minutes = minutes.abs();
    format!("{}{sign}{:02}:{:02}", local.trim(), minutes / 60, minutes % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn local_time_is_the_surveys() {
        let summer = time_in("2026-07-01T12:00", "Europe/Vienna").expect("a time");
        assert_eq!(summer.to_string(), "2026-07-01T10:00:00Z");
        assert_eq!(
            time_in("2026-07-01T12:00:00+01:00", "Europe/Vienna").expect("a time").to_string(),
            "2026-07-01T11:00:00Z"
        );
        // European summer time began on 2026-03-29 and ends on 2026-10-25 (Directive 2000/84/EC).
        for (changed, words) in [
            ("2026-03-29T02:30:00", "did not happen"),
            ("2026-10-25T02:30:00", "2026-10-25T02:30:00+02:00 for the first time"),
        ] {
            let refused = time_in(changed, "Europe/Vienna").expect_err(changed).to_string();
            assert!(refused.contains(words), "{refused}");
            assert_eq!(refused.contains("+01:00"), words.contains("+02:00"), "{refused}");
        }
        let second = time_in("2026-10-25T02:30:00+01:00", "Europe/Vienna").expect("a time");
        assert_eq!(second.to_string(), "2026-10-25T01:30:00Z");
        for wrong in ["yesterday", "2026-07-01", "21:30", "2026-13-01T12:00", ""] {
            let refused = time_in(wrong, "UTC").expect_err(wrong).to_string();
            assert!(refused.contains("2026-03-01T21:30"), "{refused}");
        }
    }
}
