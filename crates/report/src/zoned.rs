//! Moments as people of the survey read them: in its time zone.

use crate::FactsError;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use units::Utc;

/// A time zone to print moments in.
#[derive(Debug, Clone)]
pub(crate) struct Zoned {
    zone: TimeZone,
}

impl Zoned {
    /// Of an IANA name.
    pub(crate) fn of(name: &str) -> Result<Zoned, FactsError> {
        let zone = TimeZone::get(name).map_err(|_| FactsError::Zone { name: name.to_owned() })?;
        Ok(Zoned { zone })
    }

    fn text(&self, at: Utc, format: &str) -> String {
        match Timestamp::from_nanosecond(i128::from(at.0)) {
            Ok(stamp) => stamp.to_zoned_datetime(self.zone.clone()).strftime(format).to_string(),
            Err(_) => at.to_string(),
        }
    }

    /// `2026-03-05 21:04`.
    pub(crate) fn minute(&self, at: Utc) -> String {
        self.text(at, "%Y-%m-%d %H:%M")
    }

    /// `2026-03-05 21:04:09`.
    pub(crate) fn second(&self, at: Utc) -> String {
        self.text(at, "%Y-%m-%d %H:%M:%S")
    }

    /// `21:04`.
    pub(crate) fn clock(&self, at: Utc) -> String {
        self.text(at, "%H:%M")
    }

    /// `21:04:09`.
    pub(crate) fn clock_second(&self, at: Utc) -> String {
        self.text(at, "%H:%M:%S")
    }

    /// `2026-03-05`.
    pub(crate) fn date(&self, at: Utc) -> String {
        self.text(at, "%Y-%m-%d")
    }

    /// `5 March 2026, 21:04`.
    pub(crate) fn long(&self, at: Utc) -> String {
        self.text(at, "%-d %B %Y, %H:%M")
    }

    /// From then to then; the day once where it is the same.
    pub(crate) fn span(&self, from: Utc, until: Utc) -> String {
        if self.date(from) == self.date(until) {
            format!("{}–{}", self.minute(from), self.clock(until))
        } else {
            format!("{} – {}", self.minute(from), self.minute(until))
        }
    }

    /// A bound that may not be stated.
    pub(crate) fn bound(&self, at: Option<Utc>) -> String {
        at.map_or_else(|| "not stated".to_owned(), |at| self.long(at))
    }
}
