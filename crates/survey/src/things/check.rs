//! What cannot be true of a thing, whoever says it: a command, an edited text. Asked before
//! anything is written into the record.

use super::{
    Authority, Capture, Chain, Floor, FoundItem, Head, Mapping, Movement, Photograph, Premises,
    Reading, Remark, Statement, Stimulus,
};
use ledger::FileInfo;
use units::{Band, Position, Strength, Utc};

/// No clock is wrong by more than ten years (common practice, no source), seconds.
const MOST_CLOCK_S: f64 = 10.0 * 365.25 * 86400.0;
/// No level, gain or calibration lies beyond this (common practice, no source), dB.
const MOST_DB: f64 = 300.0;
/// Radio waves end at 3000 GHz (ITU Radio Regulations, No. 1.5).
const MOST_HZ: f64 = 3e12;

/// The Epoch (POSIX.1): no clock of a machine that records counts from before it.
const EARLIEST: Utc = Utc(0);
/// No survey is made after this; a later time is a slip (common practice, no source): 2100-01-01.
const LATEST: Utc = Utc(4_102_444_800_000_000_000);

/// What is wrong, and what to do about it: a whole sentence.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Flaw {
    pub(crate) what: String,
    pub(crate) remedy: &'static str,
}

type Checked = Result<(), Flaw>;

fn wrong(what: impl Into<String>, remedy: &'static str) -> Checked {
    Err(Flaw { what: what.into(), remedy })
}

fn named(what: &str, name: &str) -> Checked {
    if name.trim().is_empty() {
        return wrong(format!("{what} needs a name"), "Give it one in words.");
    }
    if name.chars().any(char::is_control) {
        let remedy = "Write it on one line, in letters that can be printed.";
        return wrong(format!("the name of {what} holds control characters"), remedy);
    }
    Ok(())
}

fn typed(times: &[Option<Utc>]) -> Checked {
    match times.iter().flatten().find(|at| !(EARLIEST..=LATEST).contains(*at)) {
        Some(at) => wrong(format!("{at} is no time of a survey"), "Check the year."),
        None => Ok(()),
    }
}

fn span(from: Option<Utc>, until: Option<Utc>, what: &str) -> Checked {
    typed(&[from, until])?;
    match (from, until) {
        (Some(from), Some(until)) if until < from => wrong(
            format!("{what} would end ({until}) before it began ({from})"),
            "Correct one of the two times.",
        ),
        _ => Ok(()),
    }
}

fn band(band: Option<&Band>) -> Checked {
    match band {
        Some(Band { low_hz, high_hz })
            if low_hz == high_hz && !(0.0..=MOST_HZ).contains(low_hz) =>
        {
            wrong(format!("{low_hz:e} Hz is no frequency"), "Give one between 0 and 3000 GHz.")
        }
        Some(Band { low_hz, high_hz })
            if !(0.0..=MOST_HZ).contains(low_hz) || !(*low_hz..=MOST_HZ).contains(high_hz) =>
        {
            wrong(
                format!("{low_hz:e} Hz to {high_hz:e} Hz is no band"),
                "Give the lower edge first, both between 0 and 3000 GHz.",
            )
        }
        _ => Ok(()),
    }
}

fn within(what: &str, value: Option<f64>, least: f64, most: f64, unit: &str) -> Checked {
    match value {
        Some(value) if !(least..=most).contains(&value) => {
            wrong(format!("{what} of {value:e} {unit} cannot be"), "Check the number and its unit.")
        }
        _ => Ok(()),
    }
}

pub(super) fn head(head: &Head) -> Checked {
    named("the survey", &head.name)
}

pub(super) fn authority(authority: &Authority) -> Checked {
    span(authority.from, authority.to, "the authority")
}

pub(super) fn statement(statement: &Statement) -> Checked {
    let mut seen: Vec<&str> = Vec::new();
    for opinion in &statement.opinions {
        let of = opinion.of.trim();
        if of.is_empty() {
            return wrong("an opinion is of nothing", "Name its row or found item: of = \"E7\".");
        }
        if seen.contains(&of) {
            return wrong(format!("{of} has two opinions"), "Write them as one.");
        }
        seen.push(of);
    }
    Ok(())
}

pub(super) fn premises(premises: &Premises) -> Checked {
    match &premises.outer_wall {
        Some(wall) if almanac::Almanac::load().material(wall).next().is_none() => wrong(
            format!("outer_wall '{wall}' is no material that is known"),
            "Give an id of data/materials.csv, like brick_double, or leave it out.",
        ),
        _ => Ok(()),
    }
}

pub(super) fn floor(floor: &Floor) -> Checked {
    if floor.scale_m_per_px.is_some_and(|scale| !(1e-6..=1e3).contains(&scale)) {
        return wrong("no plan has that scale", "Click two points again and give their distance.");
    }
    floor.image.iter().try_for_each(evidence)
}

pub(super) fn found_item(item: &FoundItem) -> Checked {
    item.photographs.iter().try_for_each(evidence)
}

pub(super) fn photograph(photograph: &Photograph) -> Checked {
    let Some(file) = &photograph.file else {
        return wrong("a photograph has no file", "Bring its file in; a text cannot name one.");
    };
    if photograph.position.is_some() == photograph.room.is_some() {
        return wrong("a photograph is of a position or of a room", "Give one of the two.");
    }
    evidence(file)
}

/// An evidence file is named by its hash, which becomes a path.
fn evidence(file: &FileInfo) -> Checked {
    let hex = |b: u8| b.is_ascii_digit() || (b'a'..=b'f').contains(&b);
    if file.sha256.len() == 64 && file.sha256.bytes().all(hex) {
        return Ok(());
    }
    wrong(
        "an evidence file is not named by its SHA-256",
        "Bring its file in; leave its name as it is.",
    )
}

pub(super) fn position(position: &Position) -> Checked {
    named("a position", &position.name)?;
    if position.x_m.is_some() != position.y_m.is_some() {
        let what = format!("position '{}' has one of x_m and y_m", position.name);
        return wrong(what, "Give both, or neither for a position off the plan.");
    }
    Ok(())
}

pub(super) fn chain(chain: &Chain) -> Checked {
    named("a chain", &chain.name)?;
    if chain.scale_steps.is_some_and(|steps| !(1.0..=1e6).contains(&steps)) {
        return wrong("a strength scale has steps from 1 on", "Count the steps of the scale.");
    }
    chain.bands.iter().try_for_each(|one| band(Some(one)))?;
    within("a clock's correction", chain.clock_s, -MOST_CLOCK_S, MOST_CLOCK_S, "s")?;
    within("an uncertainty", chain.clock_u_s, 0.0, MOST_CLOCK_S, "s")?;
    within("a calibration", chain.calibration_db, -MOST_DB, MOST_DB, "dB")?;
    within("an uncertainty", chain.calibration_u_db, 0.0, MOST_DB, "dB")?;
    within("an uncertainty", chain.frequency_u_ppm, 0.0, 1e6, "ppm")?;
    within("a noise figure", chain.noise_figure_db, -MOST_DB, MOST_DB, "dB")
}

pub(super) fn known_device(device: &ledger::KnownDevice) -> Checked {
    if let Some(id) = &device.technology
        && almanac::Almanac::load().technology(id).is_none()
    {
        return wrong(
            format!("technology '{id}' is none that is known"),
            "Give an id of data/technologies.csv, like dect, or leave it out.",
        );
    }
    band(device.band.as_ref())?;
    span(device.on_from, device.on_until, "its time on")?;
    let is_sender = device.test_sender == Some(true);
    if is_sender && device.band.is_none() {
        let remedy = "Give the frequency or band that it sends in.";
        return wrong("a test sender is told from the rest by its frequency", remedy);
    }
    if !is_sender && (device.should_read_dbm.is_some() || device.should_read_steps.is_some()) {
        let remedy = "Say test_sender = true, or leave out what it should read.";
        return wrong("only a test sender should read something", remedy);
    }
    within("a level", device.should_read_dbm, -MOST_DB, MOST_DB, "dBm")?;
    within("a strength", device.should_read_steps, 0.0, 1e6, "steps")
}

pub(super) fn mapping(mapping: &Mapping) -> Checked {
    named("a mapping", &mapping.name)?;
    match mapping.columns.parse::<capture::table::Mapping>() {
        Ok(_) => Ok(()),
        Err(error) => wrong(error.to_string(), "`add --help` says how columns are named."),
    }
}

pub(super) fn movement(movement: &Movement) -> Checked {
    typed(&[Some(movement.at)])?;
    within("a clock's step", movement.clock_step_s, 0.0, 86400.0, "s")
}

pub(super) fn stimulus(stimulus: &Stimulus) -> Checked {
    words(&stimulus.what)?;
    span(Some(stimulus.from), stimulus.until, "it")
}

pub(super) fn remark(remark: &Remark) -> Checked {
    words(&remark.text)?;
    span(remark.at, remark.until, "it")
}

fn words(text: &str) -> Checked {
    if text.trim().is_empty() {
        return wrong("the note is empty", "Say what was seen or done.");
    }
    Ok(())
}

pub(super) fn reading(reading: &Reading) -> Checked {
    if reading.strength.is_none() && reading.level_dbm.is_none() && reading.bearing_deg.is_none() {
        let remedy = "Give --strength 7/12, --level -61dBm or --bearing DEG.";
        return wrong("a reading needs something that was read", remedy);
    }
    if reading.band.is_none() && reading.emission.is_none() {
        let remedy = "Give --frequency HZ or --emission ID.";
        return wrong("a reading needs what it is a reading of", remedy);
    }
    typed(&[reading.at])?;
    band(reading.band.as_ref())?;
    if let Some(Strength { value, of }) = reading.strength
        && !(0.0..=of).contains(&value)
    {
        let remedy = "Write steps read, slash, steps of the scale: 7/12.";
        return wrong(format!("a strength of {value}/{of} is beyond its scale"), remedy);
    }
    within("a level", reading.level_dbm, -MOST_DB, MOST_DB, "dBm")?;
    match reading.bearing_deg {
        Some(bearing) if !(0.0..=360.0).contains(&bearing) => {
            wrong(format!("a bearing of {bearing} is none"), "Give degrees from north, 0 to 360.")
        }
        _ => Ok(()),
    }
}

/// Whether one can have listened from then to then.
pub(crate) fn listening(from: Option<Utc>, until: Option<Utc>) -> Checked {
    span(from, until, "listening")
}

pub(super) fn capture(capture: &Capture) -> Checked {
    listening(capture.from, capture.until)?;
    capture.bands.iter().try_for_each(|one| band(Some(one)))?;
    typed(&[capture.overrides.start])?;
    within("a centre frequency", capture.overrides.centre_hz, 0.0, MOST_HZ, "Hz")?;
    within("a gain", capture.gain_db, -MOST_DB, MOST_DB, "dB")?;
    within("a clock's correction", Some(capture.clock_s), -MOST_CLOCK_S, MOST_CLOCK_S, "s")
}
