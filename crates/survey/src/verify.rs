//! Whether everything is as it was written: every evidence file against its hash, every column of
//! the journal against its chain, and the record against what the journal adds up to.

use crate::clock::runs_back;
use crate::evidence::sha256_of;
use crate::fault::{Fault, Verification};
use crate::journal::{self, Change, Entry, NOTHING};
use crate::strays::{self, Former, strays};
use crate::survey::Survey;
use crate::things::{Capture, Derivation, Floor, FoundItem, Photograph};
use crate::{Progress, SurveyError, database, record};
use ledger::FileInfo;
use rusqlite::Connection;
use rusqlite::types::ValueRef;
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use units::Utc;

impl Survey {
    /// Checks everything. What killed programs left behind is no fault.
    ///
    /// # Errors
    /// If it could not be checked (disk), or `progress` says that it is cancelled.
    pub fn verify(&self, progress: &dyn Progress) -> Result<Verification, SurveyError> {
        let mut warnings = Vec::new();
        let mut former = Vec::new();
        let (mut faults, files, entries, head) = self.read(|db| {
            let mut faults = check_database(db, self)?;
            let (entries, head, replayed) =
                check_journal(db, self, &mut faults, &mut warnings, &mut former)?;
            check_record(db, &replayed, self, &mut faults)?;
            check_derived(&replayed, self, &mut faults)?;
            Ok((faults, evidence_of(&replayed)?, entries, head))
        })?;
        let own: BTreeSet<PathBuf> =
            files.keys().map(|sha256| self.folder.evidence(sha256)).collect();
        for stray in strays(&self.folder, &|path| own.contains(path))? {
            let keep_going = |bytes: u64| {
                progress.step(bytes, bytes, "checking what belongs to nothing in the record");
                !progress.cancelled()
            };
            warnings.push(strays::told(&self.folder, &stray, &former, &keep_going)?);
        }
        let all: u64 = files.values().map(|(file, _)| file.bytes).sum();
        let mut done = 0;
        for (sha256, (file, of)) in &files {
            let path = self.folder.evidence(sha256);
            let keep_going = |bytes: u64| {
                progress.step(done + bytes, all.max(done + bytes), &file.name);
                !progress.cancelled()
            };
            let (of, name, sha256) = (of.clone(), file.name.clone(), sha256.clone());
            // What a link leads to is not what was put here, whatever its bytes.
            if std::fs::symlink_metadata(&path).is_ok_and(|found| found.is_symlink()) {
                let found = "is a link to somewhere else, not the file that was brought in".into();
                faults.push(Fault::EvidenceAltered { of, name, sha256, found });
                done += file.bytes;
                continue;
            }
            match sha256_of(&path, &keep_going) {
                Ok(Some(found)) if found == sha256 => {}
                Ok(Some(found)) => {
                    let found = format!("is altered: its bytes hash to {found}");
                    faults.push(Fault::EvidenceAltered { of, name, sha256, found });
                }
                Ok(None) => return Err(SurveyError::Cancelled),
                Err(e) if e.kind() == std::io::ErrorKind::NotFound => {
                    faults.push(Fault::EvidenceMissing { of, name, sha256 });
                }
                Err(e) => {
                    let found = format!("cannot be read: {e}");
                    faults.push(Fault::EvidenceAltered { of, name, sha256, found });
                }
            }
            done += file.bytes;
        }
        Ok(Verification {
            ok: faults.is_empty(),
            faults,
            warnings,
            files: files.len() as u64,
            bytes: all,
            entries,
            head,
        })
    }
}

/// Evidence files by hash, with what they belong to.
fn evidence_of(db: &Connection) -> Result<BTreeMap<String, (FileInfo, String)>, SurveyError> {
    let mut files = BTreeMap::new();
    // A row that cannot be read is a fault of its own already.
    for (id, value) in record::values(db, "capture")? {
        let Ok(capture) = serde_json::from_value::<Capture>(value) else { continue };
        for file in capture.files {
            files.entry(file.sha256.clone()).or_insert((file, format!("capture {id}")));
        }
    }
    for (id, value) in record::values(db, "found-item")? {
        let Ok(item) = serde_json::from_value::<FoundItem>(value) else { continue };
        for file in item.photographs {
            files.entry(file.sha256.clone()).or_insert((file, format!("found item {id}")));
        }
    }
    for (id, value) in record::values(db, "photograph")? {
        let Ok(photograph) = serde_json::from_value::<Photograph>(value) else { continue };
        if let Some(file) = photograph.file {
            files.entry(file.sha256.clone()).or_insert((file, format!("photograph {id}")));
        }
    }
    for (id, value) in record::values(db, "floor")? {
        let Ok(floor) = serde_json::from_value::<Floor>(value) else { continue };
        if let Some(file) = floor.image {
            files.entry(file.sha256.clone()).or_insert((file, format!("plan of floor {id}")));
        }
    }
    Ok(files)
}

fn check_database(db: &Connection, survey: &Survey) -> Result<Vec<Fault>, SurveyError> {
    let fail = |e| survey.fail("check it", e);
    let mut faults = Vec::new();
    let mut query = db.prepare("PRAGMA integrity_check").map_err(fail)?;
    let lines = query.query_map([], |row| row.get::<_, String>(0)).map_err(fail)?;
    for line in lines {
        let line = line.map_err(fail)?;
        if line != "ok" {
            faults.push(Fault::Database { what: line });
        }
    }
    let schema = |db: &Connection| -> Result<BTreeMap<String, String>, SurveyError> {
        let mut query = db
            .prepare(
                "SELECT name, coalesce(sql, '') FROM sqlite_schema WHERE name NOT LIKE 'sqlite_%'",
            )
            .map_err(fail)?;
        query
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
            .and_then(Iterator::collect)
            .map_err(fail)
    };
    let (is, should) = (schema(db)?, schema(&database::scratch()?)?);
    for name in is.keys().chain(should.keys().filter(|name| !is.contains_key(*name))) {
        if is.get(name) != should.get(name) {
            let what = format!("'{name}' of its schema is not what this program made");
            faults.push(Fault::Database { what });
        }
    }
    Ok(faults)
}

/// What was derived, where the journal says what it hashes to. Deleted, it is made again.
fn check_derived(
    replayed: &Connection,
    survey: &Survey,
    faults: &mut Vec<Fault>,
) -> Result<(), SurveyError> {
    for (of, value) in record::values(replayed, "derivation")? {
        let Ok(derivation) = serde_json::from_value::<Derivation>(value) else { continue };
        if let Some(name) = derivation.altered(&survey.folder)? {
            let file = format!("derived/{}/{name}", derivation.folder);
            faults.push(Fault::DerivedAltered { of, file });
        }
    }
    Ok(())
}

/// The chain, entry by entry, and the record that the entries add up to.
fn check_journal(
    db: &Connection,
    survey: &Survey,
    faults: &mut Vec<Fault>,
    warnings: &mut Vec<String>,
    former: &mut Vec<Former>,
) -> Result<(u64, String, Connection), SurveyError> {
    let fail = |e| survey.fail("read the journal", e);
    let replayed = database::scratch()?;
    replayed.execute_batch("BEGIN").map_err(fail)?;
    let mut query = db
        .prepare("SELECT seq, time, by, kind, body, previous, hash FROM journal ORDER BY seq")
        .map_err(fail)?;
    let mut rows = query.query([]).map_err(fail)?;
    let (mut last, mut previous, mut count) = (0u64, NOTHING.to_owned(), 0u64);
    let mut stamped: Option<Utc> = None;
    while let Some(row) = rows.next().map_err(fail)? {
        // Whatever lies there is read, also bytes that are no text any more.
        let text = |column: usize| -> Result<String, SurveyError> {
            Ok(match row.get_ref(column).map_err(fail)? {
                ValueRef::Text(bytes) | ValueRef::Blob(bytes) => {
                    String::from_utf8_lossy(bytes).into_owned()
                }
                other => format!("{other:?}"),
            })
        };
        let entry = Entry {
            seq: row.get(0).map_err(fail)?,
            time: text(1)?,
            by: text(2)?,
            kind: text(3)?,
            body: text(4)?,
            previous: text(5)?,
            hash: text(6)?,
        };
        let seq = entry.seq;
        count += 1;
        let mut fault = |what: String| faults.push(Fault::Journal { seq, what });
        if seq != last + 1 {
            let what = format!("it follows entry {last}: what was between is missing");
            fault(what);
        }
        if entry.hash_of_columns() != entry.hash {
            fault("altered: its columns do not hash to what it says".into());
        } else if entry.previous != previous {
            fault("it was not written after the entry before it".into());
        }
        let time = Utc::parse(&entry.time).ok();
        if let (Some(before), Some(time)) = (stamped, time)
            && runs_back(before, time)
        {
            warnings.push(format!(
                "journal entry {seq} is stamped {time}, earlier than the entry before it ({before}): \
                 the machine's clock was set back between them"
            ));
        }
        stamped = time.or(stamped);
        (last, previous) = (seq, entry.hash.clone());
        match entry.changes() {
            Ok(changes) => {
                for change in changes {
                    former.extend(Former::of(&change, seq));
                    if let Err(what) = journal::apply(&replayed, seq, &change)? {
                        fault(what);
                        force(&replayed, seq, &change)?;
                    }
                }
            }
            Err(what) => fault(format!("it cannot be read: {what}")),
        }
    }
    if count == 0 {
        faults.push(Fault::Journal { seq: 1, what: "the journal is empty".into() });
    }
    replayed.execute_batch("COMMIT").map_err(fail)?;
    Ok((count, previous, replayed))
}

/// Goes on from an entry that does not fit, so that the rest can be compared.
fn force(db: &Connection, seq: u64, change: &Change) -> Result<(), SurveyError> {
    let was = record::value(db, &change.kind, &change.id)?;
    let change = Change { was, ..change.clone() };
    journal::apply(db, seq, &change).map(|_| ())
}

fn check_record(
    db: &Connection,
    replayed: &Connection,
    survey: &Survey,
    faults: &mut Vec<Fault>,
) -> Result<(), SurveyError> {
    type Rows = BTreeMap<(String, String), (u64, Option<Vec<u8>>)>;
    let rows = |db: &Connection| -> Result<Rows, SurveyError> {
        let fail = |e| survey.fail("read the record", e);
        let mut query = db
            .prepare(
                "SELECT CAST(kind AS BLOB), CAST(id AS BLOB), seq, CAST(body AS BLOB) FROM record",
            )
            .map_err(fail)?;
        let text = |bytes: Vec<u8>| String::from_utf8_lossy(&bytes).into_owned();
        query
            .query_map([], |row| {
                let key = (text(row.get(0)?), text(row.get(1)?));
                Ok((key, (row.get(2)?, row.get(3)?)))
            })
            .and_then(Iterator::collect)
            .map_err(fail)
    };
    let (is, should) = (rows(db)?, rows(replayed)?);
    for key in is.keys().chain(should.keys().filter(|key| !is.contains_key(*key))) {
        let what = match (is.get(key), should.get(key)) {
            (Some(is), Some(should)) if is == should => continue,
            (Some(_), Some((seq, _))) => format!("altered: entry {seq} left it otherwise"),
            (Some(_), None) => "no entry of the journal made it".to_owned(),
            (None, Some((seq, _))) => format!("missing: entry {seq} left it there"),
            (None, None) => continue,
        };
        faults.push(Fault::Record { kind: key.0.clone(), id: key.1.clone(), what });
    }
    Ok(())
}
