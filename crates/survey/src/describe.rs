//! The record as TOML, for people to read and to edit; and making the survey say what an edited
//! text says, each difference one entry of the journal.

mod captures;
mod difference;
mod parts;
mod text;
mod whole;

pub use difference::Difference;
pub use whole::Record;

use crate::canonical::text_of;
use crate::journal::Change;
use crate::pen::Pen;
use crate::survey::Survey;
use crate::things::{FoundItem, Statement, Thing};
use crate::{SurveyError, jobs, places, record};
use parts::PARTS;
use rusqlite::Connection;
use serde_json::{Map, Value};
use std::collections::BTreeMap;
use text::{parse, said};

impl Survey {
    /// The record that people edit, as TOML: each part, or what could be written there; then the
    /// captures, as comments.
    ///
    /// # Errors
    /// If it cannot be read.
    pub fn describe(&self) -> Result<String, SurveyError> {
        let mut text = HEAD.to_owned();
        self.read(|db| {
            for part in PARTS {
                text.push_str(&(part.print)(db, part)?);
            }
            text.push_str(&captures::listed(db)?);
            Ok(())
        })?;
        Ok(text)
    }

    /// What a text says otherwise than the survey, without changing anything.
    ///
    /// # Errors
    /// If the text is not a record.
    pub fn differences(&self, text: &str) -> Result<Vec<Difference>, SurveyError> {
        let document = parse(text)?;
        self.read(|db| differences(db, &document))
    }

    /// Makes the survey say what a text says. A part that the text leaves out entirely (no
    /// `[[chains]]` at all) stays as it is; a thing left out of a part that is there is taken out.
    ///
    /// # Errors
    /// If the text is not a record, or would leave a capture or note without its position.
    pub fn apply(&self, text: &str, by: &str) -> Result<Vec<Difference>, SurveyError> {
        let document = parse(text)?;
        self.write(by, |pen| self.apply_document(pen, &document))
    }

    fn apply_document(
        &self,
        pen: &Pen<'_>,
        document: &Map<String, Value>,
    ) -> Result<Vec<Difference>, SurveyError> {
        let differences = differences(pen.db, document)?;
        for difference in &differences {
            let Difference { kind, id, was, is } = difference.clone();
            pen.append("describe", &[Change { kind, id, was, is }])?;
        }
        places::check(pen.db)?;
        check_rows(pen.db, &differences)?;
        check_opinions(pen.db)?;
        jobs::announce(pen.db, self)?;
        Ok(differences)
    }
}

const HEAD: &str = "\
# The record of this survey. Edit it and bring it back with `describe --apply FILE`: each difference
# becomes one entry of the journal. A new thing has no id. A part left out stays as it is; a thing
# left out of a part that is there is taken out. Times are RFC 3339 in quotes, positions by id or
# name, lengths metres, frequencies hertz.

";

fn differences(
    db: &Connection,
    document: &Map<String, Value>,
) -> Result<Vec<Difference>, SurveyError> {
    let mut found = Vec::new();
    let positions = record::values(db, "position")?;
    let mut names = named(positions.iter().map(|(id, value)| (id, value)));
    for part in PARTS {
        let Some(text) = document.get(part.key) else { continue };
        let mut said = said(db, part, text)?;
        if part.kind == "position" {
            names = named(said.iter().map(|(id, value)| (id, value)));
        }
        for (_, value) in &mut said {
            // Written by name, kept by id.
            if let Some(Value::String(place)) = value.get_mut("position")
                && let Some(id) = names.get(place.trim())
            {
                place.clone_from(id);
            }
        }
        let stands = record::values(db, part.kind)?;
        for (id, was) in &stands {
            if !said.iter().any(|(other, _)| other == id) {
                let (kind, id) = (part.kind.to_owned(), id.clone());
                found.push(Difference { kind, id, was: Some(was.clone()), is: None });
            }
        }
        for (id, is) in said {
            let was = stands.iter().find(|(other, _)| *other == id).map(|(_, was)| was.clone());
            if was.as_ref().map(text_of) != Some(text_of(&is)) {
                found.push(Difference { kind: part.kind.into(), id, was, is: Some(is) });
            }
        }
    }
    Ok(found)
}

/// Ids of positions by their names.
fn named<'a>(positions: impl Iterator<Item = (&'a String, &'a Value)>) -> BTreeMap<String, String> {
    positions
        .filter_map(|(id, value)| Some((value.get("name")?.as_str()?.trim().into(), id.clone())))
        .collect()
}

/// Checks that every opinion is of a row of the ledger or of a found item.
fn check_opinions(db: &Connection) -> Result<(), SurveyError> {
    let Some(statement) = record::all::<Statement>(db)?.pop() else { return Ok(()) };
    for opinion in &statement.opinions {
        if record::value(db, FoundItem::KIND, opinion.of.trim())?.is_none() {
            places::check_row(db, opinion.of.trim())?;
        }
    }
    Ok(())
}

/// Checks that the rows which new or changed things name are the ledger's.
fn check_rows(db: &Connection, differences: &[Difference]) -> Result<(), SurveyError> {
    for is in differences.iter().filter_map(|difference| difference.is.as_ref()) {
        let several = is.get("emissions").and_then(Value::as_array);
        let ids = is.get("emission").into_iter().chain(several.into_iter().flatten());
        for id in ids.filter_map(Value::as_str) {
            places::check_row(db, id)?;
        }
    }
    Ok(())
}
