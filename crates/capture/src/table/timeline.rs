//! When the rows of a table were, on one line of time: which columns say it, what a person said
//! over them, and counters that began anywhere.

use super::event_log::span;
use super::mapping::{Mapping, TimeForm};
use super::rows::Row;
use super::sheet::Sheet;
use super::stamp::{Stamp, StampReader, When};
use super::unit::CounterUnit;
use crate::{CaptureError, OpenOptions, Place};
use jiff::tz::TimeZone;
use units::{Event, Reason, Utc};

/// A fall of the time of day by more than this is midnight, less is a clock set back.
const HALF_DAY_S: f64 = 43_200.0;
/// Stamps with 0 seconds from which on the clock is taken to show minutes: the chance of as many
/// by accident is 60^-5.
const ROUND_STAMPS: usize = 5;

/// Time of the rows.
#[derive(Debug, Clone)]
pub(crate) struct Timeline {
    reader: StampReader,
    date: Option<usize>,
    time: Option<usize>,
    /// Fields that a row must have.
    pub(crate) needed: usize,
    zone_stated: bool,
    /// What a person says of the first row's time.
    said: Option<Utc>,
    /// The first stamp: a moment, or seconds.
    first: Option<When>,
    last_s: f64,
    /// Added to a counter, which may begin anew.
    added_s: f64,
    falls: u64,
    stamps: u64,
    /// The texts of the stamp above and what they meant.
    above: (Vec<u8>, Option<Moment>),
}

/// When a row was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Moment {
    /// Where a date is known.
    pub(crate) at: Option<Utc>,
    /// Seconds from the first row.
    pub(crate) from_first_s: f64,
    /// Step of the clock.
    pub(crate) step_s: f64,
    /// Counts the stamps, so that rows of one stamp are told.
    pub(crate) stamp: u64,
}

impl Timeline {
    pub(crate) fn new(
        sheet: &Sheet,
        mapping: &Mapping,
        options: &OpenOptions,
    ) -> Result<Self, CaptureError> {
        let name = options.time_zone.as_deref();
        let zone = TimeZone::get(name.unwrap_or("UTC")).map_err(|_| {
            CaptureError::refused(
                &sheet.file,
                Place::Whole,
                format!("'{}' is no time zone", name.unwrap_or("UTC")),
                "a name of the IANA time zone database, like Europe/Vienna",
                "Correct --time-zone.",
            )
        })?;
        let index = |key: &str, said: &Option<(super::Column, Option<TimeForm>)>, placed| {
            said.as_ref().map(|(column, _)| sheet.index(key, column, placed)).transpose()
        };
        let date = index("date", &mapping.date, 0)?;
        let time = index("time", &mapping.time, usize::from(date.is_some()))?;
        let form = |said: &Option<(_, Option<TimeForm>)>| said.as_ref().and_then(|s| s.1.clone());
        let mut time_form = form(&mapping.time);
        if let (None, None, Some(index)) = (&time_form, date, time) {
            time_form = counter_named(sheet.name(index)).map(TimeForm::Counter);
        }
        let decimal = sheet.layout.decimal;
        Ok(Timeline {
            reader: StampReader::new(zone, form(&mapping.date), time_form, decimal),
            needed: date.max(time).map_or(0, |index| index + 1),
            date,
            time,
            zone_stated: name.is_some(),
            said: options.start,
            first: None,
            last_s: 0.0,
            added_s: 0.0,
            falls: 0,
            stamps: 0,
            above: (Vec::new(), None),
        })
    }

    /// Whether any column says when.
    pub(crate) fn is_stated(&self) -> bool {
        self.needed > 0
    }

    /// When a row was.
    pub(crate) fn read(&mut self, sheet: &Sheet, row: &Row<'_>) -> Result<Moment, CaptureError> {
        if !self.is_stated() {
            return Ok(Moment { at: self.said, from_first_s: 0.0, step_s: 0.0, stamp: 0 });
        }
        let date = self.date.map(|i| row.get(i));
        let time = self.time.map(|i| row.get(i));
        // Most rows of traces have the stamp of the row above.
        let (text, known) = &self.above;
        let same = date.into_iter().chain(time).flatten().eq(text.iter());
        if let (true, Some(moment)) = (same, known) {
            return Ok(*moment);
        }
        let stamp = self.reader.read(date, time).map_err(|expected| {
            let index = self.time.or(self.date).unwrap_or(0);
            let remedy = "If the line is no row of the table (a title, a sum), take it out; else say how its \
                          times are written.";
            sheet.wrong(row, index, expected, remedy)
        })?;
        let moment = self.place(stamp);
        self.above.0.clear();
        self.above.0.extend(date.into_iter().chain(time).flatten());
        self.above.1 = Some(moment);
        Ok(moment)
    }

    fn place(&mut self, stamp: Stamp) -> Moment {
        let first = *self.first.get_or_insert(stamp.at);
        let (at, from_first_s) = match (stamp.at, first) {
            (When::Moment(at), When::Moment(first)) => {
                let shift_ns = self.said.map_or(0, |said| said.0.saturating_sub(first.0));
                let seconds = at.seconds_since(first);
                self.falls += u64::from(seconds < self.last_s);
                (Some(Utc(at.0.saturating_add(shift_ns))), seconds)
            }
            (When::Seconds(now, of_day), When::Seconds(first, _)) => {
                let seconds = now - first + self.added_s;
                let fall_s = self.last_s - seconds;
                let seconds = if of_day && fall_s > HALF_DAY_S {
                    self.added_s += 86_400.0;
                    seconds + 86_400.0
                } else if fall_s > 0.0 {
                    self.falls += 1;
                    self.added_s += fall_s;
                    self.last_s
                } else {
                    seconds
                };
                (self.said.map(|said| said.plus_seconds(seconds)), seconds)
            }
            // One table reads all its stamps by one form; only a date that is left out differs.
            (_, _) => (None, self.last_s),
        };
        self.last_s = from_first_s;
        self.stamps += 1;
        Moment { at, from_first_s, step_s: stamp.step_s, stamp: self.stamps }
    }

    /// Takes whole minutes as the clock's step if no stamp has seconds, though each could.
    pub(crate) fn finish_clock(&self, events: &mut [Event]) -> bool {
        let round = |e: &Event| {
            let second = e.start.until.seconds_since(e.start.from) == 1.0;
            second && e.start.from.0.rem_euclid(60_000_000_000) == 0
        };
        let minutes = events.windows(2).filter(|w| w[0].start.from != w[1].start.from).count();
        if minutes + 1 < ROUND_STAMPS || !events.iter().all(round) {
            return false;
        }
        for event in events {
            event.start = span(event.start.from, 60.0);
        }
        true
    }

    /// What is to be distrusted in the times read so far.
    pub(crate) fn warnings(&self) -> Vec<Reason> {
        let mut warnings = Vec::new();
        let met = self.reader.met;
        if met.local && !self.zone_stated {
            warnings.push(Reason::new(
                "time_zone_unstated",
                "its times have no offset and nobody states the time zone: taken as UTC (say --time-zone)",
            ));
        }
        if met.twice {
            warnings.push(Reason::new(
                "hour_twice",
                "some times lie in the hour that the clock change repeats: the first is taken, as long as \
                 rows do not go back",
            ));
        }
        if met.never {
            warnings.push(Reason::new(
                "hour_never",
                "some times lie in the hour that the clock change leaves out: its clock is taken not to \
                 have been put forward",
            ));
        }
        if let (Some(said), Some(When::Moment(first))) = (self.said, self.first)
            && said != first
        {
            warnings.push(
                Reason::new(
                    "start_overridden",
                    format!("starts {said} as given; the file states {first}"),
                )
                .with("given", said.to_string())
                .with("stated", first.to_string()),
            );
        }
        warnings
    }

    /// The warning for times that go back, in traces.
    pub(crate) fn fall_warning(&self) -> Option<Reason> {
        let counter = matches!(self.first, Some(When::Seconds(..)));
        let how = if counter { "it is taken to go on where it was" } else { "taken as they are" };
        (self.falls > 0).then(|| {
            Reason::new(
                "time_goes_back",
                format!("its times go back {} times from one row to the next: {how}", self.falls),
            )
            .with("times", self.falls as f64)
        })
    }

    /// The warning for times that no row states.
    pub(crate) fn unstated_warning(&self) -> Option<Reason> {
        (!self.is_stated()).then(|| {
            Reason::new(
                "time_unstated",
                "no column says when: how the sweeps follow in time is unknown",
            )
        })
    }
}

/// The unit of a counter that a column's name states: `time_us`, `t [ms]`.
pub(super) fn counter_named(name: &str) -> Option<CounterUnit> {
    let mut words = name.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty());
    words.next()?;
    words.find_map(CounterUnit::from_word)
}

/// The warning for a last line that a recorder did not finish.
pub(super) fn last_row_cut(line: u64) -> Reason {
    Reason::new(
        "last_row_cut",
        format!("the file ends in the middle of line {line}, which is left out: the recorder was stopped"),
    )
    .with("line", line as f64)
}
