//! Correcting what was said of a capture: where, when, with what; setting it aside and restoring it.

mod field;

pub use field::Field;

use crate::add::against_rows;
use crate::parts::{has_place, nowhere};
use crate::survey::Survey;
use crate::things::{Capture, Overrides, Thing, zone_of};
use crate::{SurveyError, jobs, places, record};
use ledger::{CaptureKind, Role};
use units::{Band, Reason, Utc, Zone};

/// What is to be different. What is `None` stays as it is, unless it is to be emptied.
#[derive(Debug, Clone, Default)]
pub struct Amend {
    /// Why it was recorded.
    pub role: Option<Role>,
    /// Position, by name.
    pub at: Option<String>,
    /// What that position is to the premises, where it is new.
    pub zone: Option<Zone>,
    /// Chain, by name.
    pub chain: Option<String>,
    /// Gain ahead of the converter, dB.
    pub gain_db: Option<f64>,
    /// Setting.
    pub setting: Option<String>,
    /// How the room was.
    pub condition: Option<String>,
    /// Listening began.
    pub from: Option<Utc>,
    /// Listening ended.
    pub until: Option<Utc>,
    /// Bands listened to.
    pub bands: Option<Vec<Band>>,
    /// What is said over the file's metadata; its empty fields stay as they are.
    pub overrides: Overrides,
    /// What must be added to the recording's times, seconds.
    pub clock_s: Option<f64>,
    /// Set aside, and why.
    pub set_aside: Option<String>,
    /// Let it count again.
    pub restore: bool,
    /// What is to be said no more.
    pub empty: Vec<Field>,
    /// Only if nobody corrected it since the survey had this version.
    pub seen: Option<u64>,
}

impl Survey {
    /// Corrects a capture, as one entry of the journal. Gives what to distrust.
    ///
    /// # Errors
    /// If there is no such capture, nothing would change, or the correction cannot be true.
    pub fn amend(&self, id: &str, amend: &Amend, by: &str) -> Result<Vec<Reason>, SurveyError> {
        let id = id.to_uppercase();
        let id = id.as_str();
        let before = self.capture(id)?;
        let mut overrides = over(&before.overrides, &amend.overrides);
        amend.empty.iter().for_each(|field| field.empty_over(&mut overrides));
        let said_anew = overrides != before.overrides;
        let listening = amend.from.or(amend.until).is_some()
            || amend.bands.is_some()
            || amend.empty.iter().any(|field| field.is_listening());
        // Files are looked at again outside the transaction; what they hold never changes.
        let look = if !(said_anew || before.is_log() && listening) {
            None
        } else {
            let staging = self.folder.stage()?;
            let shown = self.folder.show(&before.files, &staging)?;
            let look = |path| self.look_at(path, &overrides);
            // A message names the file as the person knows it, not where it was shown.
            let looked = shown.first().map(|path| look(path)).transpose();
            looked.map_err(|e| e.without(&staging.path().join("")))?
        };
        self.write(by, |pen| {
            let before = capture_of(record::get(pen.db, id)?, id)?;
            let touched = record::touched(pen.db, Capture::KIND, id)?;
            if let (Some(seen), Some(touched)) = (amend.seen, touched)
                && touched > seen
            {
                return Err(SurveyError::RecordChanged { seen, part: "captures" });
            }
            let mut after = before.clone();
            let mut warnings = Vec::new();
            after.role = amend.role.unwrap_or(before.role);
            if let Some(name) = &amend.at {
                let zone = zone_of(after.role);
                after.position = Some(places::position(pen, name, amend.zone, zone)?);
            }
            if amend.chain.is_some() || amend.empty.contains(&Field::Chain) {
                after.chain = places::chain(pen, amend.chain.as_deref(), &mut warnings)?;
            }
            if let Some(name) = &amend.condition {
                after.condition = Some(places::condition(pen, name)?);
            }
            after.gain_db = amend.gain_db.or(before.gain_db);
            after.setting = amend.setting.clone().or(before.setting.clone());
            after.from = amend.from.or(before.from);
            after.until = amend.until.or(before.until);
            if let Some(bands) = &amend.bands {
                after.bands.clone_from(bands);
            }
            after.clock_s = amend.clock_s.unwrap_or(before.clock_s);
            amend.empty.iter().for_each(|field| field.empty(&mut after));
            set_aside(&mut after, amend)?;
            if let Some(look) = look.as_ref().filter(|_| said_anew) {
                after.places = places::named(pen, &look.places, zone_of(after.role))?;
                after.overrides = overrides;
                after.kind = look.kind;
                after.format.clone_from(&look.format);
                after.start = look.start;
                after.duration_s = look.duration_s;
                after.warnings.clone_from(&look.warnings);
                warnings.extend(look.warnings.iter().cloned());
            }
            after.check()?;
            fits_its_kind(&after, &amend.overrides)?;
            if let Some(look) = &look {
                warnings.extend(against_rows(pen.db, id, &look.rows, &after)?);
            }
            check(pen.db, &after)?;
            if has_place(pen.db, &before)? && !has_place(pen.db, &after)? {
                return Err(nowhere(id));
            }
            if after == before {
                return Err(SurveyError::refused(
                    format!("{id} says that already"),
                    "Nothing was changed.",
                ));
            }
            pen.append("amend", &[record::put(pen.db, &after)?])?;
            jobs::announce(pen.db, self)?;
            Ok(warnings)
        })
    }

    /// A capture of the record.
    ///
    /// # Errors
    /// If there is none of that id.
    pub fn capture(&self, id: &str) -> Result<Capture, SurveyError> {
        capture_of(self.read(|db| record::get(db, id))?, id)
    }

    /// All captures of the record, in the order in which they came in.
    ///
    /// # Errors
    /// If the record cannot be read.
    pub fn captures(&self) -> Result<Vec<Capture>, SurveyError> {
        self.read(record::all)
    }
}

fn capture_of(capture: Option<Capture>, id: &str) -> Result<Capture, SurveyError> {
    capture.ok_or_else(|| {
        let remedy = match id.split_once('.') {
            Some((whole, _)) => format!("A part of a walk is corrected with its capture, {whole}."),
            None => "`describe` lists the captures.".into(),
        };
        SurveyError::refused(format!("there is no capture {id}"), remedy)
    })
}

/// Refuses what belongs to another kind of recording and would change nothing.
fn fits_its_kind(after: &Capture, said: &Overrides) -> Result<(), SurveyError> {
    use CaptureKind::{EventLog, Iq, Readings, Sound};
    let samples = said.format.is_some() || said.rate_hz.is_some() || said.treat_as.is_some();
    let (what, options, of) = match after.kind {
        Iq | Sound if said.columns.is_some() => ("samples", "--columns and --map", "a table"),
        EventLog | Readings if samples || said.centre_hz.is_some() => {
            ("a table", "--format, --rate, --centre and --as", "samples")
        }
        _ => return Ok(()),
    };
    Err(SurveyError::refused(
        format!("{} holds {what}, and {options} belong to {of}", after.id),
        "Leave them out, or name the capture that they are meant for (`describe` lists them).",
    ))
}

fn set_aside(after: &mut Capture, amend: &Amend) -> Result<(), SurveyError> {
    match (&amend.set_aside, amend.restore) {
        (Some(_), true) => Err(SurveyError::refused(
            "a capture is either set aside or restored",
            "Give --set-aside REASON or --restore.",
        )),
        (Some(reason), false) if reason.trim().is_empty() => {
            Err(SurveyError::refused("setting aside needs its reason in words", "Say why."))
        }
        (Some(reason), false) => {
            after.set_aside = Some(reason.trim().to_owned());
            Ok(())
        }
        (None, true) if after.set_aside.is_none() => Err(SurveyError::refused(
            format!("{} is not set aside", after.id),
            "Nothing was changed.",
        )),
        (None, true) => {
            after.set_aside = None;
            Ok(())
        }
        (None, false) => Ok(()),
    }
}

fn check(db: &rusqlite::Connection, after: &Capture) -> Result<(), SurveyError> {
    let twin = record::all::<Capture>(db)?.into_iter().find(|other| {
        other.id != after.id
            && other.recording == after.recording
            && other.overrides.inner == after.overrides.inner
            && other.position == after.position
    });
    match twin {
        Some(twin) => Err(SurveyError::refused(
            format!("the same recording is {} at that position already", twin.id),
            format!("Set one of {} and {} aside instead.", after.id, twin.id),
        )),
        None => Ok(()),
    }
}

/// What is said newly, over what was said before.
fn over(before: &Overrides, new: &Overrides) -> Overrides {
    let text = |new: &Option<String>, before: &Option<String>| new.clone().or(before.clone());
    Overrides {
        format: text(&new.format, &before.format),
        rate_hz: new.rate_hz.or(before.rate_hz),
        centre_hz: new.centre_hz.or(before.centre_hz),
        start: new.start.or(before.start),
        time_zone: text(&new.time_zone, &before.time_zone),
        treat_as: text(&new.treat_as, &before.treat_as),
        columns: text(&new.columns, &before.columns),
        inner: text(&new.inner, &before.inner),
    }
}
