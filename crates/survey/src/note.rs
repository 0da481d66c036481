//! What is noted by hand: readings, stimuli, remarks, movements.

use crate::pen::Pen;
use crate::survey::Survey;
use crate::things::{Movement, Reading, Remark, Stimulus};
use crate::{SurveyError, jobs, parts, places, record};
use units::{Band, Strength, Utc, Zone};

/// Something to note. Positions are named; one that is named for the first time is made.
#[derive(Debug, Clone, PartialEq)]
pub enum Note {
    /// A strength or level read.
    Reading(ReadingNote),
    /// Something done to provoke.
    Stimulus {
        /// What.
        what: String,
        /// Where.
        at: Option<String>,
        /// From when; now without.
        from: Option<Utc>,
        /// Until when.
        until: Option<Utc>,
    },
    /// Something seen or done.
    Remark {
        /// In the person's words.
        text: String,
        /// Where.
        at: Option<String>,
        /// From when; now without.
        from: Option<Utc>,
        /// Until when.
        until: Option<Utc>,
    },
    /// Arrived at a position.
    Arrived {
        /// Where.
        at: String,
        /// When; now without.
        when: Option<Utc>,
        /// Chain that was carried.
        chain: Option<String>,
    },
}

/// A reading to note.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ReadingNote {
    /// Where.
    pub at: String,
    /// When; now without.
    pub when: Option<Utc>,
    /// Frequency (both edges equal) or band.
    pub band: Option<Band>,
    /// Row that it was taken of.
    pub emission: Option<String>,
    /// Strength read.
    pub strength: Option<Strength>,
    /// Level read, dBm.
    pub level_dbm: Option<f64>,
    /// Bearing, degrees from north.
    pub bearing_deg: Option<f64>,
    /// What was heard.
    pub heard: Option<String>,
    /// Chain, by name.
    pub chain: Option<String>,
    /// Its setting.
    pub setting: Option<String>,
}

impl Survey {
    /// Notes something. Gives its id.
    ///
    /// # Errors
    /// If it says too little, or cannot be true.
    pub fn note(&self, note: &Note, by: &str) -> Result<String, SurveyError> {
        self.note_in(note, None, by)
    }

    /// The same at a position of this zone; where nobody says it, one that is new is inside.
    ///
    /// # Errors
    /// As [`Survey::note`], and if the position is known to be of another zone.
    pub fn note_in(
        &self,
        note: &Note,
        zone: Option<Zone>,
        by: &str,
    ) -> Result<String, SurveyError> {
        self.write(by, |pen| self.note_one(pen, note, zone))
    }

    /// Notes something inside a transaction.
    pub(crate) fn note_one(
        &self,
        pen: &Pen<'_>,
        note: &Note,
        zone: Option<Zone>,
    ) -> Result<String, SurveyError> {
        match note {
            Note::Reading(reading) => note_reading(pen, reading, zone),
            Note::Stimulus { what, at, from, until } => {
                let id = record::next_id(pen.db, "stimulus", "S")?;
                let from = from.unwrap_or(pen.now());
                let what = what.trim().to_owned();
                let position = place(pen, at.as_deref(), zone)?;
                let thing = Stimulus { id, what, position, from, until: *until };
                pen.append("note", &[record::put(pen.db, &thing)?])?;
                Ok(thing.id)
            }
            Note::Remark { text, at, from, until } => {
                let id = record::next_id(pen.db, "remark", "B")?;
                let from = from.unwrap_or(pen.now());
                let text = text.trim().to_owned();
                let position = place(pen, at.as_deref(), zone)?;
                let thing = Remark { id, text, position, at: Some(from), until: *until };
                pen.append("note", &[record::put(pen.db, &thing)?])?;
                Ok(thing.id)
            }
            Note::Arrived { at, when, chain } => {
                let position = places::position(pen, at, zone, Zone::Inside)?;
                let chain = chain
                    .as_deref()
                    .map(|name| places::chain(pen, Some(name), &mut Vec::new()))
                    .transpose()?;
                let id = record::next_id(pen.db, "movement", "V")?;
                let clock_step_s = Some(when.map_or(0.0, parts::step_of));
                let at = when.unwrap_or(pen.now());
                let thing = Movement { id, position, at, chain, clock_step_s };
                pen.append("note", &[record::put(pen.db, &thing)?])?;
                // A recording that was carried about is cut differently since.
                jobs::announce(pen.db, self)?;
                Ok(thing.id)
            }
        }
    }
}

fn note_reading(
    pen: &Pen<'_>,
    note: &ReadingNote,
    zone: Option<Zone>,
) -> Result<String, SurveyError> {
    let emission = note.emission.as_ref().map(|id| id.to_uppercase());
    if let Some(id) = &emission {
        places::check_row(pen.db, id)?;
    }
    let chain = note
        .chain
        .as_deref()
        .map(|name| places::chain(pen, Some(name), &mut Vec::new()))
        .transpose()?;
    let thing = Reading {
        position: places::position(pen, &note.at, zone, Zone::Inside)?,
        id: record::next_id(pen.db, "reading", "N")?,
        at: Some(note.when.unwrap_or(pen.now())),
        band: note.band,
        emission,
        strength: note.strength,
        level_dbm: note.level_dbm,
        bearing_deg: note.bearing_deg,
        heard: note.heard.clone(),
        chain,
        setting: note.setting.clone(),
    };
    pen.append("note", &[record::put(pen.db, &thing)?])?;
    Ok(thing.id)
}

fn place(
    pen: &Pen<'_>,
    name: Option<&str>,
    zone: Option<Zone>,
) -> Result<Option<String>, SurveyError> {
    name.map(|name| places::position(pen, name, zone, Zone::Inside)).transpose()
}
