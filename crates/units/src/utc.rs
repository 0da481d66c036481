//! A moment: nanoseconds since 1970-01-01T00:00:00Z, written as RFC 3339. Reads no clock.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

/// A moment in Coordinated Universal Time, nanoseconds since the Unix epoch (years 1678 to 2261).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Utc(pub i64);

/// A text that is not an RFC 3339 time with an offset, or one out of range.
#[derive(Debug, Clone, thiserror::Error)]
#[error("'{text}' is not a time like 2026-03-01T21:30:00Z: {why}")]
pub struct UtcError {
    /// What was given.
    pub text: String,
    /// What the parser said.
    pub why: String,
}

impl Utc {
    /// From an RFC 3339 text with an offset or Z.
    pub fn parse(text: &str) -> Result<Utc, UtcError> {
        let fail = |why: String| UtcError { text: text.to_owned(), why };
        let at: jiff::Timestamp =
            text.trim().parse().map_err(|e: jiff::Error| fail(e.to_string()))?;
        i64::try_from(at.as_nanosecond()).map(Utc).map_err(|_| fail("outside 1678 to 2261".into()))
    }
    /// Later by `seconds` (earlier if negative); saturates at the ends of the range.
    pub fn plus_seconds(self, seconds: f64) -> Utc {
        Utc(self.0.saturating_add((seconds * 1e9).round() as i64))
    }
    /// Seconds from `earlier` to this.
    pub fn seconds_since(self, earlier: Utc) -> f64 {
        (i128::from(self.0) - i128::from(earlier.0)) as f64 / 1e9
    }
    /// Start of the UTC minute that holds this moment.
    pub fn floor_to_minute(self) -> Utc {
        Utc(self.0.div_euclid(60_000_000_000) * 60_000_000_000)
    }
}

impl fmt::Display for Utc {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match jiff::Timestamp::from_nanosecond(i128::from(self.0)) {
            Ok(at) => write!(f, "{at}"),
            Err(_) => write!(f, "{} ns", self.0),
        }
    }
}

impl Serialize for Utc {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Utc {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        Utc::parse(&text).map_err(serde::de::Error::custom)
    }
}

#[cfg(feature = "schema")]
impl schemars::JsonSchema for Utc {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Utc".into()
    }
    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({"type": "string", "format": "date-time"})
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_round_trips() {
        let t = Utc::parse("2026-03-01T21:30:00.25+01:00").expect("valid");
        assert_eq!(t.to_string(), "2026-03-01T20:30:00.25Z");
        assert_eq!(Utc::parse(&t.to_string()).expect("valid"), t);
        assert!(Utc::parse("2026-03-01").is_err());
    }
}
