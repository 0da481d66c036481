//! The `auxi` chunk: start, stop, centre frequency. All words little-endian.

use super::chunks::{u16_at, u32_at};
use units::Utc;

/// What it states.
#[derive(Debug, Default, PartialEq)]
pub(crate) struct Auxi {
    pub(crate) start: Option<Utc>,
    pub(crate) centre_hz: Option<f64>,
}

impl Auxi {
    /// Reads the binary layout. Anything else (some programs put XML here) gives nothing.
    pub(crate) fn parse(body: &[u8]) -> Self {
        let Some(start) = system_time(body) else { return Auxi::default() };
        let centre_hz = u32_at(body, 32).filter(|&hz| hz != 0).map(f64::from);
        Auxi { start, centre_hz }
    }

    /// The chunk's body, 68 bytes; a centre that 32 bits cannot hold is left 0, for unknown.
    pub(crate) fn to_bytes(&self, stop: Option<Utc>, rate_hz: f64) -> Vec<u8> {
        let mut body = Vec::with_capacity(68);
        for at in [self.start, stop] {
            body.extend(system_time_words(at).iter().flat_map(|word| word.to_le_bytes()));
        }
        let word =
            |hz: f64| if (0.0..4_294_967_295.5).contains(&hz) { hz.round() as u32 } else { 0 };
        body.extend(word(self.centre_hz.unwrap_or(0.0)).to_le_bytes());
        body.extend(word(rate_hz).to_le_bytes());
        body.resize(68, 0);
        body
    }
}

/// SYSTEMTIME: year, month, weekday, day, hour, minute, second, millisecond. All zero is 'not
/// stated' (`Some(None)`); words that are no time give `None`.
fn system_time(body: &[u8]) -> Option<Option<Utc>> {
    if body.len() < 36 {
        return None;
    }
    let word = |i: usize| u16_at(body, 2 * i);
    let words: Vec<u16> = (0..8).map_while(word).collect();
    if words.iter().all(|&w| w == 0) {
        return Some(None);
    }
    let [year, month, _, day, hour, minute, second, milli] = words[..] else { return None };
    let text =
        format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}.{milli:03}Z");
    (milli < 1000).then(|| Utc::parse(&text).ok()).flatten().map(Some)
}

fn system_time_words(at: Option<Utc>) -> [u16; 8] {
    let civil = at
        .and_then(|at| jiff::Timestamp::from_nanosecond(i128::from(at.0)).ok())
        .map(|at| jiff::tz::TimeZone::UTC.to_datetime(at));
    let Some(t) = civil else { return [0; 8] };
    [
        t.year() as u16,
        t.month() as u16,
        t.weekday().to_sunday_zero_offset() as u16,
        t.day() as u16,
        t.hour() as u16,
        t.minute() as u16,
        t.second() as u16,
        t.millisecond() as u16,
    ]
}
