//! How the stamps of a column are written, told by trying the forms that tables use.

use super::mapping::TimeForm;
use super::stamp::{StampReader, When};
use super::words::{is_missing, number};
use jiff::tz::TimeZone;

/// What the stamps of a column are.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Told {
    /// How they are written; `None` where they say it themselves (ISO 8601).
    pub(super) form: Option<TimeForm>,
    /// Whether they tell a date and a time of day.
    pub(super) has_date: bool,
    pub(super) has_time: bool,
    /// Whether day and month could as well be the other way round.
    pub(super) either_order: bool,
}

const DATES: [&str; 16] = [
    "%d.%m.%Y",
    "%d.%m.%y",
    "%d/%m/%Y",
    "%m/%d/%Y",
    "%d/%m/%y",
    "%m/%d/%y",
    "%d-%m-%Y",
    "%m-%d-%Y",
    "%Y.%m.%d",
    "%d %b %Y",
    "%d %B %Y",
    "%b %d %Y",
    "%b %d, %Y",
    "%d-%b-%Y",
    "%d-%b-%y",
    "%Y%m%d",
];
const TIMES: [&str; 7] =
    ["%H:%M:%S", "%H:%M", "%H:%M:%S%.f", "%I:%M:%S %p", "%I:%M %p", "%H.%M.%S", "%H%M%S"];

/// The forms that all cells can be read by.
pub(super) fn told(cells: &[&str]) -> Option<Told> {
    let cells: Vec<&str> = cells.iter().copied().filter(|c| !is_missing(c.as_bytes())).collect();
    let first = *cells.first()?;
    if first.len() > 40 {
        return None;
    }
    if let Some((has_date, has_time)) = fits(None, &cells) {
        return Some(Told { form: None, has_date, has_time, either_order: false });
    }
    // Bare numbers are no stamps, whatever they could be read as.
    if number(first.as_bytes(), b'.').is_some() || number(first.as_bytes(), b',').is_some() {
        return None;
    }
    let mut found: Vec<(String, bool, bool)> = Vec::new();
    for pattern in patterns() {
        // The first cell alone rules out most.
        if fits(Some(&pattern), &[first]).is_some()
            && let Some((has_date, has_time)) = fits(Some(&pattern), &cells)
        {
            found.push((pattern, has_date, has_time));
        }
    }
    let (pattern, has_date, has_time) = found.first()?.clone();
    let either_order = found.iter().any(|(other, ..)| swapped(&pattern) == *other);
    Some(Told { form: Some(TimeForm::Pattern(pattern)), has_date, has_time, either_order })
}

fn patterns() -> impl Iterator<Item = String> {
    let both = DATES.iter().flat_map(|date| {
        let with =
            move |sep: &'static str| TIMES.iter().map(move |time| format!("{date}{sep}{time}"));
        with(" ").chain(with("T")).chain(with(", "))
    });
    let dates = DATES.iter().map(|date| (*date).to_owned());
    both.chain(dates).chain(TIMES.iter().map(|time| (*time).to_owned()))
}

/// The same with day and month exchanged.
fn swapped(pattern: &str) -> String {
    pattern.replace("%d", "%_").replace("%m", "%d").replace("%_", "%m")
}

/// Whether every cell is a stamp of this form: whether it has a date, whether a time.
fn fits(pattern: Option<&str>, cells: &[&str]) -> Option<(bool, bool)> {
    let form = pattern.map(|p| TimeForm::Pattern(p.to_owned()));
    let mut reader = StampReader::new(TimeZone::UTC, None, form, b'.');
    let mut told = None;
    for cell in cells {
        let stamp = reader.read(None, Some(cell.as_bytes())).ok()?;
        let this = match stamp.at {
            When::Moment(_) => (true, stamp.step_s < 86_400.0),
            When::Seconds(..) => (false, true),
        };
        if *told.get_or_insert(this) != this {
            return None;
        }
    }
    told
}

#[cfg(test)]
mod tests {
    use super::*;

    fn form(cells: &[&str]) -> (String, bool) {
        let told = told(cells).expect("told");
        let form = match told.form {
            Some(TimeForm::Pattern(pattern)) => pattern,
            _ => "iso".to_owned(),
        };
        (form, told.either_order)
    }

    #[test]
    fn stamps_tell_their_form() {
        assert_eq!(form(&["2026-03-01 21:30"]), ("iso".to_owned(), false));
        assert_eq!(form(&["01.03.2026 21:30"]), ("%d.%m.%Y %H:%M".to_owned(), false));
        assert_eq!(
            form(&["01/03/2026 21:30", "02/03/2026 04:00"]),
            ("%d/%m/%Y %H:%M".to_owned(), true)
        );
        assert_eq!(
            form(&["01/03/2026 21:30", "01/13/2026 04:00"]),
            ("%m/%d/%Y %H:%M".to_owned(), false)
        );
        assert_eq!(form(&["3/14/26 9:05:07 PM"]), ("%m/%d/%y %I:%M:%S %p".to_owned(), false));
        assert_eq!(form(&["14 Mar 2026 21:05:07.25"]), ("%d %b %Y %H:%M:%S%.f".to_owned(), false));
        assert_eq!(told(&["868.35", "433.92"]), None);
        assert_eq!(told(&["one", "two"]), None);
        assert_eq!(told(&["2026-03-01 21:30", "Sum"]), None);
    }
}
